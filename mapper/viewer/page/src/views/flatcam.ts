// How the flat map lies in its view: shifted, enlarged, turned over, never stretched.

import type { Flat } from "../wire.ts";
import type { Box } from "../lib/plane.ts";

export class FlatCamera {
  /** The map's place in the middle of the view. */
  middle: Flat = [0, 0];
  /** CSS px for a mm. */
  scale = 1;
  /** +1 or -1: how the plane is turned. */
  flips: [number, number] = [1, 1];
  width = 1;
  height = 1;
  private margin = 0;
  private whole: Box = [0, 0, 1, 1];

  fit(box: Box, margin: number): void {
    this.whole = box;
    this.margin = margin;
    this.scale = this.fitting;
    this.middle = [(box[0] + box[2]) / 2, (box[1] + box[3]) / 2];
  }

  /** The scale at which the whole map is in the view with its margin. */
  private get fitting(): number {
    const [x0, y0, x1, y1] = this.whole;
    const room = (size: number) => Math.max(size - 2 * this.margin, size * 0.4, 10);
    return Math.min(room(this.width) / Math.max(x1 - x0, 1e-3), room(this.height) / Math.max(y1 - y0, 1e-3));
  }

  private within(scale: number): number {
    return Math.min(200, Math.max(0.4 * this.fitting, scale));
  }

  toScreen(x: number, y: number): [number, number] {
    return [
      this.width / 2 + this.flips[0] * (x - this.middle[0]) * this.scale,
      this.height / 2 - this.flips[1] * (y - this.middle[1]) * this.scale,
    ];
  }

  toFlat(x: number, y: number): Flat {
    return [
      this.middle[0] + (this.flips[0] * (x - this.width / 2)) / this.scale,
      this.middle[1] - (this.flips[1] * (y - this.height / 2)) / this.scale,
    ];
  }

  /** The pen draws flat mm from here on; left, top: the view's corner, CSS px. */
  apply(pen: CanvasRenderingContext2D, ratio: number, left: number, top: number): void {
    const sx = this.flips[0] * this.scale, sy = -this.flips[1] * this.scale;
    pen.setTransform(
      ratio * sx, 0, 0, ratio * sy,
      ratio * (left + this.width / 2 - sx * this.middle[0]),
      ratio * (top + this.height / 2 - sy * this.middle[1]),
    );
  }

  pan(dx: number, dy: number): void {
    this.middle = [
      this.middle[0] - (this.flips[0] * dx) / this.scale,
      this.middle[1] + (this.flips[1] * dy) / this.scale,
    ];
    this.keepInSight();
  }

  zoom(factor: number, x: number, y: number): void {
    const before = this.toFlat(x, y);
    this.scale = this.within(this.scale * factor);
    const after = this.toFlat(x, y);
    this.middle = [this.middle[0] + before[0] - after[0], this.middle[1] + before[1] - after[1]];
    this.keepInSight();
  }

  /** The part of the map that is in sight. */
  window(): Box {
    const [a, b] = [this.toFlat(0, 0), this.toFlat(this.width, this.height)];
    return [Math.min(a[0], b[0]), Math.min(a[1], b[1]), Math.max(a[0], b[0]), Math.max(a[1], b[1])];
  }

  /** As near as shows so much of the map (mm across, up) again, whatever shape the view has now. */
  keep([across, up]: [number, number]): void {
    this.scale = this.within(Math.min(this.width / across, this.height / up));
    this.keepInSight();
  }

  /** mm of the map across and up in the view. */
  get sight(): [number, number] {
    return [this.width / this.scale, this.height / this.scale];
  }

  /** Nobody should lose the part by moving it off the screen. */
  private keepInSight(): void {
    const [x0, y0, x1, y1] = this.whole;
    this.middle = [
      Math.min(x1, Math.max(x0, this.middle[0])), Math.min(y1, Math.max(y0, this.middle[1])),
    ];
  }
}
