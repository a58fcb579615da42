// A canvas in pieces over one view: only pieces that are drawn on exist, and only those that change are
// handed to the screen. A stroke then costs what it covers, not what the view covers.

import type { Box } from "../lib/plane.ts";
import type { Port } from "./flatdraw.ts";
import { pen } from "./layer.ts";

type Pen = CanvasRenderingContext2D;

/** Device pixels of a piece, each way. */
const SIZE = 256;

interface Tile {
  pen: Pen;
  column: number;
  row: number;
  /** Something is drawn on it. */
  used: boolean;
}

export class Tiles {
  private tiles = new Map<number, Tile>();
  private ratio = 1;
  private across = 1;
  private up = 1;

  constructor(private readonly parent: HTMLElement, private readonly opacity: string) {}

  /** Lies over the port from now on; what was drawn is gone. */
  place(port: Port, ratio: number): void {
    for (const { pen: one } of this.tiles.values()) one.canvas.remove();
    this.tiles.clear();
    this.ratio = ratio;
    this.across = Math.ceil((port.width * ratio) / SIZE);
    this.up = Math.ceil((port.height * ratio) / SIZE);
    Object.assign(this.parent.style, {
      left: `${port.left}px`, top: `${port.top}px`, width: `${port.width}px`, height: `${port.height}px`,
    });
  }

  clear(): void {
    for (const tile of this.tiles.values()) {
      if (!tile.used) continue;
      tile.used = false;
      tile.pen.setTransform(1, 0, 0, 1, 0, 0);
      tile.pen.clearRect(0, 0, SIZE, SIZE);
      // Hidden, it need not be handed on at all.
      tile.pen.canvas.style.display = "none";
    }
  }

  /** Draws in a box (CSS px of the view). The pen's place 0, 0 is the piece's own corner: x and y are
   * the CSS px of that corner. only: nothing is to be taken off where nothing is. */
  draw(box: Box, work: (pen: Pen, x: number, y: number) => void, only = false): void {
    const size = SIZE / this.ratio;
    const [i0, j0] = [Math.max(0, Math.floor(box[0] / size)), Math.max(0, Math.floor(box[1] / size))];
    const i1 = Math.min(this.across - 1, Math.floor(box[2] / size));
    const j1 = Math.min(this.up - 1, Math.floor(box[3] / size));
    for (let row = j0; row <= j1; row++) {
      for (let column = i0; column <= i1; column++) {
        const tile = this.at(column, row, only);
        if (!tile) continue;
        tile.pen.setTransform(1, 0, 0, 1, 0, 0);
        work(tile.pen, column * size, row * size);
      }
    }
  }

  private at(column: number, row: number, only: boolean): Tile | null {
    const key = row * this.across + column;
    let tile = this.tiles.get(key);
    if (only && !tile?.used) return null;
    if (!tile) {
      const made = pen(SIZE, SIZE);
      Object.assign(made.canvas.style, {
        position: "absolute", left: `${(column * SIZE) / this.ratio}px`, top: `${(row * SIZE) / this.ratio}px`,
        width: `${SIZE / this.ratio}px`, height: `${SIZE / this.ratio}px`, opacity: this.opacity,
      });
      this.parent.append(made.canvas);
      tile = { pen: made, column, row, used: false };
      this.tiles.set(key, tile);
    }
    if (!tile.used) {
      tile.used = true;
      tile.pen.canvas.style.display = "block";
    }
    return tile;
  }

  /** Red, green, blue and cover at CSS px of the view. */
  colourAt(x: number, y: number): number[] {
    const px = Math.floor(x * this.ratio), py = Math.floor(y * this.ratio);
    const tile = this.tiles.get(Math.floor(py / SIZE) * this.across + Math.floor(px / SIZE));
    return tile?.used ? [...tile.pen.getImageData(px % SIZE, py % SIZE, 1, 1).data] : [0, 0, 0, 0];
  }
}
