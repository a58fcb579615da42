// What moves with the pointer, above everything: the brush's ring of true size on both views, the
// cross-hair of the keyboard, corners and lines that are being drawn.

import type { Flat } from "../wire.ts";
import { circle, EMPTY_BOX, unite, type Box } from "../lib/plane.ts";
import type { DrawTools } from "./drawtools.ts";
import type { Colours } from "./labels.ts";
import type { SkinModel } from "./model.ts";
import type { PaneView } from "./pane.ts";
import type { Tiles } from "./tiles.ts";

type Pen = CanvasRenderingContext2D;

const DARK = "#111111";
const LIGHT = "#ffffff";
/** Room for the widest line and the largest mark round what is drawn, CSS px. */
const ROOM = 12;

/** The ring of a brush on the map, closed; true size where the map is stretched. */
export function ringOf(model: SkinModel, at: Flat, radius: number): Flat[] {
  const ring = circle(at, model.flatRadius(at, radius), 72);
  return [...ring, ring[0]!];
}

/** The parts of the ring on charts beyond glued edges. */
export function ringsBeyond(model: SkinModel, at: Flat, radius: number): Flat[][] {
  const wide = model.flatRadius(at, radius);
  const chart = model.sheet.indexAt(...at);
  if (chart < 0 || model.glue.none || !model.nearRim(at, wide)) return [];
  return model.glue.carried(at, chart, wide).flatMap(({ flat, chart: on }) => {
    const ring = circle(flat, wide, 72);
    const parts: Flat[][] = [];
    let open: Flat[] = [];
    for (const p of [...ring, ring[0]!]) {
      if (model.sheet.indexAt(...p) === on) open.push(p);
      else if (open.length) {
        parts.push(open);
        open = [];
      }
    }
    return open.length ? [...parts, open] : parts;
  });
}

/** Something to draw, and where on the view it lies (CSS px). */
interface Piece {
  box: Box;
  draw(pen: Pen): void;
}

export function drawSketch(
  tiles: Tiles, ratio: number, view: PaneView, model: SkinModel, tools: DrawTools,
  cross: PaneView | null, colours: Colours,
): void {
  const pieces: Piece[] = [];
  const line = (path: readonly Flat[], dash: number[] = []): void => {
    const { path: seen, box } = view.trace(path);
    pieces.push({ box, draw: (pen) => twoTone(pen, seen, dash) });
  };
  const mark = (flat: Flat, draw: (pen: Pen, x: number, y: number) => void): void => {
    const at = view.toView(flat);
    if (at) pieces.push({ box: [...at, ...at], draw: (pen) => draw(pen, ...at) });
  };
  const { at, radius, corners } = tools;
  if (at && radius !== null) {
    line(ringOf(model, at, radius));
    for (const part of ringsBeyond(model, at, radius)) line(part);
  }
  if (at) mark(at, tools.draws ? (pen, x, y) => plus(pen, x, y, radius === null ? 7 : 3) : spot);
  const path = at && corners.length && !tools.busy ? [...corners, at] : corners;
  if (path.length > 1) line(path);
  if (tools.tool.type === "polygon" && path.length > 2) line([path[path.length - 1]!, path[0]!], [5, 5]);
  for (const run of tools.sketched) if (run.length > 1) line(run);
  corners.forEach((corner, i) => mark(corner, (pen, x, y) => dot(pen, x, y, i === 0 ? 8 : 5)));
  if (view === cross) {
    const x = view.port.width / 2, y = view.port.height / 2;
    pieces.push({ box: [x - 14, y - 14, x + 14, y + 14], draw: (pen) => crossHair(pen, x, y, colours) });
  }
  tiles.clear();
  const whole = pieces.reduce((sum, piece) => unite(sum, piece.box), EMPTY_BOX);
  if (!(whole[2] >= whole[0])) return;
  for (const { box, draw } of pieces) {
    tiles.draw([box[0] - ROOM, box[1] - ROOM, box[2] + ROOM, box[3] + ROOM], (pen, x, y) => {
      pen.setTransform(ratio, 0, 0, ratio, -x * ratio, -y * ratio);
      draw(pen);
    });
  }
}

/** Dark on light, so that it is seen on any ground. */
function twoTone(pen: Pen, path: Path2D, dash: number[] = []): void {
  pen.lineJoin = pen.lineCap = "round";
  pen.setLineDash(dash);
  pen.strokeStyle = LIGHT;
  pen.lineWidth = 5;
  pen.stroke(path);
  pen.strokeStyle = DARK;
  pen.lineWidth = 2;
  pen.stroke(path);
  pen.setLineDash([]);
}

function dot(pen: Pen, x: number, y: number, size: number): void {
  pen.beginPath();
  pen.arc(x, y, size, 0, 2 * Math.PI);
  pen.fillStyle = LIGHT;
  pen.fill();
  pen.lineWidth = 2;
  pen.strokeStyle = DARK;
  pen.stroke();
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
  // It lies on the sheet, which is light in the dark too.
  pen.strokeStyle = colours.focus.startsWith("#") ? "#0b57b7" : colours.focus;
  pen.lineWidth = 3;
  pen.stroke(path);
}
