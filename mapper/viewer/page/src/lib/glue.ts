// Chart edges that are one line on the part. A disc that reaches over one goes on beyond it: the plane
// of its chart is laid on that of the other, edge on edge, as if the sheet were unrolled there.

import type { Flat } from "../wire.ts";
import { Area, boxOf, grown, holds, type Box } from "./plane.ts";

/** How far (mm) beside an edge its chart is looked for. */
const BESIDE = 0.3;
/** A disc goes over so many edges one after the other: round the tip of a body of eight charts. */
const MOST_EDGES = 4;

interface Edge {
  here: readonly Flat[];
  there: readonly Flat[];
  box: Box;
  /** Pieces of the sheet on either side of the line. */
  from: number;
  to: number;
}

/** Where a place lies as seen from another chart, beyond the edge between. */
export interface Carried {
  flat: Flat;
  /** Number of the piece of the sheet that is meant. */
  chart: number;
}

export class Glue {
  private readonly edges: Edge[] = [];

  constructor(glue: readonly { here: Flat[]; there: Flat[] }[], sheet: Area) {
    for (const { here, there } of glue) {
      // Both charts turn alike on the map: what lies left of the line on one goes on left of it there.
      const [a, b] = [besides(here, sheet), besides(there, sheet)];
      for (const [from, to] of [[a.left, b.right], [a.right, b.left]] as const) {
        if (from < 0 || to < 0) continue;
        this.edges.push({ here, there, box: boxOf([here]), from, to });
        this.edges.push({ here: there, there: here, box: boxOf([there]), from: to, to: from });
      }
    }
  }

  get none(): boolean {
    return this.edges.length === 0;
  }

  /** Where the middle of a disc lies for the charts beyond the edges that it reaches; mm on the map. */
  carried(at: Flat, chart: number, reach: number): Carried[] {
    const found: Carried[] = [];
    this.over({ flat: at, chart }, reach, null, MOST_EDGES, found);
    return found;
  }

  private over(at: Carried, reach: number, came: Edge | null, left: number, found: Carried[]): void {
    if (left === 0) return;
    for (const edge of this.edges) {
      if (edge.from !== at.chart || !holds(grown(edge.box, reach), ...at.flat)) continue;
      // Not back over the same line.
      if (came && edge.here === came.there && edge.there === came.here) continue;
      const flat = laid(at.flat, edge, reach);
      if (!flat) continue;
      const next = { flat, chart: edge.to };
      found.push(next);
      this.over(next, reach, edge, left - 1, found);
    }
  }
}

/** The pieces of the sheet on the two sides of a line, -1 for none. */
function besides(line: readonly Flat[], sheet: Area): { left: number; right: number } {
  const count = { left: new Map<number, number>(), right: new Map<number, number>() };
  for (let i = 1; i < line.length; i++) {
    const [a, b] = [line[i - 1]!, line[i]!];
    const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
    const size = Math.hypot(dx, dy);
    if (size === 0) continue;
    const [mx, my] = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
    for (const [side, sign] of [["left", 1], ["right", -1]] as const) {
      const on = sheet.indexAt(mx - (sign * BESIDE * dy) / size, my + (sign * BESIDE * dx) / size);
      if (on >= 0) count[side].set(on, (count[side].get(on) ?? 0) + size);
    }
  }
  const most = (sums: Map<number, number>) =>
    [...sums].reduce((best, one) => (one[1] > best[1] ? one : best), [-1, 0] as [number, number])[0];
  return { left: most(count.left), right: most(count.right) };
}

/** The place laid over the edge by its nearest piece; null beyond reach. */
function laid(at: Flat, { here, there }: Edge, reach: number): Flat | null {
  let best = reach;
  let out: Flat | null = null;
  for (let i = 1; i < here.length; i++) {
    const [a, b] = [here[i - 1]!, here[i]!];
    const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
    const long = Math.hypot(dx, dy);
    if (long === 0) continue;
    const [px, py] = [at[0] - a[0], at[1] - a[1]];
    const share = Math.min(1, Math.max(0, (px * dx + py * dy) / long ** 2));
    const off = Math.hypot(px - share * dx, py - share * dy);
    if (off >= best) continue;
    const [c, d] = [there[i - 1]!, there[i]!];
    const [ex, ey] = [d[0] - c[0], d[1] - c[1]];
    const other = Math.hypot(ex, ey);
    if (other === 0) continue;
    best = off;
    // Along and square to the line, from its foot there.
    const along = (px * dx + py * dy) / long - share * long, aside = (dx * py - dy * px) / long;
    const [ux, uy] = [ex / other, ey / other];
    out = [c[0] + share * ex + along * ux - aside * uy, c[1] + share * ey + along * uy + aside * ux];
  }
  return out;
}
