// A picture that is drawn once when the camera rests, together with an integer image of what lies at
// each pixel, which is read back: then picks cost nothing, and what changes is laid over it.

import { Camera } from "./camera.ts";
import { openGl, Target, type GL, type Program } from "./gl.ts";

/** More device pixels than this cost memory and time without being seen. */
const MOST_PIXELS = 4_200_000;

export abstract class StoredPicture {
  readonly camera = new Camera();
  lost = false;
  /** Pixels of the picture for a CSS px. */
  ratio = 1;
  protected readonly gl: GL | null;
  protected width = 1;
  protected height = 1;
  protected target: Target | null = null;
  /** The integer image as it was read back last. */
  protected numbers = new Uint32Array(0);
  private drawnKey = "";

  constructor(readonly canvas: HTMLCanvasElement) {
    this.gl = openGl(canvas);
  }

  /** Whether it can be drawn now. */
  get works(): boolean {
    return this.gl !== null && !this.lost;
  }

  /** Whether there is any 3D on this device at all. */
  get hasGl(): boolean {
    return this.gl !== null;
  }

  /** Whether the stored picture is that of the camera as it stands. */
  get fresh(): boolean {
    return this.target !== null && this.drawnKey !== "" && this.drawnKey === this.camera.key();
  }

  /** What is stored is no longer what is to be seen. */
  protected stale(): void {
    this.drawnKey = "";
  }

  resize(width: number, height: number, ratio: number): void {
    this.ratio = Math.min(ratio, Math.sqrt(MOST_PIXELS / Math.max(width * height, 1)));
    this.width = Math.max(1, Math.round(width * this.ratio));
    this.height = Math.max(1, Math.round(height * this.ratio));
    this.camera.width = Math.max(1, width);
    this.camera.height = Math.max(1, height);
    this.camera.update();
    this.stale();
  }

  /** After a loss nothing made before is of use. */
  forget(): void {
    this.target = null;
    this.stale();
  }

  /** Canvas and target as large as they are to be. */
  protected sized(gl: GL): Target {
    if (this.canvas.width !== this.width || this.canvas.height !== this.height) {
      this.canvas.width = this.width;
      this.canvas.height = this.height;
    }
    if (!this.target || this.target.width !== this.width || this.target.height !== this.height) {
      this.target?.dispose();
      this.target = new Target(gl, this.width, this.height);
      this.stale();
    }
    return this.target;
  }

  /** Draws meshes into the target, lit from the eye and from beside it. */
  protected store(gl: GL, program: Program, target: Target, meshes: () => void): void {
    this.camera.update();
    target.begin();
    gl.useProgram(program.id);
    gl.uniformMatrix4fv(program.at("matrix"), false, this.camera.matrix);
    gl.uniform3fv(program.at("back"), this.camera.towards(0, 0));
    gl.uniform3fv(program.at("light"), this.camera.towards(-0.4, 0.9));
    meshes();
    gl.disable(gl.DEPTH_TEST);
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    this.drawnKey = this.camera.key();
  }

  /** Reads the integer image back. */
  protected readBack(target: Target): Uint32Array<ArrayBuffer> {
    const count = this.width * this.height * 4;
    if (this.numbers.length !== count) this.numbers = new Uint32Array(count);
    target.read(this.numbers);
    return this.numbers;
  }

  /** One triangle over the screen, fed from textures by name. */
  protected lay(gl: GL, program: Program, textures: Record<string, WebGLTexture>, values: () => void): void {
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    gl.viewport(0, 0, this.width, this.height);
    gl.useProgram(program.id);
    Object.entries(textures).forEach(([name, texture], i) => {
      gl.activeTexture(gl.TEXTURE0 + i);
      gl.bindTexture(gl.TEXTURE_2D, texture);
      gl.uniform1i(program.at(name), i);
    });
    values();
    gl.drawArrays(gl.TRIANGLES, 0, 3);
    gl.activeTexture(gl.TEXTURE0);
  }

  dispose(): void {
    this.target?.dispose();
    // Browsers allow only a few contexts at once.
    this.gl?.getExtension("WEBGL_lose_context")?.loseContext();
    this.lost = true;
  }
}
