// What is drawn, made ready: outlines as polygons, lines and places of the skin and face in view, with
// their place in space once it is asked for.

import type { Flat } from "../wire.ts";
import { boxOf, EMPTY_BOX, inRings, holds, toPath, distance, unite, type Box, type Polygon } from "../lib/plane.ts";
import { outlinesOf } from "./contour.ts";
import type { Lifted, SkinModel } from "./model.ts";
import { linesOf, placesOf, type KeptOutlines } from "./paint.ts";
import type { DrawnItem, StyleFile, StyleToken } from "./types.ts";

export class Item {
  readonly box: Box;
  private raised: Lifted | null = null;
  private pathMade: Path2D | null = null;

  constructor(
    readonly item: DrawnItem,
    readonly token: StyleToken,
    readonly polygons: readonly Polygon[],
    readonly lines: readonly Flat[][],
    readonly places: readonly Flat[],
  ) {
    let box = polygons.reduce((sum, rings) => boxOf(rings, sum), EMPTY_BOX);
    box = unite(box, boxOf(lines));
    this.box = unite(box, boxOf([places]));
  }

  /** Every line of it: rings closed, and lines. */
  paths(): Flat[][] {
    return [
      ...this.polygons.flatMap((rings) => rings.map((ring) => (ring.length ? [...ring, ring[0]!] : []))),
      ...this.lines,
    ];
  }

  /** Its lines in space; sag and longest as in SkinModel.lift. */
  lifted(model: SkinModel, sag: number, longest: number): Lifted {
    return (this.raised ??= joined(this.paths().map((path) => model.lift(path, sag, longest))));
  }

  /** Its lines for a pen in flat mm. */
  path(): Path2D {
    if (!this.pathMade) {
      this.pathMade = new Path2D();
      for (const path of this.paths()) {
        path.forEach(([x, y], i) => (i ? this.pathMade!.lineTo(x, y) : this.pathMade!.moveTo(x, y)));
      }
    }
    return this.pathMade;
  }

  /** Whether the place is on it, or within `reach` mm of its lines and places. */
  isAt([x, y]: Flat, reach: number): boolean {
    const b = this.box;
    if (!holds([b[0] - reach, b[1] - reach, b[2] + reach, b[3] + reach], x, y)) return false;
    return (
      this.polygons.some((rings) => inRings(rings, x, y)) ||
      this.lines.some((line) => toPath(line, x, y) <= reach) ||
      this.places.some((place) => distance(place, [x, y]) <= reach) ||
      // A crack far thinner than a pixel must be met too.
      this.polygons.some((rings) => rings[0] !== undefined && toPath([...rings[0], rings[0][0]!], x, y) <= reach)
    );
  }

  /** A place of its own, for its number. */
  anchor(): Flat | null {
    if (this.places[0]) return this.places[0];
    const ring = this.polygons[0]?.[0];
    if (ring?.length) return ring.reduce((best, p) => (p[0] + p[1] > best[0] + best[1] ? p : best));
    const line = this.lines[0];
    return line?.[Math.floor(line.length / 2)] ?? null;
  }
}

export function joined(parts: readonly Lifted[]): Lifted {
  const starts: number[] = [];
  let points = 0;
  for (const part of parts) {
    for (const start of part.starts.slice(0, -1)) starts.push(points + start);
    points += part.values.length / 6;
  }
  starts.push(points);
  const values = new Float32Array(points * 6);
  let at = 0;
  for (const part of parts) {
    values.set(part.values, at);
    at += part.values.length;
  }
  return { values, starts };
}

export function tokenOf(style: StyleFile, name: string): StyleToken {
  return style.tokens[name] ?? style.tokens["other"] ?? { line: "#303030", width: 0.35 };
}

/** Whether an item lies on that face of that skin. */
function isOn(item: DrawnItem, skin: string, face: string): boolean {
  const on = item.shapes === null ? item.outline : (item.on ?? item.outline);
  return on ? on.skin === skin && on.face === face : item.shapes !== null;
}

function isSame(a: DrawnItem, b: DrawnItem): boolean {
  const { outline: p, ...restA } = a;
  const { outline: q, ...restB } = b;
  const names = Object.keys({ ...restA, ...restB }) as (keyof typeof restA)[];
  return p === q && names.every((name) => restA[name] === restB[name]);
}

/** Items of the face in view, without the draft, which is paint. */
export class ItemSet {
  items: Item[] = [];
  draft: DrawnItem | null = null;
  private made = new Map<string, Item>();
  private byId = new Map<string, DrawnItem>();

  /** Outlines of an entry by its id, for shapes that begin with one. */
  readonly kept: KeptOutlines = (id) => this.byId.get(id)?.outline?.polygons ?? [];

  /** Whether anything but the draft is drawn otherwise than before. */
  set(drawn: readonly DrawnItem[], model: SkinModel, face: string, style: StyleFile): boolean {
    this.byId = new Map(drawn.map((item) => [item.id, item]));
    const before = this.made;
    const shown = this.items;
    this.made = new Map();
    const drafted = (item: DrawnItem) =>
      item.selected && item.shapes !== null && (!item.on || (item.on.skin === model.header.name && item.on.face === face));
    this.draft = drawn.find(drafted) ?? null;
    this.items = drawn
      .filter((item) => item !== this.draft && isOn(item, model.header.name, face))
      .map((item) => {
        // What has not changed keeps its place in space: finding it again is the dear part.
        const old = before.get(item.id);
        const made = old && isSame(old.item, item) ? old : this.make(item, model, style);
        this.made.set(item.id, made);
        return made;
      });
    return this.items.length !== shown.length || this.items.some((item, i) => item !== shown[i]);
  }

  clear(): void {
    this.made.clear();
    this.items = [];
  }

  private make(item: DrawnItem, model: SkinModel, style: StyleFile): Item {
    const token = tokenOf(style, item.style);
    const { outline, shapes } = item;
    if (outline && !shapes) {
      const { polygons, region } = outline;
      if (region === "area") return new Item(item, token, polygons, [], []);
      if (region === "line") return new Item(item, token, [], polygons.flat(), []);
      return new Item(item, token, [], [], polygons.flat(2));
    }
    const given = shapes ?? [];
    return new Item(
      item, token, outlinesOf(given, model, this.kept), linesOf(given), placesOf(given, model),
    );
  }
}
