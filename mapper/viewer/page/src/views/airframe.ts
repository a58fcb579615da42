// The whole airframe: every part in its place, turned by a finger; a tap opens a part. What state a
// part is in is told by a pattern, not by colour alone.

import { ballOf, type LoadedShape } from "../lib/shape.ts";
import { AirframePicture, type Drawn } from "./airpicture.ts";
import type { Vec3 } from "./camera.ts";
import { compass, cornerOf, isSmall, scaleBar } from "./furniture.ts";
import { Gestures } from "./gestures.ts";
import { Orbit } from "./orbit.ts";
import { showAll } from "./stage.ts";
import { legend } from "./airlegend.ts";
import { nameParts, type Written } from "./airnames.ts";
import { coloursOf, Placer, write, type Colours } from "./labels.ts";
import type { LengthUnits, PartState } from "./types.ts";

export interface AirframePart {
  id: string;
  shape: LoadedShape;
  state: PartState;
  name?: string;
  /** Taken off the airframe: shown where it belongs, as a lattice. */
  off?: boolean;
}

export interface AirframeEvents {
  onPart(id: string): void;
  /** The part under the pointer, null for none. */
  onOver?(id: string | null): void;
  onNote?(words: string): void;
}

const STATES: PartState[] = ["untouched", "open", "inspected", "stripped"];
export class AirframeView {
  private readonly root: HTMLDivElement;
  private readonly pane: HTMLDivElement;
  private readonly all: HTMLButtonElement;
  private readonly pen: CanvasRenderingContext2D;
  private readonly picture: AirframePicture;
  private readonly gestures: Gestures;
  private readonly sizes: ResizeObserver;
  private readonly stop = new AbortController();
  private parts: AirframePart[] = [];
  private hidden = new Set<string>();
  private chosen: string | null = null;
  private over: string | null = null;
  private origin: Vec3 = [0, 0, 0];
  private middles: Vec3[] = [];
  private units: LengthUnits = "metric";
  private fitted = "";
  private frame = 0;
  /** Names that stand in the view now. */
  names: Written[] = [];
  private readonly orbit: Orbit;
  /** Somebody has moved it. */
  private touched = false;

  constructor(host: HTMLElement, private readonly events: AirframeEvents) {
    const doc = host.ownerDocument;
    this.root = doc.createElement("div");
    const canvas = doc.createElement("canvas");
    const over = doc.createElement("canvas");
    this.pane = doc.createElement("div");
    this.pane.className = "view-pane view-airframe";
    this.pane.tabIndex = 0;
    this.pane.setAttribute("role", "application");
    this.pane.setAttribute(
      "aria-label",
      "The airframe in 3D. Arrows turn, Shift and arrows move, plus and minus zoom, 0 shows all, Enter opens the part in the middle. The list has every part too.",
    );
    this.pane.style.touchAction = "none";
    this.pane.style.userSelect = "none";
    this.pane.style.outlineOffset = "-3px";
    for (const one of [this.root, canvas, over, this.pane]) {
      Object.assign(one.style, { position: "absolute", left: "0", top: "0", width: "100%", height: "100%" });
    }
    if (getComputedStyle(host).position === "static") host.style.position = "relative";
    for (const one of [canvas, over]) {
      one.style.pointerEvents = "none";
      one.setAttribute("aria-hidden", "true");
    }
    this.all = showAll(doc, () => this.fit());
    this.root.append(canvas, over, this.pane, this.all);
    host.append(this.root);
    const pen = over.getContext("2d");
    if (!pen) throw new Error("This browser cannot draw on a canvas.");
    this.pen = pen;
    this.picture = new AirframePicture(canvas);
    this.orbit = new Orbit(this.picture.camera, (x, y) => this.picture.depthAt(x, y), () => this.soon());
    this.gestures = new Gestures(this.pane, this.hands());
    this.pane.addEventListener("keydown", (event) => this.key(event), { signal: this.stop.signal });
    canvas.addEventListener("webglcontextlost", (event) => {
      event.preventDefault();
      this.picture.lost = true;
      this.picture.forget();
      this.soon();
    }, { signal: this.stop.signal });
    canvas.addEventListener("webglcontextrestored", () => {
      this.picture.lost = false;
      this.soon();
    }, { signal: this.stop.signal });
    this.sizes = new ResizeObserver(() => this.resize());
    this.sizes.observe(this.root);
    this.resize();
  }

  setParts(parts: AirframePart[]): void {
    this.parts = [...parts];
    this.origin = parts[0]?.shape.header.origin ?? [0, 0, 0];
    this.middles = parts.map((part) => {
      const { middle } = ballOf(part.shape.skins);
      return [0, 1, 2].map((i) => middle[i]! + part.shape.header.origin[i]! - this.origin[i]!) as Vec3;
    });
    this.prepare();
    const key = parts.map((part) => part.id).join();
    if (key !== this.fitted) {
      // Parts come one by one: once somebody has turned the view it stays as it is.
      this.fitted = key;
      if (!this.touched) this.fit();
    }
    this.soon();
  }

  highlight(id: string | null): void {
    this.chosen = id;
    this.soon();
  }

  hide(ids: readonly string[]): void {
    const same = ids.length === this.hidden.size && ids.every((id) => this.hidden.has(id));
    this.hidden = new Set(ids);
    this.prepare();
    // What is inside is small beside the skins.
    if (!same && !this.orbit.away) this.fit();
    this.soon();
  }

  setUnits(units: LengthUnits): void {
    this.units = units;
    this.soon();
  }

  fit(): void {
    const { camera } = this.picture;
    const boxes = this.shown().map((i) => {
      const { radius } = ballOf(this.parts[i]!.shape.skins);
      return { middle: this.middles[i]!, radius };
    });
    if (!boxes.length) return;
    const middle = [0, 1, 2].map(
      (a) => boxes.reduce((sum, box) => sum + box.middle[a]!, 0) / boxes.length,
    ) as Vec3;
    const radius = Math.max(...boxes.map((box) => Math.hypot(...[0, 1, 2].map((a) => box.middle[a]! - middle[a]!)) + box.radius));
    camera.fit(middle, radius);
    const points = this.shown().flatMap((i) => {
      const { skins, header } = this.parts[i]!.shape;
      return skins.flatMap(({ points: p }) => {
        const out: number[] = [];
        const step = Math.max(1, Math.floor(p.length / 3 / 200)) * 3;
        for (let k = 0; k + 2 < p.length; k += step) {
          for (let a = 0; a < 3; a++) out.push(p[k + a]! + header.origin[a]! - this.origin[a]!);
        }
        return out;
      });
    });
    camera.fitPoints(Float32Array.from(points));
    this.orbit.fitted();
  }

  dispose(): void {
    cancelAnimationFrame(this.frame);
    this.orbit.dispose();
    this.stop.abort();
    this.sizes.disconnect();
    this.gestures.dispose();
    this.picture.dispose();
    this.root.remove();
  }

  private shown(): number[] {
    return this.parts.flatMap((part, i) => (this.hidden.has(part.id) ? [] : [i]));
  }

  private prepare(): void {
    this.picture.set(this.shown().map((i): Drawn => {
      const { shape, state, off, id } = this.parts[i]!;
      return {
        key: id, shape, number: i + 1, state: STATES.indexOf(state), off: off ?? false,
        shift: [0, 1, 2].map((a) => shape.header.origin[a]! - this.origin[a]!) as Vec3,
      };
    }));
  }

  private hands(): ConstructorParameters<typeof Gestures>[1] {
    const { orbit } = this;
    return {
      draws: () => false,
      begin: () => undefined,
      move: () => undefined,
      end: () => undefined,
      takeBack: () => undefined,
      tap: (x, y) => {
        const part = this.partAt(x, y);
        if (part) this.events.onPart(part.id);
      },
      hover: (x, y) => this.hover(this.partAt(x, y)?.id ?? null),
      leave: () => this.hover(null),
      turn: (dx, dy) => {
        this.touched = true;
        orbit.turn(dx, dy);
      },
      pan: (dx, dy) => {
        this.touched = true;
        orbit.pan(dx, dy);
      },
      zoom: (factor, x, y) => {
        this.touched = true;
        orbit.zoom(factor, x, y);
      },
      steer: (begins, x, y) => orbit.steer(begins, x, y),
    };
  }

  private hover(id: string | null): void {
    if (id === this.over) return;
    this.over = id;
    this.events.onOver?.(id);
    this.soon();
  }

  private partAt(x: number, y: number): AirframePart | null {
    if (!this.orbit.resting) return null;
    const number = this.picture.partAt(x, y);
    return number > 0 ? (this.parts[number - 1] ?? null) : null;
  }

  private key(event: KeyboardEvent): void {
    if (event.ctrlKey || event.metaKey) return;
    const { camera } = this.picture;
    const arrows: Record<string, [number, number]> = {
      ArrowLeft: [-24, 0], ArrowRight: [24, 0], ArrowUp: [0, -24], ArrowDown: [0, 24],
    };
    const arrow = arrows[event.key];
    const { orbit } = this;
    if (arrow && event.shiftKey) orbit.pan(-arrow[0], -arrow[1]);
    else if (arrow) orbit.turn(...arrow);
    else if (event.key === "+" || event.key === "=") orbit.zoom(1.2, camera.width / 2, camera.height / 2);
    else if (event.key === "-") orbit.zoom(1 / 1.2, camera.width / 2, camera.height / 2);
    else if (event.key === "0" || event.key === "Home") this.fit();
    else if (event.key === "Enter" || event.key === " ") {
      orbit.rest();
      this.draw();
      const part = this.partAt(camera.width / 2, camera.height / 2);
      if (part) this.events.onPart(part.id);
      else this.events.onNote?.("No part lies in the middle of the view.");
    } else return;
    this.touched = true;
    event.preventDefault();
  }

  private resize(): void {
    const { clientWidth: width, clientHeight: height } = this.root;
    const ratio = Math.min(3, devicePixelRatio || 1);
    this.picture.resize(width, height, ratio);
    this.pen.canvas.width = Math.max(1, Math.round(width * ratio));
    this.pen.canvas.height = Math.max(1, Math.round(height * ratio));
    const { camera } = this.picture;
    // The legend, the scale and the button for the skins have their corners.
    camera.room = height < 500 ? [52, 6, 40, 6] : [20, 20, 50, 20];
    this.orbit.reshaped(() => this.fit());
    this.draw();
  }

  private soon(): void {
    this.frame ||= requestAnimationFrame(() => this.draw());
  }

  private draw(): void {
    cancelAnimationFrame(this.frame);
    this.frame = 0;
    const colours = coloursOf(this.root);
    this.all.hidden = !this.orbit.away;
    const chosen = this.over ?? this.chosen;
    const number = chosen === null ? 0 : this.parts.findIndex((part) => part.id === chosen) + 1;
    this.picture.draw(number, this.orbit.resting);
    const ratio = this.pen.canvas.width / Math.max(1, this.root.clientWidth);
    this.pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    const { width, height } = this.picture.camera;
    this.pen.clearRect(0, 0, width, height);
    if (!this.picture.works) {
      const words = this.picture.hasGl ? "3D is being made again" : "No 3D on this device: the list has every part";
      write(this.pen, words, width / 2, height / 2, { size: 16, ink: colours.ink, halo: colours.ground });
      return;
    }
    this.furnish(width, height, colours, number);
  }

  private furnish(width: number, height: number, colours: Colours, chosen: number): void {
    const { camera } = this.picture;
    const placer = new Placer([0, 0, width, height]);
    placer.take([width - 172, 0, width, 62]); // the button that hides skins lies there
    const { pen } = this;
    if (this.parts.length) {
      scaleBar(pen, placer, 16, height - 12, isSmall({ width, height }) ? 80 : 130, camera.perPixel(camera.distance), this.units, colours);
      const arrows: [string, Vec3][] = [["forward", [-1, 0, 0]], ["right", [0, 1, 0]], ["up", [0, 0, 1]]];
      compass(pen, placer, cornerOf({ width, height }), arrows.map(([word, v]) => ({ word, to: camera.axis(v) })), "", colours);
      const shown = this.shown().map((i) => this.parts[i]!);
      legend(pen, placer, new Set(shown.map((part) => part.state)), shown.some((part) => part.off), colours);
    }
    // While it turns nobody reads, and names that jump are worse than none.
    this.names = [];
    if (!this.orbit.resting) return;
    const named = this.shown().map((i) => {
      const { name = "", off = false } = this.parts[i]!;
      return { number: i + 1, words: off && name ? `${name} (taken off)` : name, off };
    });
    this.names = nameParts(pen, placer, this.picture, named, chosen, colours);
  }
}
