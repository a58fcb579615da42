// The 3D picture: drawn once when the camera rests, together with the integer image of what lies at
// each pixel. Afterwards whatever is painted is laid over the stored picture, in the dirty box only.

import { makeTexture, Mesh, normalsOf, Program, type GL } from "./gl.ts";
import { LAY_FRAGMENT, MESH_FRAGMENT, MESH_VERTEX, QUAD_VERTEX } from "./shaders.ts";
import type { SkinModel } from "./model.ts";
import { PickImage } from "./picks.ts";
import type { SheetLayer } from "./layer.ts";
import { StoredPicture } from "./stored.ts";

const METAL = [0.93, 0.93, 0.92] as const;
const OTHER_SKIN = [0.66, 0.68, 0.7] as const;
const OTHER_SIDE = [0.5, 0.49, 0.46] as const;

/** x, y, width, height in CSS px of the view, from its top left. */
export type PixelBox = [number, number, number, number];

export class Picture extends StoredPicture {
  picks: PickImage | null = null;
  private mesh: Program | null = null;
  private laid: Program | null = null;
  private meshes: Mesh[] = [];
  private models: readonly SkinModel[] = [];
  private normals: Int8Array[] = [];
  private active = 0;
  private face = 0;
  private textures = new Map<SheetLayer, { ground: WebGLTexture; live: WebGLTexture; made: number }>();

  override resize(width: number, height: number, ratio: number): void {
    super.resize(width, height, ratio);
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
    this.stale();
    this.picks = null;
  }

  private dropMeshes(): void {
    for (const mesh of this.meshes) mesh.dispose();
    this.meshes = [];
  }

  override forget(): void {
    super.forget();
    this.mesh = this.laid = this.picks = null;
    this.meshes = [];
    this.textures.clear();
  }

  /** Draws shade and picks from the camera as it stands; layer is then laid over everything. */
  render(layer: SheetLayer): void {
    const gl = this.gl;
    if (!gl || this.lost) return;
    this.mesh ??= new Program(gl, MESH_VERTEX, MESH_FRAGMENT);
    const program = this.mesh;
    const meshes = this.meshesOf(gl);
    this.store(gl, program, this.sized(gl), () => {
      this.models.forEach((model, i) => {
        const mine = i === this.active;
        gl.uniform1ui(program.at("skin"), i + 1);
        gl.uniform1f(program.at("hand"), model.hand);
        gl.uniform1ui(program.at("face"), mine ? this.face : 0);
        gl.uniform1i(program.at("hideOuter"), this.face === 1 ? 1 : 0);
        gl.uniform3fv(program.at("colour"), mine ? METAL : OTHER_SKIN);
        gl.uniform3fv(program.at("otherSide"), OTHER_SIDE);
        meshes[i]!.draw();
      });
    });
    this.picks = null;
    this.compose(layer, null);
  }

  /** Reads the integer image back, so that picks cost nothing until the camera moves. */
  rest(): PickImage | null {
    if (!this.works || !this.target) return null;
    if (this.picks && this.fresh) return this.picks;
    this.picks = new PickImage(this.readBack(this.target), this.width, this.height, this.camera);
    return this.picks;
  }

  /** Lays the layer over the stored picture: all of it, or only a box (CSS px). */
  compose(layer: SheetLayer, box: PixelBox | null): void {
    const { gl, target } = this;
    if (!gl || this.lost || !target) return;
    this.laid ??= new Program(gl, QUAD_VERTEX, LAY_FRAGMENT);
    const program = this.laid;
    const { ground, live } = this.upload(gl, layer);
    if (box) {
      const across = this.width / this.camera.width, up = this.height / this.camera.height;
      const x = Math.floor(box[0] * across), y = Math.floor(this.height - (box[1] + box[3]) * up);
      gl.enable(gl.SCISSOR_TEST);
      gl.scissor(x, y, Math.ceil(box[2] * across) + 1, Math.ceil(box[3] * up) + 1);
    }
    const origin = this.models[this.active]?.header.flat_origin ?? [0, 0];
    const [x0, y0, x1, y1] = layer.window;
    this.lay(gl, program, { shaded: target.shaded, picks: target.picks, ground, live }, () => {
      gl.uniform4f(program.at("window"), x0 - origin[0], y0 - origin[1], 1 / (x1 - x0), 1 / (y1 - y0));
      gl.uniform1ui(program.at("mine"), ((this.active + 1) << 1) | this.face);
      gl.uniform1f(program.at("stripe"), 1 / (9 * this.ratio));
      gl.uniform3f(program.at("paint"), 0.2, 0.48, 0.86);
      gl.uniform3f(program.at("paintDark"), 0.05, 0.22, 0.5);
    });
    gl.disable(gl.SCISSOR_TEST);
  }

  /** One pixel of what is on the screen, to wait until it is really there. */
  settle(): void {
    const gl = this.gl;
    if (gl && !this.lost) gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4));
  }

  private meshesOf(gl: GL): Mesh[] {
    if (!this.meshes.length) {
      this.meshes = this.models.map(({ skin }, i) => {
        const normals = (this.normals[i] ??= normalsOf(skin.points, skin.triangles));
        return new Mesh(gl, skin.points, skin.flat, normals, skin.triangles);
      });
    }
    return this.meshes;
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

  override dispose(): void {
    this.dropMeshes();
    for (const { ground, live } of this.textures.values()) {
      this.gl?.deleteTexture(ground);
      this.gl?.deleteTexture(live);
    }
    super.dispose();
  }
}
