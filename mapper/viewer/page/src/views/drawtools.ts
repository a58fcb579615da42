// The tools: brush and wiping, polygon, line, point. They turn what pointer and keys do in a view into
// shapes on the map.

import type { Flat, Shape } from "../wire.ts";
import { distance, signedArea, thinned } from "../lib/plane.ts";
import type { SkinModel } from "./model.ts";
import type { PaneView } from "./pane.ts";
import { StrokeMaker } from "./strokes.ts";
import type { Tool } from "./types.ts";

/** A drag shorter than this is a tap that sets a corner, CSS px. */
const DRAG = 12;
/** A tap so near the first corner closes the polygon, CSS px. */
const CLOSE = 22;
const TWICE_MS = 380;

export interface Easel {
  model(): SkinModel | null;
  /** Paint in every view. */
  paint(pieces: readonly Flat[][], radius: number, wipe: boolean): void;
  /** The paint without what is being drawn. */
  repaint(): void;
  done(shapes: Shape[]): void;
  note(words: string): void;
  /** Corners or the ring have changed. */
  sketch(): void;
}

export class DrawTools {
  tool: Tool = { type: "look" };
  /** Corners set so far by polygon or line. */
  corners: Flat[] = [];
  /** Where the pointer is on the map. */
  at: Flat | null = null;
  private maker: StrokeMaker | null = null;
  private view: PaneView | null = null;
  private wipe = false;
  private begun: readonly [number, number] = [0, 0];
  private last: readonly [number, number] = [0, 0];
  private tapped = { when: -Infinity, x: 0, y: 0 };
  private dab: Flat | null = null;

  constructor(private readonly easel: Easel) {}

  set(tool: Tool): void {
    if (tool.type !== this.tool.type) {
      this.takeBack();
      this.corners = [];
    }
    this.dab = null;
    this.tool = tool;
    this.easel.sketch();
  }

  get draws(): boolean {
    return this.tool.type !== "look";
  }

  get busy(): boolean {
    return this.maker !== null;
  }

  /** What the pointer is drawing freely just now, for a sketch over the picture. */
  get sketched(): Flat[][] {
    return this.maker && this.tool.type !== "brush" ? this.maker.runs : [];
  }

  /** The stroke that is being painted, as shapes. */
  get painting(): Shape[] {
    const { maker, tool } = this;
    if (!maker || tool.type !== "brush") return [];
    const op = this.wipe ? "wipe" : "add";
    return maker.runs.map((points) => ({ op, type: "stroke", points, radius: tool.radius }));
  }

  get radius(): number | null {
    if (this.tool.type === "brush") return this.tool.radius;
    return this.tool.type === "line" && this.tool.width !== null ? this.tool.width / 2 : null;
  }

  begin(view: PaneView, x: number, y: number, eraser: boolean): void {
    this.view = view;
    this.wipe = eraser || ("wipe" in this.tool && this.tool.wipe);
    this.maker = new StrokeMaker((px, py) => view.hit(px, py));
    this.begun = this.last = [x, y];
    this.feed(x, y);
  }

  move(points: readonly (readonly [number, number])[]): void {
    for (const [x, y] of points) this.feed(x, y);
  }

  private feed(x: number, y: number): void {
    if (!this.maker || !this.view) return;
    this.last = [x, y];
    if (this.tool.type === "point") {
      this.easel.sketch();
      return;
    }
    const pieces = this.maker.add(x, y);
    if (this.tool.type === "brush" && pieces.length) {
      this.easel.paint(pieces, this.tool.radius, this.wipe);
    } else this.easel.sketch();
  }

  /** The pointer is lifted. */
  end(now: number): void {
    const { maker, view, tool } = this;
    this.maker = null;
    if (!maker || !view) return;
    const dragged = maker.travelled >= DRAG || Math.hypot(this.last[0] - this.begun[0], this.last[1] - this.begun[1]) >= DRAG;
    if (tool.type === "brush") {
      const runs = maker.finished();
      const op = this.wipe ? "wipe" : "add";
      if (runs.length) this.easel.done(runs.map((points) => ({ op, type: "stroke", points, radius: tool.radius })));
      else this.easel.note("Nothing was painted: the stroke did not touch this face.");
    } else if (tool.type === "point") {
      const hit = view.hit(...this.last);
      if (hit) this.easel.done([{ op: "add", type: "point", at: hit.flat }]);
      else this.easel.note("Nothing was placed: there is no metal of this face.");
    } else if (dragged && !this.corners.length) this.freehand(maker);
    else this.corner(view, now);
    this.easel.sketch();
  }

  private freehand(maker: StrokeMaker): void {
    const runs = maker.finished().filter((run) => run.length > 1);
    if (this.tool.type === "line") {
      const { width } = this.tool;
      if (runs.length) this.easel.done(runs.map((points) => ({ op: "add", type: "line", points, width })));
      return;
    }
    const ring = runs.length === 1 ? runs[0]! : [];
    if (ring.length < 3 || signedArea(ring) === 0) {
      this.easel.note(
        runs.length > 1
          ? "The outline left the sheet on its way: draw it on one piece, or tap its corners."
          : "That encloses nothing: draw round the area, or tap its corners.",
      );
      return;
    }
    this.easel.done([{ op: this.wipe ? "wipe" : "add", type: "polygon", ring }]);
  }

  private corner(view: PaneView, now: number): void {
    const [x, y] = this.last;
    const twice = now - this.tapped.when < TWICE_MS && Math.hypot(x - this.tapped.x, y - this.tapped.y) < CLOSE;
    this.tapped = { when: now, x, y };
    const first = this.corners[0] && view.toView(this.corners[0]);
    const closes = this.tool.type === "polygon" && this.corners.length > 2 && first && Math.hypot(first[0] - x, first[1] - y) < CLOSE;
    if (closes || (twice && this.corners.length > 1)) {
      this.finish();
      return;
    }
    const hit = view.hit(x, y);
    if (!hit) this.easel.note("There is no metal of this face.");
    else this.addCorner(hit.flat);
  }

  /** One more corner, by pointer or key. */
  addCorner(flat: Flat): void {
    const model = this.easel.model();
    const before = this.corners[this.corners.length - 1];
    if (model && before) {
      const { sheet } = model;
      if (sheet.polygons.length > 1 && sheet.indexAt(...flat) !== sheet.indexAt(...before)) {
        this.easel.note("That lies on another piece of the flat map: finish this one first.");
        return;
      }
      if (this.tool.type === "line" && !model.runsOnSheet(before, flat, Math.max(1, distance(before, flat) / 500))) {
        this.easel.note("The line would leave the sheet there: go round by more corners.");
        return;
      }
    }
    this.corners.push(flat);
    this.easel.sketch();
  }

  /** Closes a polygon or ends a line. */
  finish(): void {
    const { corners, tool } = this;
    if (tool.type === "polygon") {
      if (corners.length < 3 || signedArea(corners) === 0) {
        if (corners.length) this.easel.note("A polygon needs three corners or more.");
        return;
      }
      this.corners = [];
      this.easel.done([{ op: this.wipe ? "wipe" : "add", type: "polygon", ring: corners }]);
    } else if (tool.type === "line") {
      if (corners.length < 2) {
        if (corners.length) this.easel.note("A line needs two places or more.");
        return;
      }
      this.corners = [];
      this.easel.done([{ op: "add", type: "line", points: thinned(corners, 0), width: tool.width }]);
    }
    this.easel.sketch();
  }

  /** Takes the last corner back; false when there is none. */
  back(): boolean {
    const had = this.corners.pop() !== undefined;
    if (had) this.easel.sketch();
    return had;
  }

  /** Forgets what is being drawn. */
  takeBack(): void {
    const painted = this.maker !== null && this.tool.type === "brush";
    this.maker = null;
    if (painted) this.easel.repaint();
    this.easel.sketch();
  }

  cancel(): boolean {
    const had = this.corners.length > 0 || this.busy;
    this.corners = [];
    this.takeBack();
    return had;
  }

  /** By the keyboard, at a place of a view: a dab, a corner or the point. joined: a stroke from the
   * dab before. */
  place(view: PaneView, x: number, y: number, joined: boolean): void {
    const hit = view.hit(x, y);
    const model = this.easel.model();
    if (!hit || !model) {
      this.easel.note("There is no metal of this face at the cross-hair.");
      return;
    }
    const { tool } = this;
    if (tool.type === "brush") {
      const from = joined ? this.dab : null;
      const whole = from !== null && model.runsOnSheet(from, hit.flat, Math.max(0.5, tool.radius / 4));
      if (from && !whole) this.easel.note("Not joined: the way there leaves the sheet.");
      const points = whole ? [from, hit.flat] : [hit.flat];
      this.dab = hit.flat;
      this.easel.paint([points], tool.radius, tool.wipe);
      this.easel.done([{ op: tool.wipe ? "wipe" : "add", type: "stroke", points, radius: tool.radius }]);
    } else if (tool.type === "point") this.easel.done([{ op: "add", type: "point", at: hit.flat }]);
    else if (tool.type !== "look") {
      this.wipe = "wipe" in tool && tool.wipe;
      this.addCorner(hit.flat);
    }
  }
}
