// What the pictures need of WebGL2. Plain WebGL: integer targets, partial uploads and scissored redraws
// are the heart of these views, and a scene library stands in the way of all three.

export type GL = WebGL2RenderingContext;

export function openGl(canvas: HTMLCanvasElement): GL | null {
  return canvas.getContext("webgl2", {
    alpha: true,
    antialias: false,
    depth: false,
    stencil: false,
    // A stroke redraws only its dirty box: the rest of the picture must stay.
    preserveDrawingBuffer: true,
    powerPreference: "high-performance",
  });
}

export class Program {
  readonly id: WebGLProgram;
  private readonly places = new Map<string, WebGLUniformLocation | null>();

  constructor(private readonly gl: GL, vertex: string, fragment: string) {
    const id = gl.createProgram();
    for (const [kind, text] of [
      [gl.VERTEX_SHADER, vertex],
      [gl.FRAGMENT_SHADER, fragment],
    ] as const) {
      const shader = gl.createShader(kind);
      if (!shader) continue; // lost in this moment: everything is made again when it is back
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      gl.attachShader(id, shader);
      if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS) && !gl.isContextLost()) {
        throw new Error(`A shader does not compile: ${gl.getShaderInfoLog(shader) ?? ""}`);
      }
    }
    gl.linkProgram(id);
    if (!gl.getProgramParameter(id, gl.LINK_STATUS) && !gl.isContextLost()) {
      throw new Error(`A shader does not link: ${gl.getProgramInfoLog(id) ?? ""}`);
    }
    this.id = id;
  }

  at(name: string): WebGLUniformLocation | null {
    if (!this.places.has(name)) this.places.set(name, this.gl.getUniformLocation(this.id, name));
    return this.places.get(name) ?? null;
  }
}

/** A texture without mipmaps; what is beyond its edge is as at its edge. */
export function makeTexture(gl: GL, filter: number): WebGLTexture {
  const texture = gl.createTexture();
  gl.bindTexture(gl.TEXTURE_2D, texture);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, filter);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MAG_FILTER, filter);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE);
  return texture;
}

/** Shaded picture and integer image of what lies at each pixel, drawn in one go. */
export class Target {
  readonly buffer: WebGLFramebuffer;
  readonly shaded: WebGLTexture;
  readonly picks: WebGLTexture;
  private readonly depth: WebGLRenderbuffer;

  constructor(private readonly gl: GL, readonly width: number, readonly height: number) {
    this.shaded = makeTexture(gl, gl.NEAREST);
    gl.texStorage2D(gl.TEXTURE_2D, 1, gl.RGBA8, width, height);
    this.picks = makeTexture(gl, gl.NEAREST);
    gl.texStorage2D(gl.TEXTURE_2D, 1, gl.RGBA32UI, width, height);
    this.depth = gl.createRenderbuffer();
    gl.bindRenderbuffer(gl.RENDERBUFFER, this.depth);
    gl.renderbufferStorage(gl.RENDERBUFFER, gl.DEPTH_COMPONENT24, width, height);
    this.buffer = gl.createFramebuffer();
    gl.bindFramebuffer(gl.FRAMEBUFFER, this.buffer);
    gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, this.shaded, 0);
    gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT1, gl.TEXTURE_2D, this.picks, 0);
    gl.framebufferRenderbuffer(gl.FRAMEBUFFER, gl.DEPTH_ATTACHMENT, gl.RENDERBUFFER, this.depth);
    gl.drawBuffers([gl.COLOR_ATTACHMENT0, gl.COLOR_ATTACHMENT1]);
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
  }

  begin(): void {
    const gl = this.gl;
    gl.bindFramebuffer(gl.FRAMEBUFFER, this.buffer);
    gl.viewport(0, 0, this.width, this.height);
    gl.disable(gl.SCISSOR_TEST);
    gl.disable(gl.BLEND);
    gl.clearBufferfv(gl.COLOR, 0, [0, 0, 0, 0]);
    gl.clearBufferuiv(gl.COLOR, 1, [0, 0, 0, 0]);
    gl.enable(gl.DEPTH_TEST);
    gl.depthFunc(gl.LESS);
    gl.clearBufferfv(gl.DEPTH, 0, [1]);
  }

  /** The integer image, read back: four numbers a pixel, the lowest row first. */
  read(into: Uint32Array): void {
    const gl = this.gl;
    gl.bindFramebuffer(gl.READ_FRAMEBUFFER, this.buffer);
    gl.readBuffer(gl.COLOR_ATTACHMENT1);
    gl.readPixels(0, 0, this.width, this.height, gl.RGBA_INTEGER, gl.UNSIGNED_INT, into);
    gl.bindFramebuffer(gl.READ_FRAMEBUFFER, null);
  }

  dispose(): void {
    this.gl.deleteFramebuffer(this.buffer);
    this.gl.deleteTexture(this.shaded);
    this.gl.deleteTexture(this.picks);
    this.gl.deleteRenderbuffer(this.depth);
  }
}

/** A skin's triangles on the graphics card. */
export class Mesh {
  private readonly vertices: WebGLVertexArrayObject;
  private readonly buffers: WebGLBuffer[] = [];
  private readonly count: number;

  constructor(
    private readonly gl: GL,
    points: Float32Array,
    flat: Float32Array | null,
    normals: Int8Array,
    triangles: Uint32Array,
  ) {
    this.vertices = gl.createVertexArray();
    gl.bindVertexArray(this.vertices);
    this.attribute(0, points, 3, gl.FLOAT, false);
    if (flat) this.attribute(1, flat, 2, gl.FLOAT, false);
    this.attribute(2, normals, 4, gl.BYTE, true);
    const buffer = gl.createBuffer();
    this.buffers.push(buffer);
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, buffer);
    gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, triangles, gl.STATIC_DRAW);
    gl.bindVertexArray(null);
    this.count = triangles.length;
  }

  private attribute(
    place: number, values: Float32Array | Int8Array, size: number, type: number, whole: boolean,
  ): void {
    const gl = this.gl;
    const buffer = gl.createBuffer();
    this.buffers.push(buffer);
    gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
    gl.bufferData(gl.ARRAY_BUFFER, values, gl.STATIC_DRAW);
    gl.enableVertexAttribArray(place);
    gl.vertexAttribPointer(place, size, type, whole, 0, 0);
  }

  draw(): void {
    this.gl.bindVertexArray(this.vertices);
    this.gl.drawElements(this.gl.TRIANGLES, this.count, this.gl.UNSIGNED_INT, 0);
    this.gl.bindVertexArray(null);
  }

  dispose(): void {
    for (const buffer of this.buffers) this.gl.deleteBuffer(buffer);
    this.gl.deleteVertexArray(this.vertices);
  }
}

/** Normals at the points (x, y, z, 0 as signed bytes), each triangle by its size. */
export function normalsOf(points: Float32Array, triangles: Uint32Array): Int8Array {
  const sums = new Float32Array(points.length);
  for (let t = 0; t < triangles.length; t += 3) {
    const i = triangles[t]! * 3, j = triangles[t + 1]! * 3, k = triangles[t + 2]! * 3;
    const ux = points[j]! - points[i]!, uy = points[j + 1]! - points[i + 1]!, uz = points[j + 2]! - points[i + 2]!;
    const vx = points[k]! - points[i]!, vy = points[k + 1]! - points[i + 1]!, vz = points[k + 2]! - points[i + 2]!;
    const n = [uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx];
    for (const corner of [i, j, k]) {
      for (let axis = 0; axis < 3; axis++) sums[corner + axis]! += n[axis]!;
    }
  }
  const out = new Int8Array((points.length / 3) * 4);
  for (let i = 0, o = 0; i < sums.length; i += 3, o += 4) {
    const size = Math.hypot(sums[i]!, sums[i + 1]!, sums[i + 2]!) || 1;
    for (let axis = 0; axis < 3; axis++) out[o + axis] = Math.round((127 * sums[i + axis]!) / size);
  }
  return out;
}
