// One skin as the views know it: where things lie on it, which way is forward, what is up.

import type { Flat, SkinHeader } from "../wire.ts";
import { Glue } from "../lib/glue.ts";
import { Locator } from "../lib/inside.ts";
import { Area, distance, type Polygon } from "../lib/plane.ts";
import type { LoadedSkin } from "../lib/shape.ts";
import type { Vec3 } from "./camera.ts";

/** An axis of the aircraft is shown where this much of it lies in the sheet (cos 50 degrees). */
const LEAST_IN_SHEET = 0.64;
/** A part whose middle is nearer to the plane of symmetry than this (mm) has no outboard. */
const ON_CENTRE_LINE = 5;
/** Outlines come simplified by .02 mm; so far (mm) beyond the metal they still are its rim. */
const NEAR_RIM = 0.06;

export interface Direction {
  word: string;
  flat: Flat;
}

/** One side of a sheet that wraps round: where on the map it lies, and which way is which there. */
export interface Side {
  name: string;
  middle: Flat;
  directions: Direction[];
}

/** A line of the map in space: pieces of points with the outward normals there. */
export interface Lifted {
  /** x, y, z and normal x, y, z of each point. */
  values: Float32Array;
  /** Where pieces begin, in points; the last entry is the number of points. */
  starts: number[];
}

export class SkinModel {
  readonly header: SkinHeader;
  readonly sheet: Area;
  /** +1 where triangles counter-clockwise on the map are so seen from outside. */
  readonly hand: number;
  private place: Locator | undefined;
  private charts: Path2D[] | undefined;
  private sheetMade: Path2D | undefined;
  private named = new Map<string, Area>();
  private found: Side[] | undefined;
  private joins: Glue | undefined;

  constructor(readonly skin: LoadedSkin, readonly origin: Vec3) {
    this.header = skin.header;
    this.sheet = new Area(skin.header.sheet);
    this.hand = skin.header.view[0] * skin.header.view[1] >= 0 ? 1 : -1;
  }

  get locator(): Locator {
    return (this.place ??= new Locator(this.skin));
  }

  /** The rim of each chart with its openings, to clip by ("evenodd"), flat mm. */
  get chartPaths(): Path2D[] {
    return (this.charts ??= this.sheet.polygons.map((rings) => pathOf([rings])));
  }

  get glue(): Glue {
    return (this.joins ??= new Glue(this.header.glue, this.sheet));
  }

  get sheetPath(): Path2D {
    return (this.sheetMade ??= pathOf(this.header.sheet));
  }

  area(group: "panels" | "bays", name: string): Area {
    const key = `${group} ${name}`;
    let area = this.named.get(key);
    if (!area) {
      area = new Area(this.header[group].find((one) => one.name === name)?.polygons ?? []);
      this.named.set(key, area);
    }
    return area;
  }

  nameAt(group: "panels" | "bays", at: Flat): string {
    return this.header[group].find((one) => this.area(group, one.name).has(at[0], at[1]))?.name ?? "";
  }

  /** Whether the line from a to b stays on the metal, looked at every `step` mm. */
  runsOnSheet(a: Flat, b: Flat, step: number): boolean {
    const count = Math.max(1, Math.min(2000, Math.ceil(distance(a, b) / step)));
    for (let i = 0; i <= count; i++) {
      const t = i / count;
      if (!this.locator.find(a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]))) return false;
    }
    return true;
  }

  /** Radius on the map of a disc of true radius about the place. */
  flatRadius(at: Flat, radius: number): number {
    return this.locator.find(at[0], at[1]) ? radius / Math.sqrt(this.locator.stretch()) : radius;
  }

  /** Whether a disc reaches a rim, an opening or a chart edge. */
  nearRim(at: Flat, radius: number): boolean {
    for (let i = 0; i < 16; i++) {
      const turn = (i * Math.PI) / 8;
      for (const share of [1.02, 0.6]) {
        const r = radius * share;
        if (!this.locator.find(at[0] + r * Math.cos(turn), at[1] + r * Math.sin(turn))) return true;
      }
    }
    return false;
  }

  /** The path in space, with enough points that it lies on the metal; off the sheet it is cut. */
  lift(path: readonly Flat[], sag: number, longest: number): Lifted {
    const values: number[] = [];
    const starts: number[] = [];
    const locator = this.locator;
    const point = new Float64Array(6);
    let open = false;
    const put = (x: number, y: number): boolean => {
      if (!locator.findNear(x, y, NEAR_RIM)) {
        open = false;
        return false;
      }
      locator.space(point, 0);
      locator.normal(point, 3);
      if (!open) starts.push(values.length / 6);
      open = true;
      values.push(
        point[0]!, point[1]!, point[2]!, this.hand * point[3]!, this.hand * point[4]!, this.hand * point[5]!,
      );
      return true;
    };
    const spaceAt = (p: Flat): number[] | null => {
      if (!locator.findNear(p[0], p[1], NEAR_RIM)) return null;
      const out = [0, 0, 0];
      locator.space(out);
      return out;
    };
    const split = (a: Flat, b: Flat, depth: number): void => {
      const middle: Flat = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
      if (depth < 9) {
        const pa = spaceAt(a), pm = spaceAt(middle), pb = spaceAt(b);
        const long = distance(a, b);
        const off = pa && pm && pb
          ? Math.hypot(...[0, 1, 2].map((i) => pm[i]! - (pa[i]! + pb[i]!) / 2))
          : long > sag ? Infinity : 0;
        if (long > longest || off > sag) {
          split(a, middle, depth + 1);
          split(middle, b, depth + 1);
          return;
        }
      }
      put(b[0], b[1]);
    };
    path.forEach((b, i) => {
      if (i === 0) put(b[0], b[1]);
      else split(path[i - 1]!, b, 0);
    });
    starts.push(values.length / 6);
    return { values: Float32Array.from(values), starts };
  }

  /** Sides of the sheet with the directions that hold there, by least squares over its points. */
  sides(): Side[] {
    if (this.found) return this.found;
    const { has_chord, round } = this.header;
    const upper = this.directionsOf("upper", (c) => c >= 0 || Number.isNaN(c));
    const lower = has_chord && !round ? this.directionsOf("lower", (c) => c < 0) : null;
    if (upper && lower) this.found = [upper, lower];
    else this.found = [upper ?? lower ?? { name: "", middle: [0, 0], directions: [] }];
    if (this.found.length === 1) this.found[0]!.name = "";
    return this.found;
  }

  private directionsOf(name: string, chosen: (chord: number) => boolean): Side | null {
    const { flat, points, triangles, chord } = this.skin;
    let xx = 0, xy = 0, yy = 0, count = 0, mx = 0, my = 0;
    const zx = [0, 0, 0], zy = [0, 0, 0];
    const step = 3 * Math.max(1, Math.floor(triangles.length / 3 / 20_000));
    for (let t = 0; t < triangles.length; t += step) {
      const [i, j, k] = [triangles[t]!, triangles[t + 1]!, triangles[t + 2]!];
      if (!chosen((chord[i]! + chord[j]! + chord[k]!) / 3)) continue;
      count++;
      const fx = (flat[2 * i]! + flat[2 * j]! + flat[2 * k]!) / 3;
      const fy = (flat[2 * i + 1]! + flat[2 * j + 1]! + flat[2 * k + 1]!) / 3;
      mx += fx;
      my += fy;
      for (const n of [i, j, k]) {
        const dx = flat[2 * n]! - fx, dy = flat[2 * n + 1]! - fy;
        xx += dx * dx;
        xy += dx * dy;
        yy += dy * dy;
        for (let axis = 0; axis < 3; axis++) {
          const mean = (points[3 * i + axis]! + points[3 * j + axis]! + points[3 * k + axis]!) / 3;
          const d = points[3 * n + axis]! - mean;
          zx[axis]! += dx * d;
          zy[axis]! += dy * d;
        }
      }
    }
    const whole = xx * yy - xy * xy;
    if (!count || whole <= 0) return null;
    const gradient = [0, 1, 2].map((axis): Flat => [
      (yy * zx[axis]! - xy * zy[axis]!) / whole,
      (xx * zy[axis]! - xy * zx[axis]!) / whole,
    ]);
    const directions: Direction[] = [];
    for (const [word, axis, sign] of this.axes()) {
      const slope = gradient[axis]!;
      const size = Math.hypot(...slope);
      if (size >= LEAST_IN_SHEET) {
        directions.push({ word, flat: [(sign * slope[0]) / size, (sign * slope[1]) / size] });
      }
    }
    const [ox, oy] = this.header.flat_origin;
    return { name, middle: [mx / count + ox, my / count + oy], directions };
  }

  /** Named directions of the aircraft: word, axis, sign. */
  axes(): [string, number, number][] {
    const { points } = this.skin;
    let sum = 0;
    for (let i = 1; i < points.length; i += 3) sum += points[i]!;
    const y = this.origin[1] + sum / Math.max(points.length / 3, 1);
    const side: [string, number, number] =
      Math.abs(y) > ON_CENTRE_LINE ? ["outboard", 1, Math.sign(y)] : ["right", 1, 1];
    return [["forward", 0, -1], side, ["up", 2, 1]];
  }

  /** How the map is turned (+1/-1 each way) so that a face is seen as by somebody looking at it. */
  flips(face: string): [number, number] {
    const [x, y] = this.header.view;
    if (this.header.faces.indexOf(face) !== 1) return [x, y];
    // A sheet that stands upright is turned over sideways, any other about its spanwise line.
    const up = this.sides()[0]!.directions.find((d) => d.word === "up");
    return up && Math.abs(up.flat[1]) >= Math.abs(up.flat[0]) ? [-x, y] : [x, -y];
  }
}

export function pathOf(polygons: readonly Polygon[], to?: (f: Flat) => Flat): Path2D {
  const path = new Path2D();
  for (const rings of polygons) {
    for (const ring of rings) {
      ring.forEach((point, i) => {
        const [x, y] = to ? to(point) : point;
        if (i === 0) path.moveTo(x, y);
        else path.lineTo(x, y);
      });
      path.closePath();
    }
  }
  return path;
}
