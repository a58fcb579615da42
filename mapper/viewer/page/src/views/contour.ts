// From shapes to outlines and "about" areas on this device: drawn as pixels, then followed along the
// half-way line between covered and not. Good to a fraction of a pixel; the server's answer, exact,
// takes its place as soon as it is there.

import type { Flat, Shape } from "../wire.ts";
import { common, EMPTY_BOX, grown, isEmpty, thinned, unite, type Box, type Polygon } from "../lib/plane.ts";
import { pen } from "./layer.ts";
import type { SkinModel } from "./model.ts";
import { boxesOfShapes, paintShapes, type KeptOutlines } from "./paint.ts";

/** Pixels along the longer side of everything, at least so many of each piece of the sheet; stretch is looked up once for a block of so many. */
const PIXELS = 900;
const LEAST_PIXELS = 300;
const BLOCK = 12;

interface Raster {
  cover: Uint8ClampedArray;
  width: number;
  height: number;
  /** mm of a pixel, and the map's place of the corner of pixel 0, 0. */
  size: number;
  x0: number;
  y0: number;
}

let scratch: CanvasRenderingContext2D | null = null;

/** What shapes cover: in one piece, or piece by piece of the sheet, which lie far apart on the map. */
function rastersOf(shapes: readonly Shape[], model: SkinModel, kept: KeptOutlines): Raster[] {
  const boxes = boxesOfShapes(shapes, model, kept).filter((box) => !isEmpty(box));
  const { polygons, boxes: charts } = model.sheet;
  const all = boxes.reduce(unite, EMPTY_BOX);
  if (isEmpty(all)) return [];
  const size = longer(all) / PIXELS;
  if (polygons.length < 2) return [rasterOf(shapes, model, kept, all, size, null)];
  return charts.flatMap((chart, i) => {
    const own = boxes.map((box) => common(box, grown(chart, 1))).filter((box) => !isEmpty(box)).reduce(unite, EMPTY_BOX);
    if (isEmpty(own)) return [];
    return [rasterOf(shapes, model, kept, own, Math.min(size, longer(own) / LEAST_PIXELS), model.chartPaths[i]!)];
  });
}

function longer(box: Box): number {
  return Math.max(box[2] - box[0], box[3] - box[1]);
}

function rasterOf(
  shapes: readonly Shape[], model: SkinModel, kept: KeptOutlines, own: Box, size: number, clip: Path2D | null,
): Raster {
  const box: Box = grown(own, 2 * size);
  const width = Math.ceil((box[2] - box[0]) / size), height = Math.ceil((box[3] - box[1]) / size);
  scratch ??= pen(8, 8);
  scratch.canvas.width = width;
  scratch.canvas.height = height;
  scratch.setTransform(1 / size, 0, 0, 1 / size, -box[0] / size, -box[1] / size);
  scratch.fillStyle = scratch.strokeStyle = "#fff";
  if (clip) scratch.clip(clip, "evenodd"); // sizing the canvas has undone the one before
  paintShapes(scratch, shapes, model, kept, box);
  const { data } = scratch.getImageData(0, 0, width, height);
  const cover = new Uint8ClampedArray(width * height);
  for (let i = 0, j = 3; i < cover.length; i++, j += 4) cover[i] = data[j]!;
  return { cover, width, height, size, x0: box[0], y0: box[1] };
}

/** True area of the shapes taken together, mm2, about: stretch of the sheet counted. */
export function aboutArea(shapes: readonly Shape[], model: SkinModel, kept: KeptOutlines): number {
  // A line without a width is drawn as a hair, and has no area.
  const wide = shapes.filter((shape) => shape.type !== "line" || shape.width !== null);
  return rastersOf(wide, model, kept).reduce((sum, raster) => sum + areaOf(raster, model), 0);
}

function areaOf({ cover, width, height, size, x0, y0 }: Raster, model: SkinModel): number {
  let sum = 0;
  for (let by = 0; by < height; by += BLOCK) {
    for (let bx = 0; bx < width; bx += BLOCK) {
      let here = 0;
      let at = -1;
      for (let y = by; y < Math.min(by + BLOCK, height); y++) {
        for (let x = bx; x < Math.min(bx + BLOCK, width); x++) {
          const value = cover[y * width + x]!;
          here += value;
          // The covered pixel next to the middle of the block stands for it.
          if (value && (at < 0 || (x <= bx + BLOCK / 2 && y <= by + BLOCK / 2))) at = y * width + x;
        }
      }
      if (!here) continue;
      const fx = x0 + ((at % width) + 0.5) * size, fy = y0 + (Math.floor(at / width) + 0.5) * size;
      sum += (here / 255) * (model.locator.find(fx, fy) ? model.locator.stretch() : 1);
    }
  }
  return sum * size * size;
}

/** Outlines of the shapes taken together, as polygons counted even-odd. */
export function outlinesOf(shapes: readonly Shape[], model: SkinModel, kept: KeptOutlines): Polygon[] {
  const only = shapes.length === 1 && shapes[0]!.op === "add" ? shapes[0]! : null;
  if (only?.type === "panel" || only?.type === "bay") {
    return model.area(only.type === "panel" ? "panels" : "bays", only.name).polygons.slice();
  }
  if (only?.type === "whole") return model.header.sheet;
  if (only?.type === "kept") return kept(only.entry).slice();
  const rings = rastersOf(shapes, model, kept).flatMap((raster) =>
    ringsOf(raster).map((ring) => thinned([...ring, ring[0]!], raster.size * 0.3).slice(0, -1)),
  );
  const kept3 = rings.filter((ring) => ring.length > 2);
  return kept3.length ? [kept3] : [];
}

/** Closed lines where the cover passes one half, by walking the cells between pixel centres. */
function ringsOf({ cover, width, height, size, x0, y0 }: Raster): Flat[][] {
  const half = 127.5;
  const value = (x: number, y: number) =>
    x < 0 || y < 0 || x >= width || y >= height ? 0 : cover[y * width + x]!;
  // An edge of a cell is known by the lower left pixel and its way: 2 * index, + 1 for upwards.
  const across = width + 2;
  const key = (x: number, y: number, up: number) => 2 * ((y + 1) * across + x + 1) + up;
  const next = new Map<number, number>();
  const join = (from: number, to: number) => next.set(from, to);
  for (let y = -1; y < height; y++) {
    for (let x = -1; x < width; x++) {
      const a = value(x, y) > half, b = value(x + 1, y) > half;
      const c = value(x + 1, y + 1) > half, d = value(x, y + 1) > half;
      const code = Number(a) | (Number(b) << 1) | (Number(c) << 2) | (Number(d) << 3);
      if (code === 0 || code === 15) continue;
      const south = key(x, y, 0), north = key(x, y + 1, 0), west = key(x, y, 1), east = key(x + 1, y, 1);
      // Covered to the left of the way: outer rings run counter-clockwise.
      switch (code) {
        case 1: join(south, west); break;
        case 2: join(east, south); break;
        case 3: join(east, west); break;
        case 4: join(north, east); break;
        case 5: join(south, east); join(north, west); break;
        case 6: join(north, south); break;
        case 7: join(north, west); break;
        case 8: join(west, north); break;
        case 9: join(south, north); break;
        case 10: join(east, north); join(west, south); break;
        case 11: join(east, north); break;
        case 12: join(west, east); break;
        case 13: join(south, east); break;
        case 14: join(west, south); break;
      }
    }
  }
  const pointOf = (edge: number): Flat => {
    const up = edge & 1;
    const cell = edge >> 1;
    const x = (cell % across) - 1, y = Math.floor(cell / across) - 1;
    const v0 = value(x, y), v1 = up ? value(x, y + 1) : value(x + 1, y);
    const share = v0 === v1 ? 0.5 : (half - v0) / (v1 - v0);
    return [x0 + (x + 0.5 + (up ? 0 : share)) * size, y0 + (y + 0.5 + (up ? share : 0)) * size];
  };
  const rings: Flat[][] = [];
  while (next.size) {
    const first = next.keys().next().value!;
    const ring: Flat[] = [];
    let edge: number | undefined = first;
    while (edge !== undefined) {
      ring.push(pointOf(edge));
      const after: number | undefined = next.get(edge);
      next.delete(edge);
      edge = after === first ? undefined : after;
    }
    rings.push(ring);
  }
  return rings;
}
