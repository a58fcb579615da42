// One part to look at and to draw on: in 3D and as its flat map, both live, on one host.

import type { Flat, Shape } from "../wire.ts";
import type { Polygon } from "../lib/plane.ts";
import type { LoadedShape } from "../lib/shape.ts";
import { aboutArea } from "./contour.ts";
import { DrawTools } from "./drawtools.ts";
import type { Scene } from "./flatdraw.ts";
import { Gestures } from "./gestures.ts";
import { Item, ItemSet, tokenOf } from "./items.ts";
import { KEY_HELP } from "./keys.ts";
import { coloursOf, write } from "./labels.ts";
import { SkinModel } from "./model.ts";
import { linesOf, placesOf } from "./paint.ts";
import type { Drawing, PaneView } from "./pane.ts";
import { drawSketch, ringOf } from "./sketch.ts";
import { Stage } from "./stage.ts";
import type { DrawnItem, LengthUnits, StyleFile, Tool, Under, ViewEvents } from "./types.ts";
import { underAt } from "./under.ts";
import { handsOf, keysOf, type Wired } from "./wiring.ts";
import { FlatView } from "./viewflat.ts";
import { SpaceView } from "./view3d.ts";

export type { DrawnItem, LengthUnits, StyleFile, Tool, Under, ViewEvents } from "./types.ts";

const NO_STYLE: StyleFile = { tokens: {}, text: {} };

export class PartViews {
  readonly space: SpaceView;
  readonly flat: FlatView;
  readonly tools: DrawTools;
  private readonly stage: Stage;
  private readonly gestures: Gestures[];
  private readonly items = new ItemSet();
  private readonly stop = new AbortController();
  private models: SkinModel[] = [];
  private shape: LoadedShape | null = null;
  private active = 0;
  private face = "";
  private drawn: readonly DrawnItem[] = [];
  private pending: Shape[] = [];
  private extra: Item | null = null;
  private looked: readonly Polygon[] | null = null;
  private style = NO_STYLE;
  private units: LengthUnits = "metric";
  private shown = { grid: true, structure: true };
  private scene: Scene | null = null;
  private frame = 0;
  private todo = { space: false, flat: false, paint: false, sketch: false };
  private hovering: { view: PaneView; x: number; y: number } | null = null;
  private cross: PaneView | null = null;

  constructor(host: HTMLElement, private readonly events: ViewEvents) {
    this.stage = new Stage(host, () => this.resize(), (view) => (view === "3d" ? this.space : this.flat).fit());
    const { vectors, live, glCanvas } = this.stage;
    const model = () => this.model;
    const drawing = () => this.drawing();
    this.space = new SpaceView(glCanvas, vectors, model, drawing, (what) => this.soon(what === "view" ? "space" : "paint"));
    this.space.all = () => this.models;
    this.flat = new FlatView(vectors, live, model, drawing, () => this.soon("flat"));
    this.tools = new DrawTools({
      model,
      paint: (pieces, radius, wipe) => {
        for (const view of [this.flat, this.space]) view.paint(pieces, radius, wipe);
        this.soon("sketch");
      },
      repaint: () => {
        for (const view of [this.flat, this.space]) view.repaint();
      },
      done: (shapes) => this.done(shapes),
      note: (words) => this.events.onNote?.(words),
      sketch: () => this.soon("sketch"),
    });
    const { spacePane, flatPane } = this.stage;
    const { signal } = this.stop;
    const wired: Wired = {
      tools: this.tools,
      hover: (view, x, y) => this.hover(view, x, y),
      leave: () => this.leave(),
      tap: (view, x, y, reach) => this.tap(view, x, y, reach),
      ready: (view) => view === this.space && this.ready(),
      cross: (view) => {
        this.cross = view;
        this.soon("sketch");
      },
      turnFace: () => this.turnFace(),
    };
    this.gestures = [new Gestures(spacePane, handsOf(this.space, wired)), new Gestures(flatPane, handsOf(this.flat, wired))];
    keysOf(spacePane, this.space, true, wired, signal);
    keysOf(flatPane, this.flat, false, wired, signal);
    glCanvas.addEventListener("webglcontextlost", (event) => this.lost(event), { signal });
    glCanvas.addEventListener("webglcontextrestored", () => this.restored(), { signal });
    for (const query of ["(prefers-color-scheme: dark)", "(forced-colors: active)"]) {
      matchMedia(query).addEventListener("change", () => this.all(), { signal });
    }
    this.resize();
  }

  private get model(): SkinModel | null {
    return this.models[this.active] ?? null;
  }

  show(shape: LoadedShape, skin: number, face: string): void {
    const other = shape !== this.shape;
    if (other) {
      const { origin } = shape.header;
      this.models = shape.skins.map((one) => new SkinModel(one, origin));
      this.shape = shape;
    }
    const moved = other || skin !== this.active;
    const turned = moved || face !== this.face;
    if (turned) {
      this.tools.cancel();
      this.items.clear();
      this.pending = [];
    }
    this.active = Math.min(skin, this.models.length - 1);
    this.face = face;
    this.hovering = null;
    this.tools.at = null;
    const { model } = this;
    if (!model) return;
    this.sceneNow();
    this.space.show(this.models, this.active, model.header.faces.indexOf(face) === 1 ? 1 : 0);
    this.flat.camera.flips = model.flips(face);
    if (moved) this.arrange(); // another part may be shown larger the other way
    if (turned) this.space.lookAtFace(!moved);
    if (moved) this.flat.fit();
    this.label();
    this.setDrawn(this.drawn);
    this.all();
  }

  setDrawn(items: readonly DrawnItem[]): void {
    this.drawn = items;
    this.pending = [];
    const { model } = this;
    if (!model) return;
    const changed = this.items.set(items, model, this.face, this.style);
    const thin = this.extra !== null;
    this.makeExtra();
    this.sceneNow();
    this.space.stale();
    if (changed || thin || this.extra) this.all();
    else for (const view of [this.flat, this.space]) view.repaint();
  }

  setTool(tool: Tool): void {
    this.tools.set(tool);
  }

  /** What somebody has looked at: the rest of the sheet is hatched. null: nothing is hatched. */
  setUnseen(looked: readonly Polygon[] | null): void {
    const before = this.looked;
    if (before?.length === looked?.length && (looked ?? []).every((one, i) => one === before![i])) return;
    this.looked = looked;
    this.space.stale();
    this.all();
  }

  setLines(shown: { grid: boolean; structure: boolean }): void {
    this.shown = { ...shown };
    this.all();
  }

  setStyle(style: StyleFile): void {
    this.style = style;
    this.items.clear();
    this.setDrawn(this.drawn);
    this.all();
  }

  setUnits(units: LengthUnits): void {
    this.units = units;
    this.all();
  }

  /** Contacts wider than this (CSS px) are the palm of a hand. */
  setPalm(width: number): void {
    for (const one of this.gestures) one.palm = width;
  }

  turnTo(flat: Flat): void {
    this.space.turnTo(flat);
    this.flat.turnTo(flat);
  }

  fit(): void {
    this.space.fit();
    this.flat.fit();
  }

  // What the buttons beside the views do as the keys do.
  finish(): void {
    this.tools.finish();
  }

  cancel(): boolean {
    return this.tools.cancel();
  }

  back(): boolean {
    return this.tools.back();
  }

  /** True area of shapes together, mm2, "about". */
  aboutArea(shapes: readonly Shape[]): number {
    return this.model ? aboutArea(shapes, this.model, this.items.kept) : 0;
  }

  /** The place in space (mm, the shape's frame minus its origin); null off the sheet. */
  spaceOf(flat: Flat): [number, number, number] | null {
    return this.model?.locator.spaceAt(flat) ?? null;
  }

  /** Where a place is on the host, CSS px; null where it cannot be seen. */
  screenOf(flat: Flat, where: "3d" | "flat"): [number, number] | null {
    const view = where === "3d" ? this.space : this.flat;
    this.flush();
    const at = view.toView(flat);
    return at && [at[0] + view.port.left, at[1] + view.port.top];
  }

  /** The ring of the brush about a place, on the map. */
  ringAt(flat: Flat, radius: number): Flat[] {
    return this.model ? ringOf(this.model, flat, radius) : [];
  }

  dispose(): void {
    cancelAnimationFrame(this.frame);
    this.stop.abort();
    for (const one of this.gestures) one.dispose();
    this.space.dispose();
    this.flat.dispose();
    this.stage.dispose();
    this.models = [];
    this.shape = null;
  }

  private label(): void {
    const { model } = this;
    const what = `${this.shape?.header.part ?? ""}, ${model?.header.name ?? ""}, ${this.face} face`;
    this.stage.spacePane.setAttribute("aria-label", `${what}, in 3D. ${KEY_HELP}`);
    this.stage.flatPane.setAttribute("aria-label", `${what}, flat map. ${KEY_HELP}`);
  }

  private sceneNow(): void {
    const { model } = this;
    this.scene = model && {
      model,
      face: this.face,
      items: this.extra ? [...this.items.items, this.extra] : this.items.items,
      looked: this.looked,
      style: this.style,
      units: this.units,
      colours: coloursOf(this.stage.root),
      ...this.shown,
    };
  }

  /** Lines and places of the draft, which paint cannot show. */
  private makeExtra(): void {
    const shapes = this.draftShapes();
    const lines = linesOf(shapes);
    const places = this.model ? placesOf(shapes, this.model) : [];
    const { draft } = this.items;
    const item = draft ?? { id: "", style: "other", title: "", shapes, outline: null, unsent: false, selected: true };
    this.extra = lines.length || places.length ? new Item(item, tokenOf(this.style, item.style), [], lines, places) : null;
  }

  private draftShapes(): Shape[] {
    return [...(this.items.draft?.shapes ?? []), ...this.pending];
  }

  private drawing(): Drawing | null {
    if (!this.scene) return null;
    return { scene: this.scene, shapes: [...this.draftShapes(), ...this.tools.painting], kept: this.items.kept };
  }

  private done(shapes: Shape[]): void {
    this.pending.push(...shapes);
    if (!shapes.every((shape) => shape.type === "stroke")) {
      this.makeExtra();
      this.sceneNow();
      this.all();
    }
    this.events.onDrawn(shapes, this.aboutArea(shapes.map((shape) => ({ ...shape, op: "add" }))));
  }

  private turnFace(): void {
    const faces = this.model?.header.faces ?? [];
    const next = faces[(faces.indexOf(this.face) + 1) % faces.length];
    if (next !== undefined && next !== this.face) this.events.onFace(next);
  }

  private tap(view: PaneView, x: number, y: number, reach: number): void {
    if (view === this.space) this.ready();
    const under = this.under(view, x, y, reach);
    if (under) this.events.onTap(under);
  }

  private under(view: PaneView, x: number, y: number, reach: number): Under | null {
    const found = view.any(x, y);
    const model = found && this.models[found.skin];
    if (!found || !model) return null;
    const face = model.header.faces[found.face] ?? model.header.faces[0] ?? "";
    const mine = model === this.model && face === this.face;
    return underAt(model, face, found.hit.flat, mine ? this.items.items : [], reach * found.hit.perPixel);
  }

  private hover(view: PaneView, x: number, y: number): void {
    this.hovering = { view, x, y };
    this.soon("sketch");
  }

  private leave(): void {
    this.hovering = null;
    this.tools.at = null;
    this.events.onUnder(null);
    this.soon("sketch");
  }

  private lost(event: Event): void {
    event.preventDefault(); // without this it never comes back
    this.space.picture.lost = true;
    this.space.picture.forget();
    this.events.onNote?.("The 3D picture was lost by this device; the flat map goes on. It is being made again.");
    this.all();
  }

  private restored(): void {
    this.space.picture.lost = false;
    this.space.picture.forget();
    this.events.onNote?.("The 3D picture is back.");
    this.all();
  }

  private resize(): void {
    this.arrange();
    this.all();
    // Sizing a canvas empties it: nobody should see it empty.
    this.flush();
  }

  private arrange(): void {
    const three = this.space.picture.hasGl;
    const [x0, y0, x1, y1] = this.model?.header.bounds ?? [0, 0, 1, 1];
    const { space, flat } = this.stage.layout(three, (x1 - x0) / Math.max(y1 - y0, 1e-3));
    this.space.place(space, this.stage.ratio);
    this.flat.place(flat, this.stage.ratio);
  }

  private all(): void {
    this.sceneNow();
    this.todo.space = this.todo.flat = this.todo.sketch = true;
    this.soon("sketch");
  }

  private soon(what: keyof PartViews["todo"]): void {
    this.todo[what] = true;
    this.frame ||= requestAnimationFrame(() => this.flush());
  }

  /** The stored 3D picture as the camera stands, now. */
  private ready(): void {
    if (this.space.picture.works) this.space.rest();
  }

  /** Draws now what is to be drawn; by itself this comes with the next frame. */
  flush(): void {
    cancelAnimationFrame(this.frame);
    this.frame = 0;
    const todo = { ...this.todo };
    this.todo.space = this.todo.flat = this.todo.paint = this.todo.sketch = false;
    if (todo.space) {
      this.space.redraw();
      this.sayLost();
    } else if (todo.paint) this.space.flush();
    if (todo.flat) this.flat.redraw();
    if (!this.model || !this.scene) return;
    if (this.hovering) {
      const { view, x, y } = this.hovering;
      const hit = view.hit(x, y);
      this.tools.at = hit?.flat ?? null;
      this.events.onUnder(this.under(view, x, y, 8));
    }
    const { spaceTop, flatTop, ratio } = this.stage;
    this.stage.spaceAll.hidden = !this.space.away || !this.space.picture.works;
    this.stage.flatAll.hidden = !this.flat.away;
    const { model, tools, cross, scene } = this;
    drawSketch(flatTop, ratio, this.flat, model, tools, cross, scene.colours);
    if (this.space.picture.works) drawSketch(spaceTop, ratio, this.space, model, tools, cross, scene.colours);
    else spaceTop.clear();
  }

  private sayLost(): void {
    if (this.space.picture.works || !this.space.picture.hasGl || !this.scene) return;
    const { vectors, ratio } = this.stage;
    const { left, top, width, height } = this.space.port;
    const { ink, ground } = this.scene.colours;
    vectors.setTransform(ratio, 0, 0, ratio, 0, 0);
    write(vectors, "3D is being made again", left + width / 2, top + height / 2, { size: 16, ink, halo: ground });
  }
}
