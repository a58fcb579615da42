// An area or a place by typed numbers: stations and % chord, rib and tape, panel, bay, all of it.

import type { Shape, SkinHeader } from "../wire.ts";
import { skinOf, type Ui } from "./context.ts";
import { el, ownId, refill } from "./el.ts";
import { lengthOf } from "./typed.ts";
import { lengthIn, lengthOut, lengthUnit } from "./words.ts";

/** Farther than any aircraft reaches, mm: a slip of the finger or of the unit. */
const FARTHEST = 200_000;

type Way = "box" | "tape" | "panel" | "bay" | "whole";

export class Numbers {
  readonly node = el("section", { class: "numbers", "aria-labelledby": "numbers-title" });
  #ui: Ui;
  #draw: (shapes: Shape[]) => Promise<void>;
  /** What stands in the fields, by label, until it is taken. */
  #typed = new Map<string, string>();
  #way: Way = "box";
  #wipe = false;
  #told = el("p", { class: "slip", role: "status" });

  constructor(ui: Ui, draw: (shapes: Shape[]) => Promise<void>) {
    this.#ui = ui;
    this.#draw = draw;
  }

  refresh(): void {
    const skin = skinOf(this.#ui);
    const head = el(
      "div",
      { class: "sheet-head" },
      el("h2", { id: "numbers-title", tabindex: -1 }, "By typed numbers"),
      el("p", { class: "help" }, `on ${skin?.name ?? "no skin"}, ${this.#ui.app.face}`),
    );
    if (skin === null) {
      refill(this.node, head, el("p", {}, "The shape of this part is not here."));
      return;
    }
    const ways = this.#ways(skin);
    if (!ways.some(([way]) => way === this.#way)) this.#way = ways[0]?.[0] ?? "whole";
    const chooser = el(
      "div",
      { class: "choices", role: "group", "aria-label": "Way" },
      ways.map(([way, label]) =>
        el(
          "button",
          {
            type: "button",
            class: "toggle",
            "aria-pressed": String(way === this.#way),
            "data-key": way,
            onclick: () => {
              this.#way = way;
              this.refresh();
            },
          },
          label,
        ),
      ),
    );
    const wipe = el(
      "button",
      {
        type: "button",
        class: "toggle",
        "aria-pressed": String(this.#wipe),
        "data-key": "wipe",
        onclick: () => {
          this.#wipe = !this.#wipe;
          this.refresh();
        },
      },
      "Wipe out instead",
    );
    this.#told.textContent = "";
    refill(this.node, head, chooser, this.#fields(skin), wipe, this.#told);
  }

  #ways(skin: SkinHeader): [Way, string][] {
    const all: [Way, string][] = [];
    if (skin.grid.stations.length > 0) all.push(["box", skin.round ? "Stations and degrees" : "Stations and % chord"]);
    if (names(skin, "rib").length > 0 && names(skin, "spar").length > 0) all.push(["tape", "Rib and tape"]);
    if (skin.panels.length > 0) all.push(["panel", "Panel"]);
    if (skin.bays.length > 0) all.push(["bay", "Bay"]);
    all.push(["whole", "All of this face"]);
    return all;
  }

  #fields(skin: SkinHeader): HTMLElement {
    if (this.#way === "box") return this.#box(skin);
    if (this.#way === "tape") return this.#tape(skin);
    if (this.#way === "whole") return this.#whole();
    const list = this.#way === "panel" ? skin.panels : skin.bays;
    const type = this.#way === "panel" ? ("panel" as const) : ("bay" as const);
    return el(
      "div",
      { class: "choices" },
      list.map(({ name }) =>
        el("button", { type: "button", onclick: () => this.#done({ op: this.#op(), type, name }) }, name),
      ),
    );
  }

  #op(): "add" | "wipe" {
    return this.#wipe ? "wipe" : "add";
  }

  /** It joins what is drawn at once; where the server will not have it, it is taken out again, and
   * the refusal stands here beside the numbers as they were typed. */
  #done(shape: Shape): void {
    const { app, device, recording } = this.#ui;
    const skin = skinOf(this.#ui);
    this.#told.textContent = "";
    const typed = new Map(this.#typed);
    this.#typed.clear();
    const drawn = this.#draw([shape]);
    if (skin === null) return;
    const where = { skin: skin.name, face: app.face, shapes: [{ ...shape, op: "add" as const }], shape: app.part()?.shape ?? "" };
    const partId = app.partId;
    drawn.then(() => device.measure(partId, where)).catch((error: unknown) => {
      if (!recording.takeOut(shape)) return;
      for (const [label, text] of typed) this.#typed.set(label, text);
      this.#ui.open("numbers");
      this.#told.textContent = error instanceof Error ? error.message : String(error);
    });
  }

  #box(skin: SkinHeader): HTMLElement {
    const unit = lengthUnit(this.#ui.app);
    const across = skin.round ? "degrees from the top" : "% chord";
    const from = number(this.#typed, `from station (${unit})`, unit);
    const to = number(this.#typed, `to station (${unit})`, unit);
    const low = number(this.#typed, `from ${across}`);
    const high = number(this.#typed, `to ${across}`);
    const side = select(this.#typed, "side", [["both", "both sides"], ["upper", "upper"], ["lower", "lower"]]);
    const plain = !skin.round && skin.has_chord;
    const act = el("button", { type: "button", class: "main" }, "Take this box");
    act.addEventListener("click", () => {
      const stations = pair(from.value(), to.value(), (v) => lengthOut(this.#ui.app, v));
      const other = pair(low.value(), high.value(), (v) => v);
      if (stations === "half" || other === "half") {
        this.#told.textContent = `A box goes from one number to another: give both, or neither. Stations are lengths ("20", "20 ${unit}"), ${across} plain numbers.`;
        return;
      }
      const [least, most] = skin.round ? [-360, 360] : [0, 100];
      if (other !== null && (other[0] < least || other[1] > most)) {
        this.#told.textContent = `${across} goes from ${least} to ${most}.`;
        return;
      }
      if (stations !== null && !(Math.abs(stations[0]) < FARTHEST && Math.abs(stations[1]) < FARTHEST)) {
        this.#told.textContent = "No aircraft has such a station: look at the number and its unit.";
        return;
      }
      if (stations === null && other === null) {
        this.#told.textContent = `Give stations, ${across}, or both.`;
        return;
      }
      this.#done({
        op: this.#op(),
        type: "box",
        stations,
        chord: skin.round ? null : other,
        angles: skin.round ? other : null,
        side: plain ? (side.value() as "both") : "both",
      });
    });
    const withChord = skin.round || skin.has_chord;
    return el(
      "div",
      { class: "fields two" },
      from.node,
      to.node,
      withChord ? [low.node, high.node] : null,
      plain ? side.node : null,
      act,
    );
  }

  #tape(skin: SkinHeader): HTMLElement {
    const { app } = this.#ui;
    const unit = lengthUnit(app);
    const rib = select(this.#typed, "rib", names(skin, "rib").map((n) => [n, n]));
    const spar = select(this.#typed, "spar", names(skin, "spar").map((n) => [n, n]));
    const outboard = number(this.#typed, `outboard of the rib (${unit})`, unit);
    const aft = number(this.#typed, `aft of the spar (${unit})`, unit);
    const side = select(this.#typed, "side", [["upper", "upper"], ["lower", "lower"]]);
    const radius = number(this.#typed, `radius of a disc (${unit}), empty for a point`, unit);
    const act = el("button", { type: "button", class: "main" }, "Take this place");
    act.addEventListener("click", () => {
      const [out, back, disc] = [outboard.value(), aft.value(), radius.value()];
      if (out === null || back === null || Number.isNaN(out) || Number.isNaN(back)) {
        this.#told.textContent = `Two distances are needed ("5", "5 ${unit}"); inboard and forward are negative.`;
        return;
      }
      if (disc !== null && !(disc > 0)) {
        this.#told.textContent = "The radius is a number more than 0, or nothing.";
        return;
      }
      if (Math.max(Math.abs(out), Math.abs(back), disc ?? 0) > lengthIn(app, FARTHEST)) {
        this.#told.textContent = "No part is that long: look at the numbers and their units.";
        return;
      }
      this.#done({
        op: this.#op(),
        type: "tape",
        rib: rib.value(),
        outboard: lengthOut(app, out),
        spar: spar.value(),
        aft: lengthOut(app, back),
        upper: side.value() === "upper",
        radius: disc === null ? null : lengthOut(app, disc),
      });
    });
    return el("div", { class: "fields two" }, rib.node, outboard.node, spar.node, aft.node, side.node, radius.node, act);
  }

  #whole(): HTMLElement {
    const act = el("button", { type: "button", class: "main" }, `Take all of ${this.#ui.app.face}`);
    act.addEventListener("click", () => this.#done({ op: this.#op(), type: "whole" }));
    return el("div", { class: "fields" }, act);
  }
}

function names(skin: SkinHeader, kind: string): string[] {
  return [...new Set(skin.lines.filter((l) => l.kind === kind && l.name !== "").map((l) => l.name))];
}

/** Two numbers in order, null where neither is given, "half" where one is, or one is no number. */
function pair(a: number | null, b: number | null, out: (v: number) => number): [number, number] | null | "half" {
  if (a === null && b === null) return null;
  if (a === null || b === null || Number.isNaN(a) || Number.isNaN(b)) return "half";
  return [out(Math.min(a, b)), out(Math.max(a, b))];
}

/** One number to type; in `unit` where it is a length, which may also be typed with another. */
function number(typed: Map<string, string>, label: string, unit = ""): { node: HTMLElement; value(): number | null } {
  const id = ownId("number");
  const input = el("input", { type: "text", inputmode: "decimal", id, autocomplete: "off", value: typed.get(label) ?? "" });
  input.addEventListener("input", () => typed.set(label, input.value));
  return {
    node: el("div", { class: "field" }, el("label", { for: id }, label), input),
    value: () => {
      const text = input.value.trim();
      if (unit !== "") return lengthOf(text, unit);
      const plain = text.replace(/\s*[%°]$/, "");
      return plain === "" ? null : Number(plain);
    },
  };
}

function select(typed: Map<string, string>, label: string, options: [string, string][]): { node: HTMLElement; value(): string } {
  const id = ownId("select");
  const input = el("select", { id, value: typed.get(label) }, options.map(([value, words]) => el("option", { value }, words)));
  input.addEventListener("change", () => typed.set(label, input.value));
  return {
    node: el("div", { class: "field" }, el("label", { for: id }, label), input),
    value: () => input.value,
  };
}
