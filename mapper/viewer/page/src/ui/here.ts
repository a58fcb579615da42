// Where the person tapped: what is there, and what can be recorded there.

import type { Under } from "../views/types.ts";
import { el, refill } from "./el.ts";
import { trying, type Ui } from "./context.ts";
import { kindButtons } from "./kinds.ts";
import { entryRow } from "./rows.ts";
import { length } from "./words.ts";

const MOST_WANTED = "finding";

export class Here {
  readonly node = el("section", { class: "here", "aria-labelledby": "here-title" });
  #ui: Ui;

  constructor(ui: Ui) {
    this.#ui = ui;
  }

  refresh(): void {
    const { app } = this.#ui;
    const at = this.#ui.here;
    const entries = (at?.entries ?? []).map((id) => app.entry(id)).filter((e) => e !== null);
    refill(
      this.node,
      el(
        "div",
        { class: "sheet-head" },
        el("h2", { id: "here-title", tabindex: -1 }, at === null ? "Record on this part" : "This place"),
        at === null ? null : el("p", {}, underWords(this.#ui, at).join(", ")),
      ),
      entries.length === 0
        ? [
            el("h3", {}, at === null ? "What is it?" : "Record here"),
            kindButtons(this.#ui, (name) => this.#begin(name)),
          ]
        : [this.#first(), el("h3", {}, "Here already"), el("ul", { class: "rows" }, entries.map((e) => entryRow(this.#ui, e, false)))],
    );
  }

  /** Where much lies already: a finding is the next tap all the same, the rest is folded above it. */
  #first(): HTMLElement[] {
    const begin = (name: string) => this.#begin(name);
    return [
      kindButtons(this.#ui, begin, (name) => name === MOST_WANTED),
      el("details", {}, el("summary", {}, "Record something else here"), kindButtons(this.#ui, begin, (name) => name !== MOST_WANTED)),
    ];
  }

  /** A kind that may be a point is placed at once; others are drawn next. */
  #begin(name: string): void {
    const { app, recording } = this.#ui;
    const at = this.#ui.here;
    const regions = app.kind(name)?.regions ?? [];
    const point = at !== null && regions.includes("point");
    trying(app, "It is not begun", async () => {
      const where = point
        ? { skin: at.skin, face: at.face, shapes: [{ op: "add" as const, type: "point" as const, at: at.flat }] }
        : null;
      await recording.begin(name, where);
      this.#ui.open("form");
      if (!point && regions.includes("area") && this.#ui.shape !== null) {
        app.tool = { type: "brush", radius: 12, wipe: false };
        app.tell("tool");
        app.say("Now paint where: the brush is in hand.");
      }
    });
  }
}

/** What lies under a place, in the shop's units: station, % chord, panel, nearest rib and row. */
export function underWords(ui: Ui, at: Under): string[] {
  const { app } = ui;
  const words: string[] = [];
  if (at.station !== null) words.push(`station ${length(app, at.station)}`);
  if (at.chord !== null && at.round) words.push(`${at.chord.toFixed(0)}° from the top`);
  else if (at.chord !== null) {
    const side = at.upper === null ? "" : at.upper ? ", upper" : ", lower";
    words.push(`${Math.abs(at.chord).toFixed(1)} % chord${side}`);
  }
  if (at.panel !== "") words.push(at.panel);
  if (at.bay !== "") words.push(at.bay);
  if (at.rib !== null) words.push(`${length(app, Math.abs(at.rib.distance))} from ${at.rib.name}`);
  if (at.row !== null) words.push(`${length(app, Math.abs(at.row.distance))} from ${at.row.name}`);
  return words;
}
