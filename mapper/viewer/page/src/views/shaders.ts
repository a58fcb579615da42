// The shaders of the 3D picture.

/** Corners of a skin; `shift` (nothing if it is not set) takes a part to its place on the airframe. */
export const MESH_VERTEX = `#version 300 es
layout(location = 0) in vec3 point;
layout(location = 1) in vec2 flatPlace;
layout(location = 2) in vec4 normal;
uniform mat4 matrix;
uniform vec3 shift;
out vec2 place;
out vec3 turned;
out float depth;
void main() {
  gl_Position = matrix * vec4(point + shift, 1.0);
  place = flatPlace;
  turned = normal.xyz;
  depth = gl_Position.w;
}`;

/** The shade of a skin, and as bits of integers the flat place, which skin and face, depth. */
export const MESH_FRAGMENT = `#version 300 es
precision highp float;
precision highp int;
in vec2 place;
in vec3 turned;
in float depth;
uniform uint skin;
uniform float hand;
uniform vec3 light;
uniform vec3 back;
uniform vec3 colour;
uniform vec3 otherSide;
uniform uint face;
uniform bool hideOuter;
layout(location = 0) out vec4 shade;
layout(location = 1) out uvec4 pick;
void main() {
  bool outer = gl_FrontFacing == (hand > 0.0);
  if (hideOuter && outer) discard;
  uint seen = outer ? 0u : 1u;
  vec3 n = normalize(turned) * (gl_FrontFacing ? 1.0 : -1.0);
  float lit = max(dot(n, light), 0.0);
  float rim = max(dot(n, back), 0.0);
  float tone = 0.64 + 0.22 * lit + 0.16 * rim;
  shade = vec4((seen == face ? colour : otherSide) * tone, 1.0);
  pick = uvec4(floatBitsToUint(place.x), floatBitsToUint(place.y), (skin << 1) | seen, floatBitsToUint(depth));
}`;

/** One triangle over the whole view. */
export const QUAD_VERTEX = `#version 300 es
void main() {
  gl_Position = vec4(gl_VertexID == 1 ? 3.0 : -1.0, gl_VertexID == 2 ? 3.0 : -1.0, 0.0, 1.0);
}`;

/** Lays what is drawn on the sheet over the stored picture: its cost knows nothing of triangles. */
export const LAY_FRAGMENT = `#version 300 es
precision highp float;
precision highp int;
uniform sampler2D shaded;
uniform highp usampler2D picks;
uniform sampler2D ground;
uniform sampler2D live;
uniform vec4 window;
uniform uint mine;
uniform float stripe;
uniform vec3 paint;
uniform vec3 paintDark;
out vec4 colour;
void main() {
  ivec2 at = ivec2(gl_FragCoord.xy);
  colour = texelFetch(shaded, at, 0);
  uvec4 pick = texelFetch(picks, at, 0);
  if (pick.z != mine) return;
  vec2 uv = (vec2(uintBitsToFloat(pick.x), uintBitsToFloat(pick.y)) - window.xy) * window.zw;
  if (any(lessThan(uv, vec2(0.0))) || any(greaterThan(uv, vec2(1.0)))) return;
  float tone = dot(colour.rgb, vec3(0.333)) * 0.6 + 0.46;
  vec4 over = textureLod(ground, uv, 0.0);
  colour.rgb = colour.rgb * (1.0 - over.a) + over.rgb * min(tone, 1.0);
  float cover = smoothstep(0.3, 0.7, textureLod(live, uv, 0.0).r);
  float band = fract((gl_FragCoord.x + gl_FragCoord.y) * stripe);
  vec3 wet = band < 0.34 ? paintDark : paint;
  colour.rgb = mix(colour.rgb, wet * min(tone, 1.0), cover * (band < 0.34 ? 0.8 : 0.5));
}`;
