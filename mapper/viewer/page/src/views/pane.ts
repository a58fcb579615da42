// What 3D and flat map have in common: a place on the host, a way from the screen to the map, paint.

import type { Flat, Shape } from "../wire.ts";
import type { Box } from "../lib/plane.ts";
import type { Port, Scene } from "./flatdraw.ts";
import type { KeptOutlines } from "./paint.ts";
import type { Hit } from "./strokes.ts";

/** Everything that is drawn on the sheet just now. */
export interface Drawing {
  scene: Scene;
  /** The draft and what was drawn since, in order: the paint. */
  shapes: Shape[];
  kept: KeptOutlines;
}

export interface PaneView {
  readonly port: Port;
  /** What of the face being drawn on lies at CSS px x, y of the view. */
  hit(x: number, y: number): Hit | null;
  /** What lies there, whichever face or skin it is. */
  any(x: number, y: number): { skin: number; face: number; hit: Hit } | null;
  /** Where a place of the map is in the view, null where it cannot be seen. */
  toView(flat: Flat): readonly [number, number] | null;
  /** The parts of a path on the map that can be seen, for a pen in CSS px of the view, and a box round
   * them there. */
  trace(path: readonly Flat[]): { path: Path2D; box: Box };
  /** Pieces of a stroke were added: shows them, at a cost that knows nothing of the part's size. */
  paint(pieces: readonly Flat[][], radius: number, wipe: boolean): void;
  /** The paint was changed otherwise: draws it anew. */
  repaint(): void;
  /** Everything anew. */
  redraw(): void;
  turn(dx: number, dy: number): void;
  pan(dx: number, dy: number): void;
  zoom(factor: number, x: number, y: number): void;
  /** A turn, pan or zoom about x, y begins or ends. */
  steer(begins: boolean, x: number, y: number): void;
  turnTo(flat: Flat): void;
  fit(): void;
  dispose(): void;
}
