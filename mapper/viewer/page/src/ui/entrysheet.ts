// One entry as it stands: what it says, its photos, and what can be done with it.

import type { LocalEntry } from "../state.ts";
import type { Id } from "../wire.ts";
import { deferral } from "./deferral.ts";
import { doubt, offSheet } from "./doubt.ts";
import { dialog, el, refill, twice } from "./el.ts";
import { trying, type Ui } from "./context.ts";
import { cautions } from "./form.ts";
import { icon } from "./icons.ts";
import { photo } from "./photos.ts";
import { givenOf } from "./given.ts";
import { marks } from "./rows.ts";
import { swatch } from "./swatch.ts";
import { day, moment, named, place, size } from "./words.ts";

export class EntrySheet {
  readonly node = el("section", { class: "entry-sheet", "aria-labelledby": "entry-title" });
  #ui: Ui;
  /** The entry whose place was confirmed here last, "" before. */
  #confirmed: Id = "";
  /** The entry that is being put off, until its day is chosen. */
  #deferring: Id = "";

  constructor(ui: Ui) {
    this.#ui = ui;
    for (const topic of ["book", "outbox", "entry"] as const) {
      ui.on(topic, () => {
        if (ui.pane === "entry") this.refresh();
      });
    }
  }

  refresh(): void {
    const { app } = this.#ui;
    const entry = app.entry();
    if (entry === null) {
      refill(this.node, el("p", { class: "empty" }, "This entry is not there any more: it was removed."), this.#back());
      return;
    }
    const kind = app.kind(entry.kind);
    const known = (kind?.fields ?? []).filter((f) => entry.told[f.name] !== undefined);
    const missing = (kind?.fields ?? []).filter((f) => entry.missing.includes(f.name));
    refill(
      this.node,
      el(
        "div",
        { class: "sheet-head" },
        el("h2", { id: "entry-title", tabindex: -1 }, swatch(app, kind?.style ?? "other"), named(entry)),
        el("p", {}, [size(app, entry), place(entry)].filter(Boolean).join(", ")),
        marks(entry),
      ),
      doubt(this.#ui, entry, this.#confirmed, (id) => {
        this.#confirmed = id;
        this.refresh();
      }),
      this.#state(entry),
      el(
        "dl",
        { class: "told" },
        known.map((f) => [el("dt", {}, f.label), el("dd", {}, this.#shown(f.refers_to, entry.told[f.name] ?? ""))]),
        entry.note === "" ? null : [el("dt", {}, "note"), el("dd", {}, entry.note)],
        el("dt", {}, "recorded"),
        el("dd", {}, `${entry.by_name}, ${moment(entry.device_time)}${entry.clock ? ` (${entry.clock})` : ""}`),
      ),
      missing.length === 0
        ? null
        : el("p", { class: "to-complete" }, `To complete: ${missing.map((f) => f.label).join(", ")}`),
      this.#photos(entry),
      this.#acts(entry),
      kind === null ? null : cautions(kind),
      this.#back(),
    );
  }

  #shown(refers: string, text: string): string {
    const { app } = this.#ui;
    if (refers === "person") return app.personName(text);
    if (refers === "entry") return app.entry(text)?.title ?? text;
    if (refers !== "") return app.book?.references[refers]?.find((r) => r.id === text)?.words ?? text;
    return text;
  }

  #back(): HTMLElement {
    return el(
      "button",
      { type: "button", class: "quiet", "data-key": "back", onclick: () => this.#ui.open("entries") },
      icon("list"),
      "All entries here",
    );
  }

  /** What is left to do, as large buttons: the one change that is made most often. */
  #state(entry: LocalEntry): HTMLElement {
    const { app, device } = this.#ui;
    if (entry.refused) return el("p", {}, `State: ${entry.state}`);
    const put = (state: string, day: string | null) => {
      this.#deferring = "";
      const given = { ...givenOf(entry), state, deferred_to: day };
      trying(app, "The state is not changed", () =>
        device.keep({ words: `${entry.kind}: ${state}`, steps: [{ op: "change", entry: given }] }),
      );
    };
    const deferring = this.#deferring === entry.id;
    const inputs = (app.fields?.states ?? []).map((state) => {
      const input = el("input", {
        type: "radio",
        name: "entry-state",
        value: state,
        checked: state === (deferring ? "deferred" : entry.state),
        "data-key": state,
      });
      input.addEventListener("change", () => {
        if (state !== "deferred") put(state, null);
        else {
          // It is kept with its day: without one nobody would know when to look again.
          this.#deferring = entry.id;
          this.refresh();
          this.node.querySelector<HTMLElement>(".deferral input")?.focus();
        }
      });
      const words = state === "deferred" && entry.deferred_to !== null ? `deferred to ${day(entry.deferred_to)}` : state;
      return el("label", { class: "choice" }, input, el("span", {}, words));
    });
    const when = deferring || entry.state === "deferred"
      ? deferral(entry.deferred_to ?? "", (to) => {
          if (to !== "" && to !== entry.deferred_to) put("deferred", to);
        })
      : null;
    return el("fieldset", { class: "field" }, el("legend", {}, "state"), el("div", { class: "choices" }, inputs), when);
  }

  #photos(entry: LocalEntry): HTMLElement | null {
    if (entry.photos.length === 0) return null;
    return el(
      "ul",
      { class: "thumbs" },
      entry.photos.map((use, i) => {
        const button = el(
          "button",
          { type: "button", class: "thumb", "aria-label": `Photo ${i + 1} large` },
          photo(this.#ui, use, `Photo ${i + 1}`),
        );
        button.addEventListener("click", () => {
          const opened = dialog(use.caption || `Photo ${i + 1}`, "wide");
          opened.body.append(el("div", { class: "large-photo" }, photo(this.#ui, use, `Photo ${i + 1}`)));
        });
        return el("li", {}, button, use.caption === "" ? null : el("span", {}, use.caption));
      }),
    );
  }

  #acts(entry: LocalEntry): HTMLElement {
    const { app, recording } = this.#ui;
    if (entry.refused) {
      return el("p", { class: "note" }, "The server refused it. What becomes of it is decided under Unsent.");
    }
    const act = (sign: Parameters<typeof icon>[0], words: string, work: () => Promise<void>) =>
      el(
        "button",
        {
          type: "button",
          "data-key": words,
          onclick: () => trying(app, words, work),
        },
        icon(sign),
        words,
      );
    const change = (outline: boolean) => async () => {
      // What stayed behind on an earlier shape is drawn anew: nothing of it can be kept.
      await recording.change(entry, outline && !offSheet(this.#ui, entry));
      this.#ui.open("form");
      if (outline && app.tool.type === "look") {
        app.tool = { type: "brush", radius: 12, wipe: false };
        app.tell("tool");
      }
    };
    const drawn = entry.outline !== null || entry.drawn !== null;
    const mirror = app.part(entry.part_id)?.mirror_id ?? "";
    const other = app.part(mirror);
    return el(
      "div",
      { class: "acts" },
      act("pen", "Change", change(false)),
      act("brush", drawn ? "Change the outline" : "Draw its outline", change(true)),
      // The mirror place is worked out from the outline as stored: an unsent one has none yet.
      other === null || entry.outline === null || entry.unsent
        ? null
        : act("mirror", `Copy to ${other.name}`, () => this.#mirror(entry, other.id)),
      twice("Remove this entry", "Tap again to remove it", () => {
        trying(app, "It is not removed", async () => {
          await this.#ui.device.keep({
            words: `${entry.kind} removed`,
            steps: [{ op: "remove", entry: givenOf(entry) }],
          });
          app.say("Removed. Undo brings it back.");
          this.#ui.open("entries");
        });
      }),
    );
  }

  async #mirror(entry: LocalEntry, partId: string): Promise<void> {
    const kind = this.#ui.app.kind(entry.kind);
    const measured = (kind?.fields ?? []).filter((f) => ["number", "measured", "date", "time", "records", "shape"].includes(f.type));
    await this.#ui.recording.mirror(entry, partId, new Set(measured.map((f) => f.name)));
    this.#ui.openPart(partId);
    this.#ui.open("form");
    this.#ui.app.say("Copied to the mirror place. Look at it, then close it with Done.");
  }
}
