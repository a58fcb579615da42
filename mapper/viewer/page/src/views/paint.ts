// Draws what people draw (strokes, polygons, panels, boxes ...) as pixels on a canvas whose units are
// flat mm. One way for the live paint, for "about" areas and for outlines that wait to be sent.

import type { Flat, Shape } from "../wire.ts";
import { boxOf, common, crossing, distance, EMPTY_BOX, grown, isEmpty, unite, type Box, type Polygon } from "../lib/plane.ts";
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
    // Most strokes of a long day are not where this piece of canvas is.
    const away = within && shape.type === "stroke" && isEmpty(common(within, brushOf(shape.points, shape.radius, model).box));
    if (!away) paintShape(pen, shape, model, kept);
  }
}

export function paintShape(pen: Pen, shape: Shape, model: SkinModel, kept: KeptOutlines): void {
  pen.globalCompositeOperation = shape.op === "wipe" ? "destination-out" : "source-over";
  switch (shape.type) {
    case "stroke":
      paintStroke(pen, shape.points, shape.radius, model);
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

interface Brush {
  radius: number;
  count: number;
  /** On the map, at each point. */
  radii: number[];
  /** Whether it reaches a rim somewhere. */
  near: boolean;
  box: Box;
}

const brushes = new WeakMap<readonly Flat[], Brush>();

/** What drawing a stroke needs to know of the sheet; found once for its points. */
function brushOf(points: readonly Flat[], radius: number, model: SkinModel): Brush {
  const kept = brushes.get(points);
  if (kept && kept.radius === radius && kept.count === points.length) return kept;
  const radii = points.map((p) => model.flatRadius(p, radius));
  const reach = Math.max(...radii);
  const near = points.some((p) => model.nearRim(p, reach));
  const brush = { radius, count: points.length, radii, near, box: grown(boxOf([points]), reach * 1.02) };
  brushes.set(points, brush);
  return brush;
}

/** A stroke as wide as the brush is true, clipped to the chart and its openings where it is near. */
export function paintStroke(pen: Pen, points: readonly Flat[], radius: number, model: SkinModel): void {
  if (!points.length) return;
  const { radii, near } = brushOf(points, radius, model);
  const draw = (): void => {
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
  };
  if (near) clipped(pen, model, points[0], draw);
  else draw();
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

/** A box of the map that holds everything the shapes can cover. */
export function boxOfShapes(shapes: readonly Shape[], model: SkinModel, kept: KeptOutlines): Box {
  let box = EMPTY_BOX;
  for (const shape of shapes) {
    if (shape.op === "wipe") continue;
    switch (shape.type) {
      case "stroke":
        box = unite(box, grown(boxOf([shape.points]), 1.5 * shape.radius));
        break;
      case "line":
        box = unite(box, grown(boxOf([shape.points]), shape.width ?? THIN));
        break;
      case "disc":
        box = unite(box, grown(boxOf([[shape.at]]), 1.5 * shape.radius));
        break;
      case "polygon":
        box = unite(box, boxOf([shape.ring]));
        break;
      case "panel":
      case "bay":
        box = unite(box, model.area(shape.type === "panel" ? "panels" : "bays", shape.name).box);
        break;
      case "kept":
      case "mirror":
        box = kept(shape.entry).reduce((sum, rings) => boxOf(rings, sum), box);
        break;
      case "tape": {
        const at = tapePlace(shape, model);
        if (at) box = unite(box, grown(boxOf([[at]]), 1.5 * (shape.radius ?? THIN)));
        break;
      }
      case "box":
      case "whole":
        box = unite(box, model.header.bounds);
        break;
      case "point":
        break;
    }
  }
  return box;
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

/** Length of a path, mm on the map. */
export function lengthOf(path: readonly Flat[]): number {
  return path.reduce((sum, p, i) => (i ? sum + distance(path[i - 1]!, p) : 0), 0);
}
