// What is drawn on a sheet, as pixels for the 3D picture: fills of entries (the ground), and the
// paint of the draft (live). A layer covers a window of the flat map: the whole sheet roughly while
// the camera moves, what is in sight finely when it rests.

import type { Box } from "../lib/plane.ts";

type Pen = CanvasRenderingContext2D;

export class SheetLayer {
  window: Box = [0, 0, 1, 1];
  width = 1;
  height = 1;
  /** Texels for a mm. */
  scale = 1;
  /** Grows when everything is to be uploaded again. */
  made = 0;
  hasGround = false;
  hasLive = false;
  readonly ground: Pen;
  readonly live: Pen;
  private dirty: Box | null = null;

  constructor(private readonly most: number) {
    this.ground = pen();
    this.live = pen();
  }

  /** Makes it anew over a window with so many texels for a mm, or as many as it may have. */
  begin(window: Box, scale: number): void {
    const width = Math.max(window[2] - window[0], 1e-3), height = Math.max(window[3] - window[1], 1e-3);
    this.scale = Math.min(scale, this.most / width, this.most / height);
    this.width = Math.max(1, Math.ceil(width * this.scale));
    this.height = Math.max(1, Math.ceil(height * this.scale));
    this.window = [
      window[0], window[1], window[0] + this.width / this.scale, window[1] + this.height / this.scale,
    ];
    this.hasGround = this.hasLive = false;
    for (const one of [this.ground, this.live]) {
      if (one.canvas.width !== this.width || one.canvas.height !== this.height) {
        one.canvas.width = this.width;
        one.canvas.height = this.height;
      } else {
        one.setTransform(1, 0, 0, 1, 0, 0);
        one.clearRect(0, 0, this.width, this.height);
      }
      // Row 0 of a texture is its first: y grows with the map, nothing is turned over.
      one.setTransform(
        this.scale, 0, 0, this.scale, -this.window[0] * this.scale, -this.window[1] * this.scale,
      );
    }
    this.dirty = null;
    this.made++;
  }

  /** A box of the map (mm) that a stroke has touched. */
  touch(box: Box): void {
    this.hasLive = true;
    const x0 = Math.max(0, Math.floor((box[0] - this.window[0]) * this.scale) - 2);
    const y0 = Math.max(0, Math.floor((box[1] - this.window[1]) * this.scale) - 2);
    const x1 = Math.min(this.width, Math.ceil((box[2] - this.window[0]) * this.scale) + 2);
    const y1 = Math.min(this.height, Math.ceil((box[3] - this.window[1]) * this.scale) + 2);
    if (x1 <= x0 || y1 <= y0) return;
    const d = this.dirty;
    this.dirty = d
      ? [Math.min(d[0], x0), Math.min(d[1], y0), Math.max(d[2], x1), Math.max(d[3], y1)]
      : [x0, y0, x1, y1];
  }

  /** Texels to upload since last asked: x, y, width, height. */
  takeDirty(): [number, number, number, number] | null {
    const d = this.dirty;
    this.dirty = null;
    return d && [d[0], d[1], d[2] - d[0], d[3] - d[1]];
  }

  /** Cover of the live paint, one byte a texel. */
  liveBytes(x: number, y: number, w: number, h: number): Uint8Array {
    const { data } = this.live.getImageData(x, y, w, h);
    const out = new Uint8Array(w * h);
    for (let i = 0, j = 3; i < out.length; i++, j += 4) out[i] = data[j]!;
    return out;
  }
}

/** A canvas that is kept in ordinary memory, so that reading a box of it is a copy. */
export function pen(width = 1, height = 1): Pen {
  const canvas = document.createElement("canvas");
  canvas.width = width;
  canvas.height = height;
  const context = canvas.getContext("2d", { willReadFrequently: true });
  if (!context) throw new Error("This browser cannot draw on a canvas.");
  return context;
}
