// The flat map in its view: vectors on the shared canvas, the draft's paint on a canvas of its own.

import type { Flat } from "../wire.ts";
import { boxOf, EMPTY_BOX, unite, type Box } from "../lib/plane.ts";
import { drawFlat, type Port } from "./flatdraw.ts";
import { FlatCamera } from "./flatcam.ts";
import type { SkinModel } from "./model.ts";
import { boxesOfShapes, paintShapes, paintStroke, waysOf } from "./paint.ts";
import type { Drawing, PaneView } from "./pane.ts";
import type { Hit } from "./strokes.ts";
import { GAP } from "./stage.ts";
import type { Tiles } from "./tiles.ts";

type Pen = CanvasRenderingContext2D;

export const PAINT = "#337adb";
export const PAINT_DARK = "#0d3880";

export class FlatView implements PaneView {
  readonly camera = new FlatCamera();
  readonly port: Port = { left: 0, top: 0, width: 1, height: 1 };
  ratio = 1;
  private stripes: CanvasPattern | null = null;
  private stripesFor = 0;
  /** What somebody brought into sight by hand; null while the whole map is shown. */
  private sight: [number, number] | null = null;

  constructor(
    /** Vectors, over the whole host. */
    private readonly vectors: Pen,
    /** Paint, over this view alone. */
    private readonly live: Tiles,
    private readonly model: () => SkinModel | null,
    private readonly drawing: () => Drawing | null,
    private readonly soon: () => void,
  ) {}

  place(port: Port, ratio: number): void {
    const other = port.width !== this.port.width || port.height !== this.port.height;
    Object.assign(this.port, port);
    this.ratio = ratio;
    this.camera.width = port.width;
    this.camera.height = port.height;
    if (!other) return;
    if (this.sight) this.camera.keep(this.sight);
    else this.fit();
  }

  /** Whether something else than the whole map is in sight. */
  get away(): boolean {
    return this.sight !== null;
  }

  fit(): void {
    const model = this.model();
    this.sight = null;
    if (!model) return;
    // Room for the numbers of the grid round the sheet.
    this.camera.fit(model.header.bounds, Math.min(54, 0.12 * Math.min(this.port.width, this.port.height) + 14));
    this.soon();
  }

  any(x: number, y: number): { skin: number; face: number; hit: Hit } | null {
    const hit = this.hit(x, y);
    const model = this.model();
    const face = this.drawing()?.scene.face ?? "";
    return hit && model ? { skin: model.skin.index, face: model.header.faces.indexOf(face) === 1 ? 1 : 0, hit } : null;
  }

  hit(x: number, y: number): Hit | null {
    const flat = this.camera.toFlat(x, y);
    const on = this.model()?.locator.find(...flat) ?? false;
    return on ? { flat, perPixel: 1 / this.camera.scale } : null;
  }

  toView(flat: Flat): readonly [number, number] {
    return this.camera.toScreen(...flat);
  }

  trace(path: readonly Flat[]): { path: Path2D; box: Box } {
    const out = new Path2D();
    const points = path.map((p) => this.camera.toScreen(...p));
    points.forEach(([x, y], i) => (i ? out.lineTo(x, y) : out.moveTo(x, y)));
    return { path: out, box: boxOf([points]) };
  }

  paint(pieces: readonly Flat[][], radius: number, wipe: boolean): void {
    const model = this.model();
    if (!model) return;
    for (const piece of pieces) {
      for (const { box } of waysOf(piece, radius, model)) {
        this.lay(box, wipe, (pen) => {
          pen.globalCompositeOperation = wipe ? "destination-out" : "source-over";
          paintStroke(pen, piece, radius, model, box);
        });
      }
    }
  }

  repaint(): void {
    this.live.clear();
    const model = this.model();
    const drawing = this.drawing();
    if (!model || !drawing?.shapes.length) return;
    const { shapes, kept } = drawing;
    this.lay(boxesOfShapes(shapes, model, kept).reduce(unite, EMPTY_BOX), false, (pen, within) => paintShapes(pen, shapes, model, kept, within));
  }

  /** Paints within a box of the map, and stripes what is painted, so that it is told without colour. */
  private lay(box: Box, wipe: boolean, work: (pen: Pen, within: Box) => void): void {
    const { camera, ratio } = this;
    const [ax, ay] = camera.toScreen(box[0], box[1]), [bx, by] = camera.toScreen(box[2], box[3]);
    const on: Box = [Math.min(ax, bx) - 2, Math.min(ay, by) - 2, Math.max(ax, bx) + 2, Math.max(ay, by) + 2];
    this.live.draw(on, (pen, x, y) => {
      camera.apply(pen, ratio, -x, -y);
      pen.fillStyle = pen.strokeStyle = PAINT;
      const side = pen.canvas.width / ratio;
      const [p, q] = [camera.toFlat(x, y), camera.toFlat(x + side, y + side)];
      work(pen, boxOf([[p, q]]));
      pen.globalCompositeOperation = "source-over";
      if (wipe) return;
      pen.setTransform(1, 0, 0, 1, -Math.round(x * ratio), -Math.round(y * ratio));
      pen.globalCompositeOperation = "source-atop";
      pen.fillStyle = this.pattern(pen);
      pen.fillRect(
        Math.floor(on[0] * ratio), Math.floor(on[1] * ratio),
        Math.ceil((on[2] - on[0]) * ratio) + 1, Math.ceil((on[3] - on[1]) * ratio) + 1,
      );
      pen.globalCompositeOperation = "source-over";
    }, wipe);
  }

  private pattern(pen: Pen): CanvasPattern | string {
    if (this.stripes && this.stripesFor === this.ratio) return this.stripes;
    const size = Math.max(4, Math.round(9 * this.ratio));
    const tile = document.createElement("canvas");
    tile.width = tile.height = size;
    const draw = tile.getContext("2d");
    if (!draw) return PAINT;
    draw.fillStyle = PAINT;
    draw.fillRect(0, 0, size, size);
    draw.strokeStyle = PAINT_DARK;
    draw.lineWidth = size * 0.24;
    draw.lineCap = "square";
    draw.beginPath();
    for (const shift of [-size, 0, size]) {
      draw.moveTo(shift, size);
      draw.lineTo(shift + size, 0);
    }
    draw.stroke();
    this.stripesFor = this.ratio;
    this.stripes = pen.createPattern(tile, "repeat");
    return this.stripes ?? PAINT;
  }

  redraw(): void {
    const drawing = this.drawing();
    const { left, top, width, height } = this.port;
    this.vectors.setTransform(this.ratio, 0, 0, this.ratio, 0, 0);
    // With the gap before it: sizing the canvas anew does not empty it in every browser.
    this.vectors.clearRect(left - GAP, top - GAP, width + GAP, height + GAP);
    if (!drawing) return;
    this.camera.flips = drawing.scene.model.flips(drawing.scene.face);
    drawFlat(this.vectors, this.ratio, this.port, this.camera, drawing.scene);
    this.repaint();
  }

  turn(dx: number, dy: number): void {
    this.pan(dx, dy);
  }

  pan(dx: number, dy: number): void {
    this.camera.pan(dx, dy);
    this.sight = this.camera.sight;
    this.soon();
  }

  zoom(factor: number, x: number, y: number): void {
    this.camera.zoom(factor, x, y);
    this.sight = this.camera.sight;
    this.soon();
  }

  steer(): void {
    // The map needs no rest: it is drawn whole each time.
  }

  turnTo(flat: Flat): void {
    this.camera.middle = [...flat];
    this.sight = this.camera.sight;
    this.soon();
  }

  dispose(): void {
    this.stripes = null;
  }
}
