// Shaders of the whole airframe: parts with their state, told by pattern and colour alike.

export const PART_FRAGMENT = `#version 300 es
precision highp float;
precision highp int;
in vec3 turned;
in float depth;
uniform uint part;
uniform uint state;
uniform vec3 light;
uniform vec3 back;
uniform vec3 colour;
uniform bool off;
layout(location = 0) out vec4 shade;
layout(location = 1) out uvec4 pick;
void main() {
  // What is off the airframe is a lattice to look through.
  if (off && ((int(gl_FragCoord.x) + int(gl_FragCoord.y)) & 3) != 0 && ((int(gl_FragCoord.x) - int(gl_FragCoord.y)) & 3) != 0) discard;
  vec3 n = normalize(turned);
  if (dot(n, back) < 0.0) n = -n;
  float tone = 0.5 + 0.3 * max(dot(n, light), 0.0) + 0.2 * max(dot(n, back), 0.0);
  shade = vec4(colour * tone, 1.0);
  pick = uvec4(off ? 1u : 0u, state, part, floatBitsToUint(depth));
}`;

/** Patterns of the states, edges between parts, and a broad edge round the chosen one. */
export const EDGE_FRAGMENT = `#version 300 es
precision highp float;
precision highp int;
uniform sampler2D shaded;
uniform highp usampler2D picks;
uniform uint chosen;
uniform float ratio;
uniform vec3 focus;
out vec4 colour;
uint partAt(ivec2 at, ivec2 size) {
  return texelFetch(picks, clamp(at, ivec2(0), size - 1), 0).z;
}
void main() {
  ivec2 at = ivec2(gl_FragCoord.xy);
  ivec2 size = textureSize(picks, 0);
  colour = texelFetch(shaded, at, 0);
  uvec4 pick = texelFetch(picks, at, 0);
  vec2 p = gl_FragCoord.xy / ratio;
  if (pick.z != 0u) {
    float mark = 0.0;
    if (pick.y == 1u) {
      // Open findings: crossed lines.
      float a = fract((p.x + p.y) / 17.0), b = fract((p.x - p.y) / 17.0);
      mark = (a < 0.12 || b < 0.12) ? 0.55 : 0.0;
    } else if (pick.y == 2u) {
      // Inspected: dots.
      vec2 d = fract(p / 9.0) - 0.5;
      mark = dot(d, d) < 0.03 ? 0.75 : 0.0;
    } else if (pick.y == 3u) {
      // Stripped: level lines.
      mark = fract(p.y / 7.0) < 0.2 ? 0.5 : 0.0;
    }
    colour.rgb *= 1.0 - mark;
  }
  int reach = max(1, int(ratio));
  bool edge = false, near = false;
  for (int i = 0; i < 8; i++) {
    float turn = float(i) * 0.7853982;
    ivec2 step = ivec2(round(vec2(cos(turn), sin(turn)) * float(reach)));
    if (partAt(at + step, size) != pick.z) edge = true;
    uint far = partAt(at + step * 2, size);
    if (chosen != 0u && (far == chosen) != (pick.z == chosen)) near = true;
  }
  if (edge && pick.z != 0u && pick.x == 0u) colour = vec4(vec3(0.1), 1.0);
  if (near) colour = vec4(focus, 1.0);
}`;
