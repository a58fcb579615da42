// The entries of a part or of the whole job, and what of them is still to complete.

import type { LocalEntry } from "../state.ts";
import { el, refill } from "./el.ts";
import type { Ui } from "./context.ts";
import { entryRow } from "./rows.ts";
import { many } from "./words.ts";

type Only = "all" | "complete" | "doubt";

/** More rows than anybody scrolls through; the rest are counted, and search finds them. */
const MOST = 200;

const NONE: Record<Only, string> = {
  all: "Nothing is recorded yet.",
  complete: "Nothing is left to complete.",
  doubt: "No place is in doubt.",
};

export class Entries {
  readonly node: HTMLElement;
  #ui: Ui;
  #whole: boolean;
  #only: Only = "all";
  #search = "";
  #list = el("ul", { class: "rows" });
  #count = el("p", { class: "help", role: "status" });
  #tabs = el("div", { class: "choices", role: "group", "aria-label": "Which entries" });

  /** whole: the entries of the job, not of the part that is open. */
  constructor(ui: Ui, whole: boolean) {
    this.#ui = ui;
    this.#whole = whole;
    this.node = el("section", { class: "entries", "aria-labelledby": whole ? "all-title" : "entries-title" });
    const search = el("input", { type: "search", id: whole ? "search-all" : "search-entries" });
    search.addEventListener("input", () => {
      this.#search = search.value;
      this.refresh();
    });
    this.node.append(
      el(
        "div",
        { class: "sheet-head" },
        el("h2", { id: whole ? "all-title" : "entries-title", tabindex: -1 }, whole ? "Entries of the job" : "Entries here"),
        this.#count,
      ),
      this.#tabs,
      el("div", { class: "field" }, el("label", { for: search.id }, "Search"), search),
      this.#list,
    );
    for (const topic of ["book", "outbox", "show", "part", "entry"] as const) {
      ui.on(topic, () => {
        if (this.node.isConnected && !this.node.hidden) this.refresh();
      });
    }
  }

  /** Show the to-complete list at once. */
  complete(): void {
    this.#only = "complete";
    this.refresh();
  }

  refresh(): void {
    const { app } = this.#ui;
    const own = app.entries().filter((e) => this.#whole || e.part_id === app.partId);
    const shown = own.filter((e) => app.shows(e));
    const open = shown.filter((e) => e.missing.length > 0);
    const doubted = shown.filter((e) => e.unconfirmed);
    const tab = (only: Only, words: string) =>
      el(
        "button",
        {
          type: "button",
          class: "toggle",
          "data-key": only,
          "aria-pressed": String(this.#only === only),
          onclick: () => {
            this.#only = only;
            this.refresh();
          },
        },
        words,
      );
    refill(
      this.#tabs,
      tab("all", `All (${shown.length})`),
      tab("complete", `To complete (${open.length})`),
      // Only a corrected shape brings such places about.
      doubted.length > 0 || this.#only === "doubt" ? tab("doubt", `Place to confirm (${doubted.length})`) : null,
    );
    const words = this.#search.trim().toLowerCase();
    const found = { all: shown, complete: open, doubt: doubted }[this.#only]
      .filter((e) => words === "" || told(e, app.part(e.part_id)?.name ?? "").includes(words))
      .sort((a, b) => b.device_time.localeCompare(a.device_time));
    const hidden = own.length - shown.length;
    const notes = [hidden > 0 ? `${many(hidden, "entry", "entries")} hidden by Show` : ""];
    if (found.length > MOST) notes.push(`the newest ${MOST} of ${found.length} are listed`);
    this.#count.textContent = notes.filter(Boolean).join("; ");
    if (found.length === 0) {
      const none = words !== "" ? "Nothing found." : NONE[this.#only];
      refill(this.#list, el("li", { class: "empty" }, none));
      return;
    }
    refill(this.#list, found.slice(0, MOST).map((e) => entryRow(this.#ui, e, this.#whole)));
  }
}

function told(entry: LocalEntry, part: string): string {
  return [entry.title, entry.kind, entry.where, entry.place, entry.note, entry.by_name, part, ...Object.values(entry.told)]
    .join(" ")
    .toLowerCase();
}
