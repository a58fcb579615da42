// From the pointer's way over the screen to strokes on the map. The way is looked at pixel by pixel:
// where it leaves the sheet, or the place on the map jumps further than the screen-to-map ratio
// allows (a silhouette, a chart edge), the stroke is split; it never bridges what it did not touch.

import type { Flat } from "../wire.ts";
import { distance, thinned } from "../lib/plane.ts";

/** What lies at a place of a view: null where there is nothing of the face being drawn on. */
export interface Hit {
  flat: Flat;
  /** mm of the map for a CSS px. */
  perPixel: number;
}

export type Probe = (x: number, y: number) => Hit | null;

/** The way is looked at in steps of this, CSS px. */
const STEP = 1.25;
/** A step may go so many times further on the map than the ratio of screen to map says. */
const JUMP = 5;
/** Points this close to the line through their neighbours are left out, CSS px. */
const THIN = 0.12;

export class StrokeMaker {
  /** Runs on the map; a new one begins wherever the stroke is split. */
  readonly runs: Flat[][] = [];
  /** How far the pointer has gone on the screen, CSS px. */
  travelled = 0;
  private last: readonly [number, number] | null = null;
  private lastHit: Hit | null = null;
  private finest = Infinity;

  constructor(private readonly probe: Probe) {}

  /** The pointer is at x, y; the pieces of the map that this adds, each with the point before it. */
  add(x: number, y: number): Flat[][] {
    const from = this.last ?? [x, y];
    const long = Math.hypot(x - from[0], y - from[1]);
    if (this.last && long === 0) return [];
    this.travelled += long;
    const count = Math.max(1, Math.ceil(long / STEP));
    const added: Flat[][] = [];
    let piece: Flat[] | null = null;
    for (let i = 1; i <= count; i++) {
      const t = i / count;
      const hit = this.probe(from[0] + t * (x - from[0]), from[1] + t * (y - from[1]));
      const before = this.lastHit;
      this.lastHit = hit;
      if (!hit) {
        piece = null;
        continue;
      }
      this.finest = Math.min(this.finest, hit.perPixel);
      const run = this.runs[this.runs.length - 1];
      const far = before
        ? distance(before.flat, hit.flat) > JUMP * Math.max(before.perPixel, hit.perPixel) * Math.max(long / count, 0.2)
        : true;
      if (!run || far) {
        this.runs.push([hit.flat]);
        piece = [hit.flat];
        added.push(piece);
      } else {
        if (!piece) {
          piece = [before!.flat];
          added.push(piece);
        }
        run.push(hit.flat);
        piece.push(hit.flat);
      }
    }
    this.last = [x, y];
    return added;
  }

  /** The runs with no more points than are seen. */
  finished(): Flat[][] {
    return this.runs.map((run) => thinned(run, THIN * this.finest)).filter((run) => run.length > 0);
  }
}
