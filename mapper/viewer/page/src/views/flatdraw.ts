// Draws the flat map in its view: sheet, hatches, grid, structure, entries, names. Vectors only: a line
// is as wide from near as from afar.

import type { Flat } from "../wire.ts";
import { common, grown, isEmpty, type Box, type Polygon } from "../lib/plane.ts";
import type { FlatCamera } from "./flatcam.ts";
import { compass, cornerOf, isSmall, scaleBar } from "./furniture.ts";
import { dashOf, hatchSpans, PAPER } from "./hatches.ts";
import type { Item } from "./items.ts";
import { around, label, labelWithin, mark, Placer, type Colours } from "./labels.ts";
import { pathOf, type SkinModel } from "./model.ts";
import { tokenOf } from "./items.ts";
import type { LengthUnits, StyleFile, StyleToken } from "./types.ts";

type Pen = CanvasRenderingContext2D;

/** Every line is at least so wide, CSS px. */
export const LINE = 2;
/** Drawn in this order, so that what matters most lies on top. */
export const LINE_KINDS = ["longeron", "stringer", "rivet row", "frame", "rib", "spar", "hinge line", "seam"];
const NAMED = new Set(["rib", "spar", "frame", "longeron", "hinge line"]);

export interface Scene {
  model: SkinModel;
  face: string;
  items: readonly Item[];
  /** What was looked at: the rest of the sheet is hatched. null: nothing is. */
  looked: readonly Polygon[] | null;
  grid: boolean;
  structure: boolean;
  style: StyleFile;
  units: LengthUnits;
  colours: Colours;
}

/** Where a view lies on the host, CSS px. */
export interface Port {
  left: number;
  top: number;
  width: number;
  height: number;
}

export function drawFlat(pen: Pen, ratio: number, port: Port, camera: FlatCamera, scene: Scene): void {
  const { model, style, colours } = scene;
  const toPort = (): void => pen.setTransform(ratio, 0, 0, ratio, ratio * port.left, ratio * port.top);
  const toFlat = (): void => camera.apply(pen, ratio, port.left, port.top);
  const px = 1 / camera.scale;
  const window = camera.window();
  pen.save();
  toPort();
  pen.beginPath();
  pen.rect(0, 0, port.width, port.height);
  pen.clip();
  toFlat();
  const sheet = model.sheetPath;
  pen.fillStyle = colours.sheet;
  pen.fill(sheet, "evenodd");
  if (scene.looked) unseen(pen, scene, scene.looked, sheet, camera, window);
  for (const item of scene.items) {
    if (item.polygons.length && !isEmpty(common(grown(item.box, px), window))) {
      fillAndHatch(pen, item.polygons, item.token, camera, window);
    }
  }
  // Lines are lines of the metal: nothing is drawn across an opening.
  pen.save();
  pen.clip(sheet, "evenodd");
  if (scene.grid) stroke(pen, model.header.grid.stations.concat(model.header.grid.chord).flatMap((g) => g.paths), tokenOf(style, "grid"), px);
  for (const kind of scene.structure ? LINE_KINDS : ["seam"]) {
    const paths = model.header.lines.filter((line) => line.kind === kind).flatMap((line) => line.paths);
    if (paths.length) stroke(pen, paths, tokenOf(style, kind), px);
  }
  pen.restore();
  pen.lineWidth = LINE * px;
  pen.setLineDash([]);
  pen.strokeStyle = style.tokens["sheet"]?.line ?? "#111111";
  pen.stroke(sheet);
  for (const item of scene.items) {
    if (!isEmpty(common(grown(item.box, 8 * px), window))) outline(pen, item, px);
  }
  toPort();
  const placer = new Placer([0, 0, port.width, port.height]);
  furnish(pen, placer, port, camera, scene);
  name(pen, placer, port, camera, scene);
  pen.restore();
}

/** The sheet hatched where nobody has looked. */
function unseen(
  pen: Pen, scene: Scene, looked: readonly Polygon[], sheet: Path2D, camera: FlatCamera, window: Box,
): void {
  const token = tokenOf(scene.style, "not looked at");
  pen.save();
  pen.clip(sheet, "evenodd");
  pen.globalAlpha = token.opacity ?? 1;
  pen.fillStyle = token.fill ?? "#d9d9d9";
  pen.fill(sheet, "evenodd");
  pen.globalAlpha = 1;
  pen.fillStyle = scene.colours.sheet;
  for (const polygon of looked) pen.fill(pathOf([polygon]), "evenodd");
  pen.restore();
  hatch(pen, scene.model.header.sheet, token, camera, window, looked);
}

function fillAndHatch(
  pen: Pen, polygons: readonly Polygon[], token: StyleToken, camera: FlatCamera, window: Box,
): void {
  if (token.fill) {
    pen.globalAlpha = token.opacity ?? 1;
    pen.fillStyle = token.fill;
    pen.fill(pathOf(polygons), "evenodd");
    pen.globalAlpha = 1;
  }
  hatch(pen, polygons, token, camera, window, []);
}

function hatch(
  pen: Pen, polygons: readonly Polygon[], token: StyleToken, camera: FlatCamera, window: Box,
  except: readonly Polygon[],
): void {
  const px = 1 / camera.scale;
  for (const family of token.hatch ?? []) {
    const spans = hatchSpans(polygons, family, px, camera.flips, window, except);
    pen.beginPath();
    for (const [a, b] of spans) {
      pen.moveTo(...a!);
      pen.lineTo(...b!);
    }
    pen.strokeStyle = token.line ?? "#303030";
    pen.lineWidth = Math.max(1, family.width * PAPER) * px;
    pen.lineCap = "butt";
    pen.setLineDash(dashOf(family.dash).map((v) => v * px));
    pen.stroke();
  }
  pen.setLineDash([]);
}

function stroke(pen: Pen, paths: readonly Flat[][], token: StyleToken, px: number): void {
  pen.beginPath();
  for (const path of paths) path.forEach((p, i) => (i ? pen.lineTo(...p) : pen.moveTo(...p)));
  pen.strokeStyle = token.line ?? "#303030";
  pen.lineWidth = Math.max(LINE, (token.width ?? 0) * PAPER) * px;
  pen.lineCap = (token.dash?.[0] ?? 1) < 0.2 ? "round" : "butt";
  pen.setLineDash(dashOf(token.dash).map((v) => v * px));
  pen.stroke();
  pen.setLineDash([]);
}

function outline(pen: Pen, item: Item, px: number): void {
  const path = item.path();
  pen.lineJoin = "round";
  pen.lineCap = "round";
  if (item.item.selected) {
    pen.strokeStyle = "#ffffff";
    pen.lineWidth = 7 * px;
    pen.stroke(path);
  }
  pen.strokeStyle = item.token.line ?? "#303030";
  pen.lineWidth = (item.item.selected ? 4 : Math.max(LINE, (item.token.width ?? 0) * PAPER)) * px;
  // What is not sent yet has a broken outline, whatever its kind.
  pen.setLineDash((item.item.unsent ? [7, 5] : dashOf(item.token.dash)).map((v) => v * px));
  pen.stroke(path);
  pen.setLineDash([]);
}

function furnish(pen: Pen, placer: Placer, port: Port, camera: FlatCamera, scene: Scene): void {
  const small = isSmall(port);
  scaleBar(pen, placer, 16, port.height - 12, small ? 80 : 130, 1 / camera.scale, scene.units, scene.colours);
  const sides = scene.model.sides();
  const drawn = sides.length > 1 ? sides.filter((side) => seen(side.name, camera, scene)) : sides;
  drawn.forEach((side, i) => {
    const arrows = side.directions.map((d) => ({
      word: d.word,
      to: [camera.flips[0] * d.flat[0], -camera.flips[1] * d.flat[1]] as const,
    }));
    // On a wrapped sheet each side has its arrows at its own edge of the view.
    const above = drawn.length > 1 && camera.toScreen(...side.middle)[1] < camera.toScreen(...drawn[1 - i]!.middle)[1];
    if (small && i > 0) return;
    compass(pen, placer, cornerOf(port, above && !small), arrows, side.name && `${side.name} side`, scene.colours);
  });
}

function seen(side: string, camera: FlatCamera, { model }: Scene): boolean {
  for (let i = 1; i < 12; i++) {
    for (let j = 1; j < 12; j++) {
      const [x, y] = camera.toFlat((camera.width * i) / 12, (camera.height * j) / 12);
      if (model.locator.find(x, y) && model.locator.value(model.skin.chord) < 0 === (side === "lower")) return true;
    }
  }
  return false;
}

function name(pen: Pen, placer: Placer, port: Port, camera: FlatCamera, scene: Scene): void {
  const { model, colours } = scene;
  const on = { ink: colours.onSheet, halo: colours.sheet };
  numbers(pen, placer, scene, (flat) => camera.toScreen(...flat), port);
  const grid = scene.grid ? [...model.header.grid.stations, ...model.header.grid.chord] : [];
  for (const { label: words, paths } of grid) {
    for (const path of paths) {
      for (const { at, out, free } of endsInSight(path, camera, port)) {
        const places = (free ? [13, 20, 30] : [-8, -20])
          .map((d): [number, number] => [at[0] + out[0] * (d + 8 * Math.abs(out[0])), at[1] + out[1] * d])
          // Beyond the end there may be the next piece of the map already.
          .filter(([x, y]) => !free || ![-18, 0, 18].some((d) => model.locator.find(...camera.toFlat(x + d, y))));
        label(pen, placer, words, places, free
          ? { size: 11, ink: colours.quiet, halo: colours.ground }
          : { size: 11, ink: "#3a3a3a", halo: colours.sheet });
      }
    }
  }
  for (const panel of model.header.panels) {
    const [x0, y0, x1, y1] = common(model.area("panels", panel.name).box, camera.window());
    if (x1 <= x0 || y1 <= y0) continue;
    const area = model.area("panels", panel.name);
    const places: [number, number][] = [];
    for (const fy of [0.5, 0.35, 0.65, 0.2, 0.8]) {
      for (const fx of [0.5, 0.4, 0.6, 0.28, 0.72]) {
        const flat: Flat = [x0 + fx * (x1 - x0), y0 + fy * (y1 - y0)];
        if (area.has(...flat)) places.push(camera.toScreen(...flat));
      }
    }
    labelWithin(pen, placer, panel.name, places, on, (x, y) => area.has(...camera.toFlat(x, y)));
  }
  for (const line of model.header.lines) {
    if (!scene.structure || !NAMED.has(line.kind)) continue;
    for (const path of line.paths) {
      const places = [0.12, 0.88, 0.3, 0.7, 0.5]
        .map((share) => camera.toScreen(...path[Math.floor(share * (path.length - 1))]!))
        .filter(([x, y]) => x > 0 && y > 0 && x < port.width && y < port.height);
      if (label(pen, placer, line.name, places, { size: 11, apart: 9, ...on })) break;
    }
  }
}

/** Marks of entries without an extent, numbers of all; the same in both views. */
export function numbers(
  pen: Pen, placer: Placer, scene: Scene, to: (flat: Flat) => readonly [number, number] | null, port: Port,
): void {
  for (const item of scene.items) {
    for (const place of item.places) {
      const at = to(place);
      if (!at) continue;
      const { token } = item;
      mark(pen, token.mark ?? "ring", at[0], at[1], item.item.selected ? 18 : 12, token.line ?? "#303030", token.fill ?? "#ffffff");
      placer.take([at[0] - 9, at[1] - 9, at[0] + 9, at[1] + 9]);
    }
  }
  for (const item of scene.items) {
    const { number, unsent, selected, title } = item.item;
    const anchor = item.anchor();
    const at = anchor && to(anchor);
    if (!at || at[0] < 0 || at[1] < 0 || at[0] > port.width || at[1] > port.height) continue;
    const words = [number === undefined ? "" : String(number), selected ? title : "", unsent ? "(not sent)" : ""];
    const text = words.filter(Boolean).join(" ");
    if (!text) continue;
    label(pen, placer, text, around(at[0], at[1], [12, 20, 32]), {
      size: 12, bold: true, ink: item.token.line ?? "#111111", halo: scene.colours.sheet,
    });
  }
}

interface End {
  at: [number, number];
  out: [number, number];
  /** It is an end of the line itself, with room beyond it, and not where it leaves the view. */
  free: boolean;
}

/** Where a line begins and ends in the view. */
function endsInSight(path: readonly Flat[], camera: FlatCamera, port: Port): End[] {
  const inside = ([x, y]: readonly [number, number]) => x >= 0 && y >= 0 && x <= port.width && y <= port.height;
  const points = path.map((p) => camera.toScreen(...p));
  const ends: End[] = [];
  for (const way of [1, -1]) {
    const run = way > 0 ? points : points.slice().reverse();
    let k = run.findIndex(inside);
    if (k < 0) continue;
    let at = run[k]!;
    const free = k === 0;
    if (!free) {
      let [out, kept] = [run[k - 1]!, at];
      for (let i = 0; i < 20; i++) {
        const middle: [number, number] = [(out[0] + kept[0]) / 2, (out[1] + kept[1]) / 2];
        if (inside(middle)) kept = middle;
        else out = middle;
      }
      at = kept;
    }
    k = Math.min(k + 2, run.length - 1);
    const [dx, dy] = [at[0] - run[k]![0], at[1] - run[k]![1]];
    const size = Math.hypot(dx, dy) || 1;
    ends.push({ at, out: [dx / size, dy / size], free });
  }
  return ends;
}
