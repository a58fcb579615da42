// Plane geometry of the flat map: polygons, distances, thinning. Points are [x, y] in mm.

import type { Flat } from "../wire.ts";

/** Rings; the first is the outer one. */
export type Polygon = Flat[][];
export type Box = [number, number, number, number];

export const EMPTY_BOX: Box = [Infinity, Infinity, -Infinity, -Infinity];

export function boxOf(rings: readonly (readonly Flat[])[], start: Box = EMPTY_BOX): Box {
  let [x0, y0, x1, y1] = start;
  for (const ring of rings) {
    for (const [x, y] of ring) {
      if (x < x0) x0 = x;
      if (y < y0) y0 = y;
      if (x > x1) x1 = x;
      if (y > y1) y1 = y;
    }
  }
  return [x0, y0, x1, y1];
}

export function unite(a: Box, b: Box): Box {
  return [Math.min(a[0], b[0]), Math.min(a[1], b[1]), Math.max(a[2], b[2]), Math.max(a[3], b[3])];
}

export function grown(box: Box, by: number): Box {
  return [box[0] - by, box[1] - by, box[2] + by, box[3] + by];
}

export function common(a: Box, b: Box): Box {
  return [Math.max(a[0], b[0]), Math.max(a[1], b[1]), Math.min(a[2], b[2]), Math.min(a[3], b[3])];
}

export function isEmpty(box: Box): boolean {
  return !(box[2] > box[0] && box[3] > box[1]);
}

export function holds(box: Box, x: number, y: number): boolean {
  return x >= box[0] && x <= box[2] && y >= box[1] && y <= box[3];
}

/** Whether a point lies inside rings, counted even-odd, so that holes are outside. */
export function inRings(rings: readonly (readonly Flat[])[], x: number, y: number): boolean {
  let inside = false;
  for (const ring of rings) {
    let [px, py] = ring[ring.length - 1] ?? [0, 0];
    for (const [qx, qy] of ring) {
      if (qy > y !== py > y && x < ((px - qx) * (y - qy)) / (py - qy) + qx) inside = !inside;
      px = qx;
      py = qy;
    }
  }
  return inside;
}

/** Polygons with the boxes that make asking them quick. */
export class Area {
  readonly polygons: readonly Polygon[];
  readonly boxes: Box[];
  readonly box: Box;

  constructor(polygons: readonly Polygon[]) {
    this.polygons = polygons;
    this.boxes = polygons.map((polygon) => boxOf(polygon));
    this.box = this.boxes.reduce(unite, EMPTY_BOX);
  }

  has(x: number, y: number): boolean {
    return this.indexAt(x, y) >= 0;
  }

  /** Which polygon holds the point, -1 for none. */
  indexAt(x: number, y: number): number {
    if (!holds(this.box, x, y)) return -1;
    return this.polygons.findIndex(
      (polygon, i) => holds(this.boxes[i]!, x, y) && inRings(polygon, x, y),
    );
  }
}

/** Area of polygons in the plane, holes off. */
export function planeArea(polygons: readonly Polygon[]): number {
  let sum = 0;
  for (const polygon of polygons) {
    polygon.forEach((ring, i) => {
      const area = Math.abs(signedArea(ring));
      sum += i === 0 ? area : -area;
    });
  }
  return sum;
}

export function signedArea(ring: readonly Flat[]): number {
  let twice = 0;
  let [px, py] = ring[ring.length - 1] ?? [0, 0];
  for (const [x, y] of ring) {
    twice += px * y - x * py;
    px = x;
    py = y;
  }
  return twice / 2;
}

export function distance(a: Flat, b: Flat): number {
  return Math.hypot(a[0] - b[0], a[1] - b[1]);
}

/** Distance of a point from a piece of line. */
export function toPiece(x: number, y: number, a: Flat, b: Flat): number {
  const dx = b[0] - a[0];
  const dy = b[1] - a[1];
  const square = dx * dx + dy * dy;
  const t = square > 0 ? Math.min(1, Math.max(0, ((x - a[0]) * dx + (y - a[1]) * dy) / square)) : 0;
  return Math.hypot(x - a[0] - t * dx, y - a[1] - t * dy);
}

export function toPath(path: readonly Flat[], x: number, y: number): number {
  if (path.length === 1) return distance(path[0]!, [x, y]);
  let least = Infinity;
  for (let i = 1; i < path.length; i++) {
    const d = toPiece(x, y, path[i - 1]!, path[i]!);
    if (d < least) least = d;
  }
  return least;
}

/** The path with fewer points, nowhere further off than `tolerance` (Douglas and Peucker's way). */
export function thinned(path: readonly Flat[], tolerance: number): Flat[] {
  if (path.length < 3) return path.slice();
  const keep = new Uint8Array(path.length);
  keep[0] = keep[path.length - 1] = 1;
  const open: [number, number][] = [[0, path.length - 1]];
  while (open.length) {
    const [first, last] = open.pop()!;
    let worst = tolerance;
    let at = -1;
    for (let i = first + 1; i < last; i++) {
      const [x, y] = path[i]!;
      const d = toPiece(x, y, path[first]!, path[last]!);
      if (d > worst) {
        worst = d;
        at = i;
      }
    }
    if (at > 0) {
      keep[at] = 1;
      open.push([first, at], [at, last]);
    }
  }
  return path.filter((_, i) => keep[i]);
}

/** Points on a circle, first not repeated. */
export function circle(at: Flat, radius: number, count: number): Flat[] {
  return Array.from({ length: count }, (_, i): Flat => {
    const turn = (2 * Math.PI * i) / count;
    return [at[0] + radius * Math.cos(turn), at[1] + radius * Math.sin(turn)];
  });
}

/** Where two pieces of line cross, or null. */
export function crossing(a: Flat, b: Flat, c: Flat, d: Flat): Flat | null {
  const ux = b[0] - a[0];
  const uy = b[1] - a[1];
  const vx = d[0] - c[0];
  const vy = d[1] - c[1];
  const cross = ux * vy - uy * vx;
  if (cross === 0) return null;
  const t = ((c[0] - a[0]) * vy - (c[1] - a[1]) * vx) / cross;
  const s = ((c[0] - a[0]) * uy - (c[1] - a[1]) * ux) / cross;
  return t >= 0 && t <= 1 && s >= 0 && s <= 1 ? [a[0] + t * ux, a[1] + t * uy] : null;
}

/** Pieces of the straight line p + u a (a along unit vector u) inside rings, as pairs of a. */
export function spansInside(
  rings: readonly (readonly Flat[])[],
  px: number,
  py: number,
  ux: number,
  uy: number,
): number[] {
  const hits: number[] = [];
  for (const ring of rings) {
    let [ax, ay] = ring[ring.length - 1] ?? [0, 0];
    let before = (ay - py) * ux - (ax - px) * uy;
    for (const [bx, by] of ring) {
      const after = (by - py) * ux - (bx - px) * uy;
      if (before > 0 !== after > 0) {
        const t = before / (before - after);
        hits.push((ax + t * (bx - ax) - px) * ux + (ay + t * (by - ay) - py) * uy);
      }
      ax = bx;
      ay = by;
      before = after;
    }
  }
  return hits.sort((a, b) => a - b);
}
