// Hatches as lines clipped to a region, laid from one origin for the whole plane, so that regions of
// one kind next to each other hatch as one; the same families as on paper (the file of looks).

import type { Flat } from "../wire.ts";
import { common, isEmpty, spansInside, boxOf, type Box, type Polygon } from "../lib/plane.ts";
import type { HatchFamily } from "./types.ts";

/** A mm on paper is so many CSS px (96 to the inch). */
export const PAPER = 96 / 25.4;
/** More lines than this in one region are drawn at twice the gap. */
const MOST_LINES = 700;

/** Pieces of one family's lines inside polygons and outside all of `except`; perPixel is mm of the
 * map for a CSS px. */
export function hatchSpans(
  polygons: readonly Polygon[],
  family: HatchFamily,
  perPixel: number,
  flips: readonly [number, number],
  window: Box,
  except: readonly Polygon[] = [],
): Flat[][] {
  const turn = (family.angle * Math.PI) / 180;
  const ux = flips[0] * Math.cos(turn), uy = flips[1] * Math.sin(turn);
  const vx = -uy, vy = ux;
  const unit = PAPER * perPixel;
  const shift = (family.shift ?? 0) * unit;
  const out: Flat[][] = [];
  const off = except.map((rings) => {
    let least = Infinity, most = -Infinity;
    for (const [x, y] of rings[0] ?? []) {
      least = Math.min(least, x * vx + y * vy);
      most = Math.max(most, x * vx + y * vy);
    }
    return { rings, least, most };
  });
  for (const polygon of polygons) {
    const box = common(boxOf(polygon), window);
    if (isEmpty(box)) continue;
    const corners: Flat[] = [
      [box[0], box[1]], [box[2], box[1]], [box[2], box[3]], [box[0], box[3]],
    ];
    const across = corners.map(([x, y]) => x * vx + y * vy);
    const along = corners.map(([x, y]) => x * ux + y * uy);
    const low = Math.min(...along), high = Math.max(...along);
    let gap = family.gap * unit;
    while ((Math.max(...across) - Math.min(...across)) / gap > MOST_LINES) gap *= 2;
    const last = Math.floor((Math.max(...across) - shift) / gap);
    for (let k = Math.ceil((Math.min(...across) - shift) / gap); k <= last; k++) {
      const c = k * gap + shift;
      let spans = spansInside(polygon, c * vx, c * vy, ux, uy);
      for (const { rings, least, most } of off) {
        if (spans.length && c >= least && c <= most) {
          spans = without(spans, spansInside(rings, c * vx, c * vy, ux, uy));
        }
      }
      for (let i = 0; i + 1 < spans.length; i += 2) {
        const a = Math.max(spans[i]!, low), b = Math.min(spans[i + 1]!, high);
        if (b > a) out.push([[c * vx + a * ux, c * vy + a * uy], [c * vx + b * ux, c * vy + b * uy]]);
      }
    }
  }
  return out;
}

/** Spans (pairs, in order) with those of `off` taken away. */
function without(spans: number[], off: number[]): number[] {
  let left = spans;
  for (let k = 0; k + 1 < off.length; k += 2) {
    const [low, high] = [off[k]!, off[k + 1]!];
    const next: number[] = [];
    for (let i = 0; i + 1 < left.length; i += 2) {
      const [a, b] = [left[i]!, left[i + 1]!];
      if (b <= low || a >= high) next.push(a, b);
      else {
        if (a < low) next.push(a, low);
        if (b > high) next.push(high, b);
      }
    }
    left = next;
  }
  return left;
}

export function dashOf(dash: readonly number[] | undefined): number[] {
  // Round ends and a line of 2 px would close a gap of less than 3 px.
  return (dash ?? []).map((v, i) => (i % 2 ? Math.max(3, v * PAPER) : Math.max(1, v * PAPER)));
}
