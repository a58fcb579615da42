// Finds the triangle under a flat place: a grid of cells over the map, made once for each skin.

import type { Flat } from "../wire.ts";
import type { LoadedSkin } from "./shape.ts";

/** A place may lie this far (share of a triangle) beyond an edge and still count as in it. */
const SLACK = 1e-4;

export interface Spot {
  triangle: number;
  a: number;
  b: number;
  c: number;
}

/** All flat coordinates here are those of the wire: header.flat_origin is taken off inside. */
export class Locator {
  private readonly starts: Uint32Array;
  private readonly members: Uint32Array;
  private readonly across: number;
  private readonly up: number;
  private readonly x0: number;
  private readonly y0: number;
  private readonly cell: number;
  /** The answer of the last find(), kept so that asking makes no garbage. */
  readonly spot: Spot = { triangle: -1, a: 0, b: 0, c: 0 };

  constructor(readonly skin: LoadedSkin) {
    const { flat, triangles } = skin;
    let x0 = Infinity, y0 = Infinity, x1 = -Infinity, y1 = -Infinity;
    for (let i = 0; i < flat.length; i += 2) {
      const x = flat[i]!, y = flat[i + 1]!;
      if (x < x0) x0 = x;
      if (x > x1) x1 = x;
      if (y < y0) y0 = y;
      if (y > y1) y1 = y;
    }
    if (!(x1 >= x0)) x0 = y0 = x1 = y1 = 0;
    const count = triangles.length / 3;
    const cells = Math.max(16, Math.min(count, 400_000));
    const width = Math.max(x1 - x0, 1e-6), height = Math.max(y1 - y0, 1e-6);
    this.cell = Math.sqrt((width * height) / cells) || 1;
    // A long narrow sheet must not ask for cells by the million.
    this.cell = Math.max(this.cell, Math.max(width, height) / 4096);
    this.across = Math.floor(width / this.cell) + 1;
    this.up = Math.floor(height / this.cell) + 1;
    this.x0 = x0;
    this.y0 = y0;
    const sizes = new Uint32Array(this.across * this.up + 1);
    this.eachCell((cell) => { sizes[cell + 1]!++; });
    for (let i = 1; i < sizes.length; i++) sizes[i]! += sizes[i - 1]!;
    this.starts = sizes.slice();
    const next = sizes;
    this.members = new Uint32Array(this.starts[this.starts.length - 1]!);
    this.eachCell((cell, triangle) => { this.members[next[cell]!++] = triangle; });
  }

  private eachCell(visit: (cell: number, triangle: number) => void): void {
    const { flat, triangles } = this.skin;
    const count = triangles.length / 3;
    for (let t = 0; t < count; t++) {
      const a = triangles[3 * t]! * 2, b = triangles[3 * t + 1]! * 2, c = triangles[3 * t + 2]! * 2;
      const ax = flat[a]!, bx = flat[b]!, cx = flat[c]!;
      const ay = flat[a + 1]!, by = flat[b + 1]!, cy = flat[c + 1]!;
      const i0 = this.column(Math.min(ax, bx, cx)), i1 = this.column(Math.max(ax, bx, cx));
      const j0 = this.row(Math.min(ay, by, cy)), j1 = this.row(Math.max(ay, by, cy));
      for (let j = j0; j <= j1; j++) {
        for (let i = i0; i <= i1; i++) visit(j * this.across + i, t);
      }
    }
  }

  private column(x: number): number {
    return Math.min(this.across - 1, Math.max(0, Math.floor((x - this.x0) / this.cell)));
  }

  private row(y: number): number {
    return Math.min(this.up - 1, Math.max(0, Math.floor((y - this.y0) / this.cell)));
  }

  /** Whether the place is on the metal; `spot` then tells where. */
  find(x: number, y: number): boolean {
    const lx = x - this.skin.header.flat_origin[0], ly = y - this.skin.header.flat_origin[1];
    const spot = this.spot;
    // The one of last time is often right again.
    if (spot.triangle >= 0 && this.within(spot.triangle, lx, ly)) return true;
    const i = Math.floor((lx - this.x0) / this.cell), j = Math.floor((ly - this.y0) / this.cell);
    spot.triangle = -1;
    if (i < -1 || j < -1 || i > this.across || j > this.up) return false;
    const cell = this.row(ly) * this.across + this.column(lx);
    for (let k = this.starts[cell]!; k < this.starts[cell + 1]!; k++) {
      if (this.within(this.members[k]!, lx, ly)) return true;
    }
    return false;
  }

  /** As find, or else the nearest triangle within about `reach` mm: for rims, which outlines follow
   * more coarsely than triangles do. */
  findNear(x: number, y: number, reach: number): boolean {
    if (this.find(x, y)) return true;
    const { spot } = this;
    const lx = x - this.skin.header.flat_origin[0], ly = y - this.skin.header.flat_origin[1];
    const near = (v: number) => Math.floor(v / this.cell);
    let best = -Infinity;
    let at = -1;
    for (let j = near(ly - reach - this.y0); j <= near(ly + reach - this.y0); j++) {
      for (let i = near(lx - reach - this.x0); i <= near(lx + reach - this.x0); i++) {
        if (i < 0 || j < 0 || i >= this.across || j >= this.up) continue;
        const cell = j * this.across + i;
        for (let k = this.starts[cell]!; k < this.starts[cell + 1]!; k++) {
          const off = this.beyond(this.members[k]!, lx, ly);
          if (off > best) [best, at] = [off, this.members[k]!];
        }
      }
    }
    if (at < 0 || best < -reach) return false;
    this.beyond(at, lx, ly);
    spot.triangle = at;
    return true;
  }

  /** How far a place lies in a triangle, mm, about; negative beyond it. Sets shares of corners. */
  private beyond(t: number, x: number, y: number): number {
    const { flat, triangles } = this.skin;
    const i = triangles[3 * t]! * 2, j = triangles[3 * t + 1]! * 2, k = triangles[3 * t + 2]! * 2;
    const ax = flat[i]!, ay = flat[i + 1]!;
    const ux = flat[j]! - ax, uy = flat[j + 1]! - ay;
    const vx = flat[k]! - ax, vy = flat[k + 1]! - ay;
    const whole = ux * vy - uy * vx;
    if (whole === 0) return -Infinity;
    const px = x - ax, py = y - ay;
    const { spot } = this;
    spot.b = (px * vy - py * vx) / whole;
    spot.c = (ux * py - uy * px) / whole;
    spot.a = 1 - spot.b - spot.c;
    const size = Math.abs(whole);
    return Math.min(
      (spot.c * size) / Math.hypot(ux, uy), (spot.b * size) / Math.hypot(vx, vy),
      (spot.a * size) / Math.hypot(vx - ux, vy - uy),
    );
  }

  private within(t: number, x: number, y: number): boolean {
    const { flat, triangles } = this.skin;
    const i = triangles[3 * t]! * 2, j = triangles[3 * t + 1]! * 2, k = triangles[3 * t + 2]! * 2;
    const ax = flat[i]!, ay = flat[i + 1]!;
    const ux = flat[j]! - ax, uy = flat[j + 1]! - ay;
    const vx = flat[k]! - ax, vy = flat[k + 1]! - ay;
    const whole = ux * vy - uy * vx;
    if (whole === 0) return false;
    const px = x - ax, py = y - ay;
    const b = (px * vy - py * vx) / whole;
    if (b < -SLACK || b > 1 + SLACK) return false;
    const c = (ux * py - uy * px) / whole;
    if (c < -SLACK || b + c > 1 + SLACK) return false;
    const spot = this.spot;
    spot.triangle = t;
    spot.a = 1 - b - c;
    spot.b = b;
    spot.c = c;
    return true;
  }

  /** Place in space of the spot last found. */
  space(out: Float64Array | number[], at = 0): void {
    const { points, triangles } = this.skin;
    const { triangle: t, a, b, c } = this.spot;
    const i = triangles[3 * t]! * 3, j = triangles[3 * t + 1]! * 3, k = triangles[3 * t + 2]! * 3;
    for (let axis = 0; axis < 3; axis++) {
      out[at + axis] = a * points[i + axis]! + b * points[j + axis]! + c * points[k + axis]!;
    }
  }

  /** Unit normal of the triangle last found, as its corners turn on the map. */
  normal(out: Float64Array | number[], at = 0): void {
    const { points, triangles } = this.skin;
    const t = this.spot.triangle;
    const i = triangles[3 * t]! * 3, j = triangles[3 * t + 1]! * 3, k = triangles[3 * t + 2]! * 3;
    const ux = points[j]! - points[i]!, uy = points[j + 1]! - points[i + 1]!, uz = points[j + 2]! - points[i + 2]!;
    const vx = points[k]! - points[i]!, vy = points[k + 1]! - points[i + 1]!, vz = points[k + 2]! - points[i + 2]!;
    const nx = uy * vz - uz * vy, ny = uz * vx - ux * vz, nz = ux * vy - uy * vx;
    const size = Math.hypot(nx, ny, nz) || 1;
    out[at] = nx / size;
    out[at + 1] = ny / size;
    out[at + 2] = nz / size;
  }

  /** A value given at the corners, at the spot last found; NaN where a corner has none. */
  value(values: Float32Array): number {
    const { triangles } = this.skin;
    const { triangle: t, a, b, c } = this.spot;
    return (
      a * values[triangles[3 * t]!]! + b * values[triangles[3 * t + 1]!]! + c * values[triangles[3 * t + 2]!]!
    );
  }

  /** True area over flat area at the spot last found. */
  stretch(): number {
    return this.skin.stretch[this.spot.triangle] ?? 1;
  }

  spaceAt(flat: Flat): [number, number, number] | null {
    if (!this.find(flat[0], flat[1])) return null;
    const out: [number, number, number] = [0, 0, 0];
    this.space(out);
    return out;
  }
}
