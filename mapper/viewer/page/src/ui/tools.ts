// The bar of tools at the thumb's edge, and what can be set of the one in hand.

import type { Tool } from "../state.ts";
import { el, refill } from "./el.ts";
import type { Ui } from "./context.ts";
import { icon, type Icon } from "./icons.ts";
import { lengthOf } from "./typed.ts";
import { digits, lengthIn, lengthOut, lengthUnit } from "./words.ts";

type Name = Tool["type"];

const TOOLS: { name: Name; label: string; sign: Icon; help: string }[] = [
  { name: "look", label: "Look", sign: "look", help: "turn and tap; nothing is drawn" },
  { name: "brush", label: "Brush", sign: "brush", help: "paint an area with one finger" },
  { name: "polygon", label: "Corners", sign: "polygon", help: "tap the corners of an area" },
  { name: "line", label: "Line", sign: "line", help: "draw along a crack, a seam, a tape" },
  { name: "point", label: "Point", sign: "point", help: "tap one place" },
];

/** Radii on the slider, mm: fine where a pit is, coarse where a whole bay is. */
/** The widest brush and the widest line, mm: nobody paints a wing with one dab. */
const WIDEST = 2000;
const STEPS = [1, 2, 3, 5, 8, 12, 20, 30, 50, 80, 120, 200];

export class Tools {
  readonly bar = el("div", { class: "tools", role: "toolbar", "aria-label": "Tools" });
  readonly settings = el("div", { class: "settings", role: "group", "aria-label": "Settings of the tool" });
  #ui: Ui;
  #views: { finish(): void; back(): void };
  #buttons = new Map<string, HTMLButtonElement>();
  #radius = 12;
  #width: number | null = null;
  #wipe = false;

  /** views: what closes the corners or the line being drawn, and takes the last corner back. */
  constructor(ui: Ui, views: { finish(): void; back(): void }) {
    this.#ui = ui;
    this.#views = views;
    for (const { name, label, sign, help } of TOOLS) {
      const button = el(
        "button",
        { type: "button", class: "tool", title: help, "data-key": name, onclick: () => this.take(name) },
        icon(sign),
        el("span", {}, label),
      );
      this.#buttons.set(name, button);
    }
    const typed = el(
      "button",
      {
        type: "button",
        class: "tool",
        title: "an area or a place by station, % chord, rib, tape, panel or bay",
        "data-key": "numbers",
        onclick: () => this.#ui.open(this.#ui.pane === "numbers" ? "none" : "numbers"),
      },
      icon("numbers"),
      el("span", {}, "Typed"),
    );
    this.#buttons.set("numbers", typed);
    this.bar.append(...this.#buttons.values());
    this.bar.addEventListener("keydown", (event) => this.#arrows(event));
    ui.on("tool", () => this.refresh());
    // Wiping belongs to what is being recorded: the next one is painted again.
    ui.on("draft", () => {
      if (ui.app.draft === null && this.#wipe) {
        this.#wipe = false;
        if ("wipe" in ui.app.tool) this.take(ui.app.tool.type);
      }
    });
    this.refresh();
  }

  take(name: Name): void {
    const { app } = this.#ui;
    if (name === "brush") app.tool = { type: "brush", radius: this.#radius, wipe: this.#wipe };
    else if (name === "polygon") app.tool = { type: "polygon", wipe: this.#wipe };
    else if (name === "line") app.tool = { type: "line", width: this.#width };
    else app.tool = { type: name };
    app.tell("tool");
  }

  /** One stop for the tab key, arrows from tool to tool: as a toolbar is used. */
  #arrows(event: KeyboardEvent): void {
    const all = [...this.#buttons.values()];
    const at = all.indexOf(document.activeElement as HTMLButtonElement);
    const by = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (at < 0 || by === undefined) return;
    event.preventDefault();
    all[(at + by + all.length) % all.length]?.focus();
  }

  refresh(): void {
    const { tool } = this.#ui.app;
    for (const [name, button] of this.#buttons) {
      const on = name === "numbers" ? this.#ui.pane === "numbers" : name === tool.type;
      button.setAttribute("aria-pressed", String(on));
      button.tabIndex = name === tool.type ? 0 : -1;
    }
    this.#settings(tool);
  }

  #settings(tool: Tool): void {
    const host = this.settings;
    host.hidden = tool.type === "look" || tool.type === "point";
    if (host.hidden) {
      host.replaceChildren();
      return;
    }
    const wipe = tool.type === "brush" || tool.type === "polygon" ? this.#wiper(tool.wipe) : null;
    if (tool.type === "brush") refill(host, wipe, this.#size("radius", tool.radius, false));
    else if (tool.type === "line") refill(host, this.#size("width", tool.width, true), this.#ends("End the line"));
    else refill(host, wipe, this.#ends("Close it"));
  }

  /** For hands that do not tap twice: corners are closed, or the last taken back, by buttons. */
  #ends(finish: string): HTMLElement {
    const act = (words: string, key: string, work: () => void) =>
      el("button", { type: "button", "data-key": key, onclick: work }, words);
    return el(
      "div",
      { class: "ends" },
      act("Corner back", "corner", () => this.#views.back()),
      act(finish, "finish", () => this.#views.finish()),
    );
  }

  #wiper(on: boolean): HTMLElement {
    const button = el(
      "button",
      { type: "button", class: "toggle", "aria-pressed": String(on), "data-key": "wipe" },
      icon("wipe"),
      el("span", { class: "roomy-only" }, on ? "Wiping out" : "Wipe out"),
    );
    button.addEventListener("click", () => {
      this.#wipe = !on;
      this.take(this.#ui.app.tool.type);
    });
    return button;
  }

  #size(label: string, mm: number | null, optional: boolean): HTMLElement {
    const { app } = this.#ui;
    const unit = lengthUnit(app);
    const shown = mm === null ? "" : digits(lengthIn(app, mm));
    const typed = el("input", {
      type: "text",
      inputmode: "decimal",
      value: shown,
      "data-key": `${label} typed`,
      "aria-label": `${label}, ${unit}`,
      placeholder: optional ? "none" : null,
    });
    const set = (value: number | null) => {
      if (label === "radius" && value !== null) this.#radius = value;
      if (label === "width") this.#width = value;
      this.take(app.tool.type);
    };
    typed.addEventListener("change", () => {
      const value = lengthOf(typed.value, unit);
      const most = lengthIn(app, WIDEST);
      app.unsay(`The ${label} is`);
      if (value === null && optional) set(null);
      else if (value === null || !(value > 0 && value <= most)) {
        app.say(`The ${label} is a number more than 0, at most ${digits(most)} ${unit}.`, "warn");
        typed.value = shown;
      } else set(lengthOut(app, value));
    });
    const nearest = STEPS.reduce((a, b) => (Math.abs(b - (mm ?? 12)) < Math.abs(a - (mm ?? 12)) ? b : a));
    const slide = el("input", {
      type: "range",
      min: 0,
      max: STEPS.length - 1,
      value: STEPS.indexOf(nearest),
      "aria-label": `${label}, coarse`,
      "aria-valuetext": mm === null ? "none" : `${shown} ${unit}`,
      "data-key": `${label} slide`,
    });
    slide.addEventListener("input", () => set(STEPS[Number(slide.value)] ?? 12));
    return el(
      "div",
      { class: "size-setting" },
      el("span", { class: "label roomy-only", "aria-hidden": "true" }, label),
      slide,
      typed,
      el("span", { class: "unit", "aria-hidden": "true" }, unit),
    );
  }
}
