// What moves with the pointer, on the topmost canvas: the brush's ring of true size on both views, the
// cross-hair of the keyboard, corners and lines that are being drawn.

import type { Flat } from "../wire.ts";
import { circle } from "../lib/plane.ts";
import type { DrawTools } from "./drawtools.ts";
import type { Colours } from "./labels.ts";
import type { SkinModel } from "./model.ts";
import type { PaneView } from "./pane.ts";

type Pen = CanvasRenderingContext2D;

const DARK = "#111111";
const LIGHT = "#ffffff";

/** The ring of a brush on the map, closed; true size where the map is stretched. */
export function ringOf(model: SkinModel, at: Flat, radius: number): Flat[] {
  const ring = circle(at, model.flatRadius(at, radius), 72);
  return [...ring, ring[0]!];
}

export function drawSketch(
  pen: Pen, ratio: number, views: readonly PaneView[], model: SkinModel, tools: DrawTools,
  cross: PaneView | null, colours: Colours,
): void {
  pen.setTransform(1, 0, 0, 1, 0, 0);
  pen.clearRect(0, 0, pen.canvas.width, pen.canvas.height);
  // Cleared and nothing drawn, some browsers leave the picture of before on the screen.
  pen.fillStyle = "rgba(0, 0, 0, 0.004)";
  pen.fillRect(0, 0, 1, 1);
  for (const view of views) {
    const { left, top, width, height } = view.port;
    pen.save();
    pen.setTransform(ratio, 0, 0, ratio, ratio * left, ratio * top);
    pen.beginPath();
    pen.rect(0, 0, width, height);
    pen.clip();
    const { at, radius } = tools;
    if (at && radius !== null) twoTone(pen, view.trace(ringOf(model, at, radius)));
    if (at && tools.draws) {
      const where = view.toView(at);
      if (where) plus(pen, ...where, radius === null ? 7 : 3);
    } else if (at) {
      const where = view.toView(at);
      if (where) spot(pen, ...where);
    }
    corners(pen, view, tools);
    if (view === cross) crossHair(pen, width / 2, height / 2, colours);
    pen.restore();
  }
}

function corners(pen: Pen, view: PaneView, tools: DrawTools): void {
  const path = tools.corners.slice();
  if (path.length && tools.at && !tools.busy) path.push(tools.at);
  if (path.length > 1) twoTone(pen, view.trace(path));
  if (tools.tool.type === "polygon" && path.length > 2) {
    pen.setLineDash([5, 5]);
    twoTone(pen, view.trace([path[path.length - 1]!, path[0]!]));
    pen.setLineDash([]);
  }
  for (const run of tools.sketched) if (run.length > 1) twoTone(pen, view.trace(run));
  tools.corners.forEach((corner, i) => {
    const at = view.toView(corner);
    if (!at) return;
    pen.beginPath();
    pen.arc(at[0], at[1], i === 0 ? 8 : 5, 0, 2 * Math.PI);
    pen.fillStyle = LIGHT;
    pen.fill();
    pen.lineWidth = 2;
    pen.strokeStyle = DARK;
    pen.stroke();
  });
}

/** Dark on light, so that it is seen on any ground. */
function twoTone(pen: Pen, path: Path2D): void {
  pen.lineJoin = pen.lineCap = "round";
  pen.strokeStyle = LIGHT;
  pen.lineWidth = 5;
  pen.stroke(path);
  pen.strokeStyle = DARK;
  pen.lineWidth = 2;
  pen.stroke(path);
}

function plus(pen: Pen, x: number, y: number, size: number): void {
  const path = new Path2D();
  path.moveTo(x - size, y);
  path.lineTo(x + size, y);
  path.moveTo(x, y - size);
  path.lineTo(x, y + size);
  twoTone(pen, path);
}

/** Where the pointer of the other view is. */
function spot(pen: Pen, x: number, y: number): void {
  const path = new Path2D();
  path.arc(x, y, 5, 0, 2 * Math.PI);
  twoTone(pen, path);
}

function crossHair(pen: Pen, x: number, y: number, colours: Colours): void {
  const path = new Path2D();
  for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]] as const) {
    path.moveTo(x + 6 * dx, y + 6 * dy);
    path.lineTo(x + 20 * dx, y + 20 * dy);
  }
  pen.lineCap = "round";
  pen.strokeStyle = LIGHT;
  pen.lineWidth = 6;
  pen.stroke(path);
  pen.strokeStyle = colours.focus.startsWith("#8") ? "#0b57b7" : colours.focus;
  pen.lineWidth = 3;
  pen.stroke(path);
}
