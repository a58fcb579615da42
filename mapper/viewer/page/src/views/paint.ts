// Draws what people draw (strokes, polygons, panels, boxes ...) as pixels on a canvas whose units are
// flat mm. One way for the live paint, for "about" areas and for outlines that wait to be sent.

import type { Flat, Shape } from "../wire.ts";
import { boxOf, common, crossing, distance, grown, isEmpty, type Box, type Polygon } from "../lib/plane.ts";
import { pathOf, type SkinModel } from "./model.ts";

type Pen = CanvasRenderingContext2D;

/** Outlines of entries by id, for shapes that begin with one. */
export type KeptOutlines = (entry: string) => readonly Polygon[];

/** A line without a width is drawn as paint this wide, mm, so that it shows on the sheet. */
const THIN = 0.5;

/** Everything drawn, in order; wiping takes off what came before. within: what lies outside this box
 * of the map need not be drawn. */
export function paintShapes(
  pen: Pen, shapes: readonly Shape[], model: SkinModel, kept: KeptOutlines, within?: Box,
): void {
  for (const shape of shapes) {
    paintShape(pen, shape, model, kept, within);
  }
}

function paintShape(pen: Pen, shape: Shape, model: SkinModel, kept: KeptOutlines, within?: Box): void {
  pen.globalCompositeOperation = shape.op === "wipe" ? "destination-out" : "source-over";
  switch (shape.type) {
    case "stroke":
      // Most strokes of a long day are not where this piece of canvas is.
      paintStroke(pen, shape.points, shape.radius, model, within);
      break;
    case "line":
      paintStroke(pen, shape.points, (shape.width ?? THIN) / 2, model);
      break;
    case "disc":
      paintStroke(pen, [shape.at], shape.radius, model);
      break;
    case "tape": {
      const at = tapePlace(shape, model);
      if (at) paintStroke(pen, [at], shape.radius ?? THIN, model);
      break;
    }
    case "polygon":
      clipped(pen, model, shape.ring[0], () => pen.fill(pathOf([[shape.ring]]), "evenodd"));
      break;
    case "box":
      paintBox(pen, shape, model);
      break;
    case "panel":
    case "bay":
      pen.fill(pathOf(model.area(shape.type === "panel" ? "panels" : "bays", shape.name).polygons), "evenodd");
      break;
    case "whole":
      pen.fill(pathOf(model.header.sheet), "evenodd");
      break;
    case "kept":
    case "mirror":
      pen.fill(pathOf(kept(shape.entry)), "evenodd");
      break;
    case "point":
      break;
  }
  pen.globalCompositeOperation = "source-over";
}

/** A way of the brush over one chart: its own, or beyond an edge as seen from the chart there. */
export interface Way {
  points: readonly Flat[];
  /** On the map, at each point. */
  radii: readonly number[];
  /** To be clipped by: null where it reaches no rim. */
  clip: Path2D | null;
  box: Box;
}

interface Brush {
  radius: number;
  count: number;
  ways: Way[];
}

const brushes = new WeakMap<readonly Flat[], Brush>();

/** The ways that a stroke covers, on every chart that it reaches; found once for its points. */
export function waysOf(points: readonly Flat[], radius: number, model: SkinModel): readonly Way[] {
  const kept = brushes.get(points);
  if (kept && kept.radius === radius && kept.count === points.length) return kept.ways;
  const radii = points.map((p) => model.flatRadius(p, radius));
  const reach = Math.max(...radii);
  const near = points.some((p) => model.nearRim(p, reach));
  const first = points[0] ?? [0, 0];
  const chart = near ? model.sheet.indexAt(...first) : -1;
  const clip = near ? (model.chartPaths[chart] ?? model.sheetPath) : null;
  const ways: Way[] = [{ points, radii, clip, box: grown(boxOf([points]), reach * 1.02) }];
  if (near && chart >= 0 && !model.glue.none) ways.push(...beyond(points, radii, chart, model));
  brushes.set(points, { radius, count: points.length, ways });
  return ways;
}

/** The stroke as the charts beyond glued edges see it: in pieces, each as long as the brush reaches. */
function beyond(points: readonly Flat[], radii: readonly number[], chart: number, model: SkinModel): Way[] {
  const done: Way[] = [];
  let open = new Map<string, { chart: number; points: Flat[]; radii: number[] }>();
  const close = ({ chart: on, points: run, radii: wide }: { chart: number; points: Flat[]; radii: number[] }): void => {
    done.push({ points: run, radii: wide, clip: model.chartPaths[on] ?? null, box: grown(boxOf([run]), 1.02 * Math.max(...wide)) });
  };
  points.forEach((p, i) => {
    const next: typeof open = new Map();
    const r = radii[i]!;
    model.glue.carried(p, chart, r).forEach(({ flat, chart: on }, k) => {
      const key = `${on} ${k}`;
      const run = open.get(key);
      const before = run?.points[run.points.length - 1];
      // Another piece of the edge may lie elsewhere: nothing is drawn between.
      const step = i > 0 ? distance(points[i - 1]!, p) : 0;
      if (run && before && distance(before, flat) <= 3 * step + 0.1 * r) {
        run.points.push(flat);
        run.radii.push(r);
        next.set(key, run);
        open.delete(key);
      } else next.set(key, { chart: on, points: [flat], radii: [r] });
    });
    open.forEach(close);
    open = next;
  });
  open.forEach(close);
  return done;
}

/** A stroke as wide as the brush is true, over every chart that it reaches. within: what lies outside
 * this box of the map need not be drawn. */
export function paintStroke(pen: Pen, points: readonly Flat[], radius: number, model: SkinModel, within?: Box): void {
  if (!points.length) return;
  for (const way of waysOf(points, radius, model)) {
    if (within && isEmpty(common(within, way.box))) continue;
    if (!way.clip) sweep(pen, way);
    else {
      pen.save();
      pen.clip(way.clip, "evenodd");
      sweep(pen, way);
      pen.restore();
    }
  }
}

function sweep(pen: Pen, { points, radii }: Way): void {
  pen.lineCap = pen.lineJoin = "round";
  let i = 0;
  while (i < points.length) {
    const first = i;
    const r = radii[i]!;
    // One path for as long as the width stays the same: quicker, and no seams between pieces.
    while (i + 1 < points.length && Math.abs(radii[i + 1]! - r) < 0.01 * r) i++;
    pen.beginPath();
    if (i === first && (first === 0 || points.length === 1)) {
      pen.arc(...points[first]!, r, 0, 2 * Math.PI);
      pen.fill();
    } else {
      pen.lineWidth = 2 * r;
      const start = points[Math.max(0, first - 1)]!;
      pen.moveTo(...start);
      for (let k = Math.max(first, 1); k <= i; k++) pen.lineTo(...points[k]!);
      pen.stroke();
    }
    i++;
  }
}

/** Clips to the chart that holds the place, so that paint does not spill onto another one. */
function clipped(pen: Pen, model: SkinModel, at: Flat | undefined, draw: () => void): void {
  const chart = at ? model.sheet.indexAt(at[0], at[1]) : -1;
  pen.save();
  pen.clip(model.chartPaths[chart] ?? model.sheetPath, "evenodd");
  draw();
  pen.restore();
}

/** Triangles cut to the asked stations and chord (or angles); hairlines between them are closed. */
function paintBox(pen: Pen, shape: Shape & { type: "box" }, model: SkinModel): void {
  const { skin } = model;
  const { flat, triangles, station, chord } = skin;
  const [ox, oy] = model.header.flat_origin;
  const path = new Path2D();
  const across = shape.chord ?? shape.angles;
  const wraps = shape.angles !== null && shape.angles[0] > shape.angles[1];
  for (let t = 0; t < triangles.length; t += 3) {
    const corners = [triangles[t]!, triangles[t + 1]!, triangles[t + 2]!];
    const middle = corners.reduce((sum, c) => sum + chord[c]!, 0) / 3;
    if (model.header.has_chord && shape.side !== "both" && middle < 0 !== (shape.side === "lower")) continue;
    let ring = corners.map((c) => [
      flat[2 * c]! + ox, flat[2 * c + 1]! + oy, station[c]!, shape.chord ? Math.abs(chord[c]!) : chord[c]!,
    ]);
    if (shape.stations) {
      ring = cut(ring, 2, shape.stations[0], 1);
      ring = cut(ring, 2, shape.stations[1], -1);
    }
    if (across && !wraps) {
      ring = cut(ring, 3, across[0], 1);
      ring = cut(ring, 3, across[1], -1);
    } else if (across && middle < across[0] && middle > across[1]) continue;
    ring.forEach(([x, y], i) => (i === 0 ? path.moveTo(x!, y!) : path.lineTo(x!, y!)));
    if (ring.length) path.closePath();
  }
  pen.fill(path);
  pen.lineWidth = 0.6 / pen.getTransform().a;
  pen.stroke(path);
}

/** The part of a ring where value number `k` is at least (sign 1) or at most (-1) the limit. */
function cut(ring: number[][], k: number, limit: number, sign: number): number[][] {
  const out: number[][] = [];
  ring.forEach((b, i) => {
    const a = ring[(i + ring.length - 1) % ring.length]!;
    const da = sign * (a[k]! - limit), db = sign * (b[k]! - limit);
    if (da >= 0 !== db >= 0) {
      const share = da / (da - db);
      out.push(a.map((v, axis) => v + share * (b[axis]! - v)));
    }
    if (db >= 0) out.push(b);
  });
  return out;
}

/** The place by rib and tape, roughly: the crossing of the two lines, then along and across. */
export function tapePlace(shape: Shape & { type: "tape" }, model: SkinModel): Flat | null {
  const paths = (name: string) => model.header.lines.filter((l) => l.name === name).flatMap((l) => l.paths);
  const sides = model.sides();
  const side = shape.upper || sides.length === 1 ? sides[0]! : sides[1]!;
  const outboard = side.directions.find((d) => d.word !== "forward" && d.word !== "up")?.flat ?? model.header.outboard;
  const forward = side.directions.find((d) => d.word === "forward")?.flat ?? model.header.forward;
  for (const rib of paths(shape.rib)) {
    for (const spar of paths(shape.spar)) {
      for (let i = 1; i < rib.length; i++) {
        for (let j = 1; j < spar.length; j++) {
          const at = crossing(rib[i - 1]!, rib[i]!, spar[j - 1]!, spar[j]!);
          if (!at || !model.locator.find(at[0], at[1])) continue;
          const chord = model.locator.value(model.skin.chord);
          if (sides.length > 1 && chord < 0 === shape.upper) continue;
          return [
            at[0] + shape.outboard * outboard[0] - shape.aft * forward[0],
            at[1] + shape.outboard * outboard[1] - shape.aft * forward[1],
          ];
        }
      }
    }
  }
  return null;
}

/** Boxes of the map that hold everything the shapes can cover. */
export function boxesOfShapes(shapes: readonly Shape[], model: SkinModel, kept: KeptOutlines): Box[] {
  return shapes.flatMap((shape) => (shape.op === "wipe" ? [] : boxesOfShape(shape, model, kept)));
}

function boxesOfShape(shape: Shape, model: SkinModel, kept: KeptOutlines): Box[] {
  const swept = (points: readonly Flat[], radius: number) => waysOf(points, radius, model).map((way) => way.box);
  switch (shape.type) {
    case "stroke":
      return swept(shape.points, shape.radius);
    case "line":
      return swept(shape.points, (shape.width ?? THIN) / 2);
    case "disc":
      return swept([shape.at], shape.radius);
    case "tape": {
      const at = tapePlace(shape, model);
      return at ? swept([at], shape.radius ?? THIN) : [];
    }
    case "polygon":
      return [boxOf([shape.ring])];
    case "panel":
    case "bay":
      return [model.area(shape.type === "panel" ? "panels" : "bays", shape.name).box];
    case "kept":
    case "mirror":
      return kept(shape.entry).map((rings) => boxOf(rings));
    case "box":
    case "whole":
      return [model.header.bounds];
    case "point":
      return [];
  }
}

/** Places and lines among shapes that have no area of their own. */
export function linesOf(shapes: readonly Shape[]): Flat[][] {
  return shapes.flatMap((s) => (s.type === "line" && s.op === "add" && s.width === null ? [s.points] : []));
}

export function placesOf(shapes: readonly Shape[], model: SkinModel): Flat[] {
  return shapes.flatMap((s) => {
    if (s.op !== "add") return [];
    if (s.type === "point") return [s.at];
    const at = s.type === "tape" && s.radius === null ? tapePlace(s, model) : null;
    return at ? [at] : [];
  });
}
