// The picture of the airframe: parts with a number each, so that a tap knows its part.

import type { LoadedShape } from "../lib/shape.ts";
import { EDGE_FRAGMENT, PART_FRAGMENT } from "./airshaders.ts";
import type { Vec3 } from "./camera.ts";
import { Mesh, normalsOf, Program, type GL, type Target } from "./gl.ts";
import { MESH_VERTEX, QUAD_VERTEX } from "./shaders.ts";
import { StoredPicture } from "./stored.ts";

export interface Drawn {
  key: string;
  shape: LoadedShape;
  /** 1 and up. */
  number: number;
  /** 0 untouched, 1 open, 2 inspected, 3 stripped. */
  state: number;
  off: boolean;
  shift: Vec3;
}

/** Where a part is on the screen, CSS px. */
export interface Spot {
  /** A place where it is seen, near the middle of what is seen of it. */
  x: number;
  y: number;
  /** px it covers, about. */
  size: number;
  box: [number, number, number, number];
}

/** Places looked at for what is seen of each part. */
const LOOKED = 60_000;
/** By state. */
const COLOURS: Vec3[] = [[0.86, 0.83, 0.76], [0.93, 0.66, 0.62], [0.7, 0.87, 0.74], [0.92, 0.94, 0.96]];

export class AirframePicture extends StoredPicture {
  private program: Program | null = null;
  private edges: Program | null = null;
  private parts: Drawn[] = [];
  private meshes = new Map<LoadedShape, Mesh[]>();
  private floats = new Float32Array(0);
  /** Whether the integer image of what is shown was read back. */
  private read = false;
  private found: Map<number, Spot> | null = null;

  set(parts: Drawn[]): void {
    this.parts = parts;
    this.stale();
    const used = new Set(parts.map((part) => part.shape));
    for (const [shape, meshes] of this.meshes) {
      if (used.has(shape)) continue;
      for (const mesh of meshes) mesh.dispose();
      this.meshes.delete(shape);
    }
  }

  override forget(): void {
    super.forget();
    this.program = this.edges = null;
    this.meshes.clear();
  }

  /** Draws what is to be seen; what is asked of it is read back only when the camera rests. */
  draw(chosen: number, resting: boolean): void {
    const gl = this.gl;
    if (!gl || this.lost) return;
    const target = this.sized(gl);
    if (!this.fresh) this.render(gl, target);
    if (resting && !this.read) {
      const numbers = this.readBack(target);
      this.floats = new Float32Array(numbers.buffer);
      this.read = true;
      this.found = null;
    }
    this.edges ??= new Program(gl, QUAD_VERTEX, EDGE_FRAGMENT);
    const edges = this.edges;
    this.lay(gl, edges, { shaded: target.shaded, picks: target.picks }, () => {
      gl.uniform1ui(edges.at("chosen"), chosen);
      gl.uniform1f(edges.at("ratio"), this.ratio);
      gl.uniform3f(edges.at("focus"), 0.04, 0.34, 0.72);
    });
  }

  private render(gl: GL, target: Target): void {
    this.program ??= new Program(gl, MESH_VERTEX, PART_FRAGMENT);
    const program = this.program;
    this.store(gl, program, target, () => {
      for (const part of this.parts) {
        gl.uniform1ui(program.at("part"), part.number);
        gl.uniform1ui(program.at("state"), part.state);
        gl.uniform3fv(program.at("shift"), part.shift);
        gl.uniform3fv(program.at("colour"), COLOURS[part.state] ?? COLOURS[0]!);
        gl.uniform1i(program.at("off"), part.off ? 1 : 0);
        for (const mesh of this.meshesOf(gl, part.shape)) mesh.draw();
      }
    });
    this.read = false;
  }

  private meshesOf(gl: GL, shape: LoadedShape): Mesh[] {
    let meshes = this.meshes.get(shape);
    if (!meshes) {
      meshes = shape.skins.map(
        ({ points, triangles }) => new Mesh(gl, points, null, normalsOf(points, triangles), triangles),
      );
      this.meshes.set(shape, meshes);
    }
    return meshes;
  }

  private at(x: number, y: number): number {
    const i = Math.floor(x * this.ratio), j = Math.floor(this.height - y * this.ratio);
    return this.read && i >= 0 && j >= 0 && i < this.width && j < this.height ? 4 * (j * this.width + i) : -1;
  }

  /** The number of the part at CSS px x, y; within a few px of a thin one too; 0 for none. */
  partAt(x: number, y: number): number {
    for (const reach of [0, 3, 6]) {
      for (let i = 0; i < (reach ? 8 : 1); i++) {
        const turn = (i * Math.PI) / 4;
        const at = this.at(x + reach * Math.cos(turn), y + reach * Math.sin(turn));
        if (at >= 0 && this.numbers[at + 2]! > 0) return this.numbers[at + 2]!;
      }
    }
    return 0;
  }

  /** The number of the part at just this place; 0 for none. */
  numberAt(x: number, y: number): number {
    const at = this.at(x, y);
    return at >= 0 ? this.numbers[at + 2]! : 0;
  }

  /** What is seen of each part, by its number; found once for a picture. */
  spots(): ReadonlyMap<number, Spot> {
    if (!this.read) return new Map();
    if (this.found) return this.found;
    const { width, height, numbers, ratio } = this;
    // An odd step meets every kind of pixel of a lattice.
    const step = Math.max(1, Math.floor(Math.sqrt((width * height) / LOOKED))) | 1;
    const sums = new Map<number, { n: number; x: number; y: number; spot: Spot; off: number }>();
    const each = (visit: (part: number, x: number, y: number) => void): void => {
      for (let j = 0; j < height; j += step) {
        for (let i = 0; i < width; i += step) {
          const part = numbers[4 * (j * width + i) + 2]!;
          if (part > 0) visit(part, (i + 0.5) / ratio, (height - j - 0.5) / ratio);
        }
      }
    };
    each((part, x, y) => {
      let sum = sums.get(part);
      if (!sum) {
        sum = { n: 0, x: 0, y: 0, spot: { x, y, size: 0, box: [x, y, x, y] }, off: Infinity };
        sums.set(part, sum);
      }
      sum.n++;
      sum.x += x;
      sum.y += y;
      const { box } = sum.spot;
      sum.spot.box = [Math.min(box[0], x), Math.min(box[1], y), Math.max(box[2], x), Math.max(box[3], y)];
    });
    each((part, x, y) => {
      const sum = sums.get(part)!;
      const off = Math.hypot(x - sum.x / sum.n, y - sum.y / sum.n);
      if (off < sum.off) [sum.off, sum.spot.x, sum.spot.y] = [off, x, y];
    });
    const made = new Map<number, Spot>();
    for (const [part, { n, spot }] of sums) made.set(part, { ...spot, size: n * (step / ratio) ** 2 });
    this.found = made;
    return made;
  }

  depthAt(x: number, y: number): number | null {
    const at = this.at(x, y);
    return at >= 0 && this.numbers[at + 2]! > 0 ? this.floats[at + 3]! : null;
  }

  override dispose(): void {
    this.set([]);
    super.dispose();
  }
}
