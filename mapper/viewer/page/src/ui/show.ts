// What is shown and hidden: kind, coat, date, person, state, and what the map itself has.

import type { Show } from "../state.ts";
import { el, refill, type Child } from "./el.ts";
import { trying, type Ui } from "./context.ts";
import { swatch } from "./swatch.ts";
import { capital, day } from "./words.ts";

const DAY = 86400000;

/** Under this name the device keeps how a person's hands are. */
export const HANDS = "hands";

export class ShowSheet {
  readonly node = el("section", { class: "show-sheet", "aria-labelledby": "show-title" });
  #ui: Ui;
  #gloves = false;

  constructor(ui: Ui) {
    this.#ui = ui;
    void ui.device.last(HANDS).then((kept) => (this.#gloves = kept["gloves"] === "yes"), () => {});
    for (const topic of ["show", "book", "start"] as const) {
      ui.on(topic, () => {
        if (ui.pane === "show") this.refresh();
      });
    }
  }

  refresh(): void {
    const { app } = this.#ui;
    const entries = app.entries();
    const count = entries.filter((e) => app.shows(e)).length;
    const people = (app.start?.people ?? []).map((p) => ({ key: p.id, label: p.name, sign: null }));
    const kinds = (app.fields?.kinds ?? []).map((k) => ({
      key: k.name,
      label: capital(k.plural),
      sign: swatch(app, k.style),
    }));
    const states = (app.fields?.states ?? []).map((s) => ({ key: s, label: capital(s), sign: null }));
    refill(
      this.node,
      el(
        "div",
        { class: "sheet-head" },
        el("h2", { id: "show-title", tabindex: -1 }, "Show"),
        el("p", { class: "help", role: "status" }, `${count} of ${entries.length} entries are shown`),
      ),
      el(
        "fieldset",
        { class: "field" },
        el("legend", {}, "on the map"),
        this.#flag("unseen", "hatch what nobody has looked at"),
        this.#flag("grid", "stations and % chord"),
        this.#flag("structure", "ribs, spars, rivet rows"),
      ),
      this.#hands(),
      this.#until(),
      this.#coat(),
      this.#set("kind", "hiddenKinds", kinds),
      this.#set("state", "hiddenStates", states),
      this.#set("person", "hiddenPeople", people),
      el(
        "button",
        {
          type: "button",
          "data-key": "all",
          onclick: () =>
            this.#change((s) => {
              s.hiddenKinds.clear();
              s.hiddenStates.clear();
              s.hiddenPeople.clear();
              s.until = null;
              s.coat = 0;
            }),
        },
        "Show everything",
      ),
    );
  }

  #change(change: (show: Show) => void): void {
    change(this.#ui.app.show);
    this.#ui.app.tell("show");
  }

  #flag(name: "unseen" | "grid" | "structure", label: string): HTMLElement {
    const input = el("input", { type: "checkbox", checked: this.#ui.app.show[name], "data-key": name });
    input.addEventListener("change", () => this.#change((s) => (s[name] = input.checked)));
    return el("label", { class: "check" }, input, label);
  }

  #hands(): HTMLElement {
    const { app, device } = this.#ui;
    const input = el("input", { type: "checkbox", "data-key": "gloves", checked: this.#gloves });
    input.addEventListener("change", () =>
      trying(app, "It is not kept", async () => {
        this.#gloves = input.checked;
        await device.remember(HANDS, { gloves: input.checked ? "yes" : "no" });
        app.tell("show");
      }),
    );
    return el(
      "fieldset",
      { class: "field" },
      el("legend", {}, "hands"),
      el("label", { class: "check" }, input, "thick gloves: wide contacts paint too"),
    );
  }

  #set(
    label: string,
    name: "hiddenKinds" | "hiddenStates" | "hiddenPeople",
    items: { key: string; label: string; sign: Child }[],
  ): HTMLElement {
    const hidden = this.#ui.app.show[name];
    return el(
      "fieldset",
      { class: "field" },
      el("legend", {}, label),
      items.map(({ key, label: words, sign }) => {
        const input = el("input", { type: "checkbox", checked: !hidden.has(key), "data-key": `${name} ${key}` });
        input.addEventListener("change", () =>
          this.#change((s) => void (input.checked ? s[name].delete(key) : s[name].add(key))),
        );
        return el("label", { class: "check" }, input, sign, words);
      }),
    );
  }

  /** A slider through time: how the part stood at the end of that day. */
  #until(): HTMLElement {
    const { app } = this.#ui;
    const days = app.entries().map((e) => e.device_time.slice(0, 10)).sort();
    const first = days[0];
    const last = days[days.length - 1];
    if (first === undefined || last === undefined || first === last) {
      return el("p", { class: "help" }, "All entries are of one day.");
    }
    const from = Date.parse(`${first}T12:00:00Z`);
    const steps = Math.round((Date.parse(`${last}T12:00:00Z`) - from) / DAY);
    const { until } = app.show;
    const at = until === null ? steps : Math.round((Date.parse(`${until}T12:00:00Z`) - from) / DAY);
    const words = until === null ? `all, up to ${day(last)}` : `up to ${day(until)}`;
    const slide = el("input", {
      type: "range",
      id: "until",
      min: 0,
      max: steps,
      value: Math.min(at, steps),
      "aria-valuetext": words,
      "data-key": "until",
    });
    slide.addEventListener("input", () => {
      const value = Number(slide.value);
      const iso = new Date(from + value * DAY).toISOString().slice(0, 10);
      this.#change((s) => (s.until = value === steps ? null : iso));
    });
    return el(
      "div",
      { class: "field" },
      el("label", { for: "until" }, "date"),
      slide,
      el("p", { class: "help" }, words),
    );
  }

  #coat(): HTMLElement {
    const { app } = this.#ui;
    const all: [number, string][] = [[0, "all coats"], [1, "1, outermost"], [2, "2"], [3, "3"], [4, "4"], [5, "5"]];
    const select = el(
      "select",
      { id: "coat", value: app.show.coat, "data-key": "coat" },
      all.map(([value, label]) => el("option", { value }, label)),
    );
    select.addEventListener("change", () => this.#change((s) => (s.coat = Number(select.value))));
    return el(
      "div",
      { class: "field" },
      el("label", { for: "coat" }, "coat, counted from outside"),
      select,
      el("p", { class: "help" }, "hides entries that name other coats only"),
    );
  }
}
