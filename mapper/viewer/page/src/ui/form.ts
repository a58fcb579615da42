// The sheet on which one entry is recorded or changed. It saves itself; closing it keeps it.

import { el, refill, twice, type Child } from "./el.ts";
import { deferral } from "./deferral.ts";
import { FieldList } from "./fields.ts";
import { Photos } from "./photos.ts";
import { trying, type Ui } from "./context.ts";
import { NO_KIND } from "./recording.ts";
import { kindButtons } from "./kinds.ts";
import { icon } from "./icons.ts";
import type { Choices } from "./widgets.ts";
import { capital, many } from "./words.ts";
import type { KindView } from "../wire.ts";

export class Form {
  readonly node = el("section", { class: "form", "aria-labelledby": "form-title" });
  #ui: Ui;
  #of = "";
  #size = el("p", { class: "size", "aria-live": "polite" });
  #saved = el("p", { class: "help", role: "status" });
  #photos: Photos | null = null;
  #place: HTMLElement | null = null;

  constructor(ui: Ui) {
    this.#ui = ui;
    ui.on("draft", () => this.refresh());
    ui.on("start", () => {
      this.#of = "";
      this.refresh();
    });
    this.refresh();
  }

  /** Make the form again when another entry or kind is recorded, else only what changes by itself. */
  refresh(): void {
    const draft = this.#ui.app.draft;
    const of = draft === null ? "" : `${draft.entry.id} ${draft.entry.kind}`;
    if (of !== this.#of) {
      this.#of = of;
      this.#photos = null;
      if (draft === null) this.node.replaceChildren();
      else this.#make();
    }
    if (draft === null) return;
    const { recording } = this.#ui;
    const wrong = recording.wrongSort() || recording.refused;
    const size = recording.sizeWords();
    this.#size.textContent = wrong || size || (recording.hasPlace() ? "placed" : "No place yet: draw it, or write where it is.");
    this.#size.classList.toggle("wrong", wrong !== "" || !recording.hasPlace());
    this.#saved.textContent = recording.changed
      ? "Saved on this device as a draft at every change."
      : "Kept. What you change now is kept when you close it.";
    this.#photos?.refresh();
    if (this.#place !== null) this.#place.hidden = (draft.entry.where?.shapes.length ?? 0) > 0;
  }

  #make(): void {
    const { app, recording } = this.#ui;
    const entry = app.draft!.entry;
    const kind = app.kind(entry.kind);
    const part = app.part(entry.part_id);
    const title = kind === null ? "What is it?" : `${recording.draft?.from == null ? "New " : ""}${kind.name}`;
    const head = el(
      "div",
      { class: "sheet-head" },
      el("h2", { id: "form-title", tabindex: -1 }, capital(title)),
      el("p", { class: "help" }, `on ${part?.name ?? "a part"}`),
      this.#size,
    );
    if (kind === null) {
      this.#fill([head, kindButtons(this.#ui, (name) => this.#choose(name))]);
      return;
    }
    this.#photos = new Photos(this.#ui);
    const list = new FieldList(kind, entry.values, choices(this.#ui), (name, text) => recording.value(name, text));
    void this.#ui.device.last(kind.name).then((last) => list.offer(last), () => {});
    this.#fill([head, this.#photos.node, this.#words(kind), list.node, this.#after(), cautions(kind)]);
  }

  /** What scrolls, and the buttons below it, which never lie over a field. */
  #fill(children: Child[]): void {
    refill(this.node, el("div", { class: "scroll" }, children), this.#foot());
  }

  #choose(name: string): void {
    this.#ui.app.unsay(NO_KIND);
    this.#ui.recording.set((entry) => (entry.kind = name));
    this.node.querySelector<HTMLElement>("h2")?.focus();
  }

  #words(kind: KindView): HTMLElement | null {
    if (!kind.regions.includes("place")) return null;
    const { app, recording } = this.#ui;
    const input = el("input", { type: "text", id: "place-words", value: app.draft!.entry.place });
    input.addEventListener("input", () => recording.set((entry) => (entry.place = input.value)));
    this.#place = el(
      "div",
      { class: "field" },
      el("label", { for: "place-words" }, "where, in words"),
      input,
      el("p", { class: "help" }, "where nothing is drawn: rib 7, aft face"),
    );
    return this.#place;
  }

  #after(): HTMLElement {
    const { app, recording } = this.#ui;
    const entry = app.draft!.entry;
    const note = el("textarea", { id: "note", rows: 2 });
    note.value = entry.note;
    note.addEventListener("input", () => recording.set((e) => (e.note = note.value)));
    let day = entry.deferred_to ?? "";
    const untilField = deferral(day, (to) => {
      day = to;
      recording.set((e) => (e.deferred_to = to || null));
    });
    untilField.hidden = entry.state !== "deferred";
    const states = (app.fields?.states ?? []).map((state) => {
      const input = el("input", { type: "radio", name: "state", value: state, checked: state === entry.state });
      input.addEventListener("change", () => {
        untilField.hidden = state !== "deferred";
        recording.set((e) => {
          e.state = state;
          e.deferred_to = state === "deferred" && day !== "" ? day : null;
        });
      });
      return el("label", { class: "choice" }, input, el("span", {}, state));
    });
    return el(
      "div",
      { class: "fields" },
      el("div", { class: "field" }, el("label", { for: "note" }, "note"), note),
      el(
        "fieldset",
        { class: "field" },
        el("legend", {}, "state"),
        el("div", { class: "choices" }, states),
        el("p", { class: "help" }, "what is left to do; no state says that something is serviceable"),
      ),
      untilField,
    );
  }

  #foot(): HTMLElement {
    const { app, recording } = this.#ui;
    const isNew = app.draft?.from == null;
    const done = el("button", { type: "button", class: "main", "data-key": "done" }, icon("sent"), "Done");
    done.addEventListener("click", () => trying(app, "It is not kept", () => this.close()));
    const away = twice(
      isNew ? "Throw it away" : "Leave as it was",
      "Tap again: what you changed is lost",
      () => {
        trying(app, "It is still there", async () => {
          await recording.discard();
          this.#ui.open("entries");
        });
      },
    );
    return el("div", { class: "sheet-foot" }, this.#saved, el("div", { class: "row" }, done, away));
  }

  /** Keep it and close; where that cannot be, say why and stay. */
  async close(): Promise<void> {
    const { app, recording } = this.#ui;
    const id = app.draft?.entry.id ?? "";
    const changed = recording.changed;
    if (!(await recording.keep())) {
      this.refresh();
      return;
    }
    const missing = app.entry(id)?.missing.length ?? 0;
    if (changed) {
      const left = missing === 0 ? "" : ` ${capital(many(missing, "field"))} to complete.`;
      app.say(`Kept on this device.${left}`);
    }
    this.#ui.openEntry(id);
  }
}

/** What to be careful of; the usual cautions, folded so that they are at hand and not in the way. */
export function cautions(kind: KindView): HTMLElement | null {
  const all = kind.cautions ?? [];
  if (all.length === 0) return null;
  const items: Child[] = all.map(({ text, source }) =>
    el("li", {}, text, " ", el("small", {}, `(${source})`)),
  );
  return el(
    "details",
    { class: "cautions" },
    el("summary", {}, icon("warn"), `Take care (${all.length})`),
    el("ul", {}, items),
  );
}

/** What fields that point to something else may point to. */
export function choices(ui: Ui): Choices {
  const { app } = ui;
  return {
    me: app.who,
    references(to) {
      if (to === "person") return (app.start?.people ?? []).map((p) => ({ id: p.id, words: p.name }));
      if (to !== "entry") return app.book?.references[to] ?? [];
      const own = app.draft?.entry.id;
      return app
        .entries()
        .filter((e) => e.id !== own)
        .sort((a, b) => b.device_time.localeCompare(a.device_time))
        .map((e) => ({ id: e.id, words: `${e.title} (${app.part(e.part_id)?.code ?? ""})` }));
    },
    outline() {
      const polygons = ui.recording.measured?.outline.polygons ?? app.entry(app.draft?.entry.id ?? "")?.outline?.polygons;
      if (polygons === undefined || polygons.length === 0) return "";
      const rings = (p: readonly (readonly (readonly number[])[])[]) =>
        p.map((ring) => `(${[...ring, ring[0] ?? []].map((at) => at.join(" ")).join(", ")})`).join(", ");
      return `MULTIPOLYGON (${polygons.map((p) => `(${rings(p)})`).join(", ")})`;
    },
  };
}
