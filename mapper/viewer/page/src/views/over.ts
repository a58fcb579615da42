// Lines, hatches and names over the 3D picture, as vectors: as wide from afar as from near, and hidden
// where the part hides them, which the stored pick image tells.

import type { Flat } from "../wire.ts";
import { boxOf, grown, type Box, type Polygon } from "../lib/plane.ts";
import type { Camera } from "./camera.ts";
import { LINE, LINE_KINDS, numbers, type Port, type Scene } from "./flatdraw.ts";
import { compass, cornerOf, isSmall, scaleBar } from "./furniture.ts";
import { dashOf, hatchSpans, PAPER } from "./hatches.ts";
import { joined, tokenOf } from "./items.ts";
import { label, labelWithin, Placer } from "./labels.ts";
import type { Lifted, SkinModel } from "./model.ts";
import type { PickImage } from "./picks.ts";
import type { StyleToken } from "./types.ts";

type Pen = CanvasRenderingContext2D;

/** A line is looked at every so many CSS px for whether it is hidden. */
const LOOK = 3;
const NEAR = 1e-3;

/** Lines of a skin that stay: grid, structure, rims, in space. Made once for a skin. */
export interface Standing {
  kind: string;
  lifted: Lifted;
}

export function sagOf(model: SkinModel): { sag: number; longest: number } {
  const [x0, y0, x1, y1] = model.header.bounds;
  const size = Math.hypot(x1 - x0, y1 - y0);
  return { sag: Math.max(size * 5e-5, 0.02), longest: size / 40 };
}

export function standingLines(model: SkinModel): Standing[] {
  const { sag, longest } = sagOf(model);
  const lift = (paths: readonly Flat[][]) => joined(paths.map((path) => model.lift(path, sag, longest)));
  const { grid, lines, sheet } = model.header;
  const found: Standing[] = [{ kind: "grid", lifted: lift([...grid.stations, ...grid.chord].flatMap((g) => g.paths)) }];
  for (const kind of LINE_KINDS) {
    const paths = lines.filter((line) => line.kind === kind).flatMap((line) => line.paths);
    if (paths.length) found.push({ kind, lifted: lift(paths) });
  }
  found.push({ kind: "sheet", lifted: lift(sheet.flatMap((rings) => rings.map((ring) => [...ring, ring[0]!]))) });
  return found;
}

export class Over {
  private readonly out = new Float64Array(3);
  /** mm that a line may lie behind the metal and still count as on it. */
  private sag = 0.1;

  constructor(
    private readonly pen: Pen,
    private readonly camera: Camera,
    private readonly picks: PickImage | null,
    private readonly face: number,
  ) {}

  /** The parts of lines that can be seen. Without picks (the camera moves): those that face the eye. */
  trace(lifted: Lifted, path: Path2D): void {
    const { values, starts } = lifted;
    for (let piece = 0; piece + 1 < starts.length; piece++) {
      let before: readonly [number, number, number, boolean] | null = null;
      let down = false;
      for (let i = starts[piece]!; i < starts[piece + 1]!; i++) {
        const here = this.point(values, 6 * i);
        if (before) down = this.segment(before, here, path, down);
        before = here;
      }
    }
  }

  /** A box round all of the lines on the screen, seen or hidden, CSS px. */
  boxOf({ values }: Lifted): Box {
    const points: Flat[] = [];
    for (let i = 0; i < values.length; i += 6) {
      const [x, y, depth] = this.point(values, i);
      if (depth > NEAR) points.push([x, y]);
    }
    return boxOf([points]);
  }

  /** x, y CSS px, depth, and whether the face in view is turned to the eye there. */
  private point(v: Float32Array | number[], at: number): readonly [number, number, number, boolean] {
    const { eye } = this.camera;
    const x = v[at]!, y = v[at + 1]!, z = v[at + 2]!;
    this.camera.project(x, y, z, this.out);
    const facing = (eye[0] - x) * v[at + 3]! + (eye[1] - y) * v[at + 4]! + (eye[2] - z) * v[at + 5]!;
    return [this.out[0]!, this.out[1]!, this.out[2]!, this.face === 1 ? facing < 0 : facing > 0];
  }

  private segment(
    a: readonly [number, number, number, boolean], b: readonly [number, number, number, boolean],
    path: Path2D, down: boolean,
  ): boolean {
    if (!(a[3] || b[3]) || a[2] < NEAR || b[2] < NEAR) return false;
    const long = Math.hypot(b[0] - a[0], b[1] - a[1]);
    const { width, height } = this.camera;
    if (Math.max(a[0], b[0]) < 0 || Math.max(a[1], b[1]) < 0 || Math.min(a[0], b[0]) > width || Math.min(a[1], b[1]) > height) {
      return false;
    }
    if (!this.picks) {
      if (!down) path.moveTo(a[0], a[1]);
      path.lineTo(b[0], b[1]);
      return true;
    }
    const count = Math.max(1, Math.min(4000, Math.ceil(long / LOOK)));
    for (let i = down ? 1 : 0; i <= count; i++) {
      const t = i / count;
      const x = a[0] + t * (b[0] - a[0]), y = a[1] + t * (b[1] - a[1]);
      // Straight on the screen: one over the depth changes evenly, not the depth.
      const depth = 1 / ((1 - t) / a[2] + t / b[2]);
      const seen = depth <= this.picks.deepest(x, y) + this.sag + 1.5 * this.camera.perPixel(depth);
      if (seen && !down) path.moveTo(x, y);
      else if (seen) path.lineTo(x, y);
      down = seen;
    }
    return down;
  }

  /** Where a place is on the screen, if it can be seen. */
  place(model: SkinModel, flat: Flat): [number, number] | null {
    const v = [0, 0, 0, 0, 0, 0];
    if (!model.locator.find(...flat)) return null;
    model.locator.space(v, 0);
    model.locator.normal(v, 3);
    for (let i = 3; i < 6; i++) v[i]! *= model.hand;
    const [x, y, depth, facing] = this.point(v, 0);
    if (!facing || depth < NEAR) return null;
    const hidden = this.picks && depth > this.picks.deepest(x, y) + this.sag + 2 * this.camera.perPixel(depth);
    return hidden ? null : [x, y];
  }

  /** The place on the map of what of this skin's face in view is seen there. */
  flatAt(model: SkinModel, x: number, y: number): Flat | null {
    const pick = this.picks?.at(x, y);
    if (!pick || pick.skin !== model.skin.index || pick.face !== this.face) return null;
    const [ox, oy] = model.header.flat_origin;
    return [pick.x + ox, pick.y + oy];
  }

  stroke(lifted: readonly Lifted[], token: StyleToken, options: { wide?: number; dash?: number[]; colour?: string } = {}): void {
    const path = new Path2D();
    for (const one of lifted) this.trace(one, path);
    this.pen.strokeStyle = options.colour ?? token.line ?? "#303030";
    this.pen.lineWidth = options.wide ?? Math.max(LINE, (token.width ?? 0) * PAPER);
    const dash = options.dash ?? dashOf(token.dash);
    this.pen.lineCap = (dash[0] ?? 9) < 2 ? "round" : "butt";
    this.pen.lineJoin = "round";
    this.pen.setLineDash(dash);
    this.pen.stroke(path);
    this.pen.setLineDash([]);
  }

  /** A hatch on the sheet, as dense on the screen as on paper where the region is nearest. */
  hatch(model: SkinModel, polygons: readonly Polygon[], token: StyleToken, window: Box, flips: [number, number], except: readonly Polygon[] = []): void {
    if (!token.hatch?.length || !polygons.length) return;
    const perPixel = this.sizeAt(model, polygons, window);
    if (perPixel === null) return;
    for (const family of token.hatch) {
      const spans = hatchSpans(polygons, family, perPixel, flips, window, except);
      const step = Math.max(perPixel * 10, family.gap * perPixel);
      const lifted = spans.map(([a, b]) => rough(model, a!, b!, step));
      this.stroke(lifted, token, { wide: Math.max(1, family.width * PAPER), dash: dashOf(family.dash) });
    }
  }

  /** mm of the sheet for a CSS px in sight of the polygons, in steps so that hatches stand still. */
  private sizeAt(model: SkinModel, polygons: readonly Polygon[], window: Box): number | null {
    let least = Infinity;
    const v = [0, 0, 0];
    for (const polygon of polygons) {
      const [x0, y0, x1, y1] = boxOf(polygon);
      const [a, b, c, d] = [Math.max(x0, window[0]), Math.max(y0, window[1]), Math.min(x1, window[2]), Math.min(y1, window[3])];
      if (a > c || b > d) continue;
      for (const fy of [0.05, 0.35, 0.65, 0.95]) {
        for (const fx of [0.05, 0.35, 0.65, 0.95]) {
          if (!model.locator.find(a + fx * (c - a), b + fy * (d - b))) continue;
          model.locator.space(v);
          this.camera.project(v[0]!, v[1]!, v[2]!, this.out);
          if (this.out[2]! > NEAR) least = Math.min(least, this.camera.perPixel(this.out[2]!));
        }
      }
    }
    if (least === Infinity) return null;
    return 2 ** (Math.round(2 * Math.log2(least)) / 2);
  }
}

/** A straight piece of the map in space, by steps. */
function rough(model: SkinModel, a: Flat, b: Flat, step: number): Lifted {
  const count = Math.max(1, Math.min(400, Math.ceil(Math.hypot(b[0] - a[0], b[1] - a[1]) / step)));
  const values: number[] = [];
  const starts: number[] = [];
  const v = [0, 0, 0, 0, 0, 0];
  let open = false;
  for (let i = 0; i <= count; i++) {
    const t = i / count;
    if (!model.locator.find(a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]))) {
      open = false;
      continue;
    }
    model.locator.space(v, 0);
    model.locator.normal(v, 3);
    if (!open) starts.push(values.length / 6);
    open = true;
    values.push(v[0]!, v[1]!, v[2]!, model.hand * v[3]!, model.hand * v[4]!, model.hand * v[5]!);
  }
  starts.push(values.length / 6);
  return { values: Float32Array.from(values), starts };
}

export function drawOver(
  pen: Pen, ratio: number, port: Port, camera: Camera, picks: PickImage | null, scene: Scene,
  standing: readonly Standing[], window: Box,
): void {
  const { model, style, colours } = scene;
  const face = model.header.faces.indexOf(scene.face) === 1 ? 1 : 0;
  const flips = model.flips(scene.face);
  pen.save();
  pen.setTransform(ratio, 0, 0, ratio, ratio * port.left, ratio * port.top);
  pen.beginPath();
  pen.rect(0, 0, port.width, port.height);
  pen.clip();
  const over = new Over(pen, camera, picks, face);
  const { sag, longest } = sagOf(model);
  if (picks) {
    const near = grown(window, 1);
    if (scene.looked) over.hatch(model, model.header.sheet, tokenOf(style, "not looked at"), near, flips, scene.looked);
    for (const item of scene.items) over.hatch(model, item.polygons, item.token, near, flips);
  }
  for (const { kind, lifted } of standing) {
    if (kind === "grid" ? !scene.grid : kind !== "sheet" && kind !== "seam" && !scene.structure) continue;
    over.stroke([lifted], tokenOf(style, kind), kind === "sheet" ? { wide: LINE } : {});
  }
  for (const item of scene.items) {
    const lifted = [item.lifted(model, sag, longest)];
    if (item.item.selected) over.stroke(lifted, item.token, { wide: 7, dash: [], colour: "#ffffff" });
    over.stroke(lifted, item.token, {
      wide: item.item.selected ? 4 : Math.max(LINE, (item.token.width ?? 0) * PAPER),
      dash: item.item.unsent ? [7, 5] : dashOf(item.token.dash),
    });
  }
  const placer = new Placer([0, 0, port.width, port.height]);
  scaleBar(pen, placer, 16, port.height - 12, isSmall(port) ? 80 : 130, camera.perPixel(camera.distance), scene.units, colours);
  const arrows = model.axes().map(([word, axis, sign]) => {
    const v: [number, number, number] = [0, 0, 0];
    v[axis] = sign;
    return { word, to: camera.axis(v) };
  });
  compass(pen, placer, cornerOf(port), arrows, "", colours);
  if (picks) nameInSpace(pen, placer, over, port, scene);
  pen.restore();
}

function nameInSpace(pen: Pen, placer: Placer, over: Over, port: Port, scene: Scene): void {
  const { model, colours } = scene;
  const on = { ink: colours.onSheet, halo: colours.sheet };
  numbers(pen, placer, scene, (flat) => over.place(model, flat), port);
  for (const panel of model.header.panels) {
    const area = model.area("panels", panel.name);
    const [x0, y0, x1, y1] = area.box;
    const places: [number, number][] = [];
    for (const fy of [0.5, 0.3, 0.7, 0.15, 0.85]) {
      for (const fx of [0.5, 0.35, 0.65, 0.2, 0.8]) {
        const flat: Flat = [x0 + fx * (x1 - x0), y0 + fy * (y1 - y0)];
        const at = area.has(...flat) ? over.place(model, flat) : null;
        if (at) places.push(at);
      }
    }
    labelWithin(pen, placer, panel.name, places, on, (x, y) => {
      const flat = over.flatAt(model, x, y);
      return flat !== null && area.has(...flat);
    });
  }
  const along = (path: readonly Flat[], shares: readonly number[]) =>
    shares
      .map((share) => over.place(model, path[Math.round(share * (path.length - 1))]!))
      .filter((at) => at !== null);
  for (const line of model.header.lines) {
    if (!scene.structure) break;
    if (line.kind !== "rib" && line.kind !== "spar" && line.kind !== "frame") continue;
    for (const path of line.paths) {
      if (label(pen, placer, line.name, along(path, [0.15, 0.85, 0.3, 0.7, 0.5]), { size: 11, apart: 9, ...on })) break;
    }
  }
  const grid = scene.grid ? [...model.header.grid.stations, ...model.header.grid.chord] : [];
  for (const { label: words, paths } of grid) {
    for (const path of paths) {
      const places = along(path, [0.03, 0.97, 0.1, 0.9, 0.2, 0.8]);
      if (label(pen, placer, words, places, { size: 11, ink: "#3a3a3a", halo: colours.sheet })) break;
    }
  }
}
