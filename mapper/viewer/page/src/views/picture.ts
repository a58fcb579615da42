// The 3D picture: drawn once when the camera rests, together with the integer image of what lies at
// each pixel. Afterwards whatever is painted is laid over the stored picture, in the dirty box only.

import { Camera } from "./camera.ts";
import { makeTexture, Mesh, normalsOf, openGl, Program, Target, type GL } from "./gl.ts";
import { LAY_FRAGMENT, MESH_FRAGMENT, MESH_VERTEX, QUAD_VERTEX } from "./shaders.ts";
import type { SkinModel } from "./model.ts";
import { PickImage } from "./picks.ts";
import type { SheetLayer } from "./layer.ts";

/** More device pixels than this cost memory and time without being seen. */
const MOST_PIXELS = 4_200_000;
const METAL = [0.93, 0.93, 0.92] as const;
const OTHER_SKIN = [0.66, 0.68, 0.7] as const;
const OTHER_SIDE = [0.5, 0.49, 0.46] as const;

/** x, y, width, height in CSS px of the view, from its top left. */
export type PixelBox = [number, number, number, number];

export class Picture {
  readonly camera = new Camera();
  picks: PickImage | null = null;
  lost = false;
  ratio = 1;
  private gl: GL | null;
  private mesh: Program | null = null;
  private lay: Program | null = null;
  private target: Target | null = null;
  private meshes: Mesh[] = [];
  private models: readonly SkinModel[] = [];
  private normals: Int8Array[] = [];
  private active = 0;
  private face = 0;
  private width = 1;
  private height = 1;
  private numbers = new Uint32Array(0);
  private textures = new Map<SheetLayer, { ground: WebGLTexture; live: WebGLTexture; made: number }>();
  private drawnKey = "";

  constructor(readonly canvas: HTMLCanvasElement) {
    this.gl = openGl(canvas);
  }

  /** Whether there is any 3D here at all. */
  get works(): boolean {
    return this.gl !== null && !this.lost;
  }

  get hasGl(): boolean {
    return this.gl !== null;
  }

  resize(width: number, height: number, ratio: number): void {
    const most = Math.sqrt(MOST_PIXELS / Math.max(width * height, 1));
    this.ratio = Math.min(ratio, most);
    this.width = Math.max(1, Math.round(width * this.ratio));
    this.height = Math.max(1, Math.round(height * this.ratio));
    this.camera.width = Math.max(width, 1);
    this.camera.height = Math.max(height, 1);
    this.camera.update();
    this.picks = null;
  }

  show(models: readonly SkinModel[], active: number, face: number): void {
    if (models !== this.models) {
      this.models = models;
      this.normals = [];
      this.dropMeshes();
    }
    this.active = active;
    this.face = face;
    this.drawnKey = "";
    this.picks = null;
  }

  private dropMeshes(): void {
    for (const mesh of this.meshes) mesh.dispose();
    this.meshes = [];
  }

  /** After a loss nothing made before is of use. */
  forget(): void {
    this.mesh = this.lay = this.target = this.picks = null;
    this.meshes = [];
    this.textures.clear();
    this.drawnKey = "";
  }

  /** Draws shade and picks from the camera as it stands; layer is then laid over everything. */
  render(layer: SheetLayer): void {
    const gl = this.gl;
    if (!gl || this.lost) return;
    this.prepare(gl);
    const target = this.target!;
    const program = this.mesh!;
    const { camera } = this;
    camera.update();
    target.begin();
    gl.useProgram(program.id);
    gl.uniformMatrix4fv(program.at("matrix"), false, camera.matrix);
    const back = lightFrom(camera, [0, 0]);
    gl.uniform3fv(program.at("back"), back);
    gl.uniform3fv(program.at("light"), lightFrom(camera, [-0.4, 0.9]));
    this.models.forEach((model, i) => {
      const mine = i === this.active;
      gl.uniform1ui(program.at("skin"), i + 1);
      gl.uniform1f(program.at("hand"), model.hand);
      gl.uniform1ui(program.at("face"), mine ? this.face : 0);
      gl.uniform1i(program.at("hideOuter"), this.face === 1 ? 1 : 0);
      gl.uniform3fv(program.at("colour"), mine ? METAL : OTHER_SKIN);
      gl.uniform3fv(program.at("otherSide"), OTHER_SIDE);
      this.meshes[i]!.draw();
    });
    gl.disable(gl.DEPTH_TEST);
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    this.drawnKey = camera.key();
    this.picks = null;
    this.compose(layer, null);
  }

  /** Reads the integer image back, so that picks cost nothing until the camera moves. */
  rest(): PickImage | null {
    const gl = this.gl;
    if (!gl || this.lost || !this.target) return null;
    if (this.picks && this.drawnKey === this.camera.key()) return this.picks;
    const count = this.width * this.height * 4;
    if (this.numbers.length !== count) this.numbers = new Uint32Array(count);
    this.target.read(this.numbers);
    this.picks = new PickImage(this.numbers, this.width, this.height, this.camera);
    return this.picks;
  }

  /** Whether the stored picture is that of the camera as it stands. */
  get fresh(): boolean {
    return this.drawnKey !== "" && this.drawnKey === this.camera.key() && this.target !== null;
  }

  /** Lays the layer over the stored picture: all of it, or only a box (CSS px). */
  compose(layer: SheetLayer, box: PixelBox | null): void {
    const gl = this.gl;
    if (!gl || this.lost || !this.target) return;
    const program = this.lay!;
    const pair = this.upload(gl, layer);
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    gl.viewport(0, 0, this.width, this.height);
    if (box) {
      const across = this.width / this.camera.width, up = this.height / this.camera.height;
      const x = Math.floor(box[0] * across), y = Math.floor(this.height - (box[1] + box[3]) * up);
      gl.enable(gl.SCISSOR_TEST);
      gl.scissor(x, y, Math.ceil(box[2] * across) + 1, Math.ceil(box[3] * up) + 1);
    }
    gl.useProgram(program.id);
    [this.target.shaded, this.target.picks, pair.ground, pair.live].forEach((texture, i) => {
      gl.activeTexture(gl.TEXTURE0 + i);
      gl.bindTexture(gl.TEXTURE_2D, texture);
    });
    ["shaded", "picks", "ground", "live"].forEach((name, i) => gl.uniform1i(program.at(name), i));
    const origin = this.models[this.active]?.header.flat_origin ?? [0, 0];
    const [x0, y0, x1, y1] = layer.window;
    gl.uniform4f(program.at("window"), x0 - origin[0], y0 - origin[1], 1 / (x1 - x0), 1 / (y1 - y0));
    gl.uniform1ui(program.at("mine"), ((this.active + 1) << 1) | this.face);
    gl.uniform1f(program.at("stripe"), 1 / (9 * this.ratio));
    gl.uniform3f(program.at("paint"), 0.2, 0.48, 0.86);
    gl.uniform3f(program.at("paintDark"), 0.05, 0.22, 0.5);
    gl.drawArrays(gl.TRIANGLES, 0, 3);
    gl.disable(gl.SCISSOR_TEST);
    gl.activeTexture(gl.TEXTURE0);
  }

  /** One pixel of what is on the screen, to wait until it is really there. */
  settle(): void {
    const gl = this.gl;
    if (gl && !this.lost) gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4));
  }

  private prepare(gl: GL): void {
    this.mesh ??= new Program(gl, MESH_VERTEX, MESH_FRAGMENT);
    this.lay ??= new Program(gl, QUAD_VERTEX, LAY_FRAGMENT);
    if (this.canvas.width !== this.width || this.canvas.height !== this.height) {
      this.canvas.width = this.width;
      this.canvas.height = this.height;
    }
    if (!this.target || this.target.width !== this.width || this.target.height !== this.height) {
      this.target?.dispose();
      this.target = new Target(gl, this.width, this.height);
    }
    if (!this.meshes.length && this.models.length) {
      this.meshes = this.models.map(({ skin }, i) => {
        const normals = (this.normals[i] ??= normalsOf(skin.points, skin.triangles));
        return new Mesh(gl, skin.points, skin.flat, normals, skin.triangles);
      });
    }
  }

  /** Textures of a layer, brought up to date: all of it, or the boxes that strokes have touched. */
  private upload(gl: GL, layer: SheetLayer): { ground: WebGLTexture; live: WebGLTexture } {
    let pair = this.textures.get(layer);
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 1);
    if (!pair || pair.made !== layer.made) {
      pair ??= { ground: makeTexture(gl, gl.LINEAR), live: makeTexture(gl, gl.LINEAR), made: 0 };
      pair.made = layer.made;
      this.textures.set(layer, pair);
      gl.bindTexture(gl.TEXTURE_2D, pair.ground);
      gl.pixelStorei(gl.UNPACK_PREMULTIPLY_ALPHA_WEBGL, true);
      if (layer.hasGround) {
        gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA8, gl.RGBA, gl.UNSIGNED_BYTE, layer.ground.canvas);
      } else {
        gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA8, 1, 1, 0, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4));
      }
      gl.pixelStorei(gl.UNPACK_PREMULTIPLY_ALPHA_WEBGL, false);
      gl.bindTexture(gl.TEXTURE_2D, pair.live);
      const all = layer.hasLive ? layer.liveBytes(0, 0, layer.width, layer.height) : null;
      gl.texImage2D(gl.TEXTURE_2D, 0, gl.R8, layer.width, layer.height, 0, gl.RED, gl.UNSIGNED_BYTE, all);
      layer.takeDirty();
      return pair;
    }
    const dirty = layer.takeDirty();
    if (dirty) {
      const [x, y, w, h] = dirty;
      gl.bindTexture(gl.TEXTURE_2D, pair.live);
      gl.texSubImage2D(gl.TEXTURE_2D, 0, x, y, w, h, gl.RED, gl.UNSIGNED_BYTE, layer.liveBytes(x, y, w, h));
    }
    return pair;
  }

  dispose(): void {
    this.dropMeshes();
    this.target?.dispose();
    if (this.gl) {
      for (const { ground, live } of this.textures.values()) {
        this.gl.deleteTexture(ground);
        this.gl.deleteTexture(live);
      }
      // Browsers allow only a few contexts at once.
      this.gl.getExtension("WEBGL_lose_context")?.loseContext();
    }
    this.lost = true;
  }
}

/** Unit direction towards the light: beside and above the eye by these shares. */
export function lightFrom(camera: Camera, [aside, above]: [number, number]): [number, number, number] {
  const eye = camera.unproject(camera.width / 2, camera.height / 2, 0);
  const at = camera.unproject(camera.width / 2, camera.height / 2, 1);
  const right = camera.unproject(camera.width, camera.height / 2, 1);
  const top = camera.unproject(camera.width / 2, 0, 1);
  const out = [0, 0, 0];
  const rx = Math.hypot(...[0, 1, 2].map((i) => right[i]! - at[i]!));
  const ry = Math.hypot(...[0, 1, 2].map((i) => top[i]! - at[i]!));
  for (let i = 0; i < 3; i++) {
    out[i] = eye[i]! - at[i]! + (aside * (right[i]! - at[i]!)) / rx + (above * (top[i]! - at[i]!)) / ry;
  }
  const size = Math.hypot(...out);
  return out.map((v) => v / size) as [number, number, number];
}
