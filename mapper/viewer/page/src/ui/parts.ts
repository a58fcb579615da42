// The whole airframe, and beside it the list of its parts: found by name, tag code or what is open.

import { AirframeView } from "../views/airframe.ts";
import type { LocalEntry } from "../state.ts";
import type { PartView } from "../wire.ts";
import { el, refill, svg } from "./el.ts";
import type { Ui } from "./context.ts";
import { Entries } from "./entries.ts";
import { icon } from "./icons.ts";
import { entryRow } from "./rows.ts";
import { canScan, scan } from "./scan.ts";
import { capital, glance, GLANCE_WORDS, many, percent, type Glance } from "./words.ts";

/** Which parts are listed: by their state, or "kind ..." for those with such an entry open. */
const WHICH: [string, string][] = [
  ["all", "all parts"],
  ["findings", "findings open"],
  ["complete", "something to complete"],
  ["off", "taken off"],
  ["inner", "inner structure"],
];

export class AirframeScreen {
  readonly node: HTMLElement;
  #ui: Ui;
  #view: AirframeView | null = null;
  #host = el("div", { class: "airframe-view" });
  #list = el("div", { class: "part-list of-parts" });
  #count = el("p", { class: "help of-parts", role: "status" });
  #lists = el("div", { class: "choices", role: "group", "aria-label": "Which list" });
  /** The entries of the whole job, in place of the parts. */
  #all: Entries;
  #entries = false;
  #coming = el("p", { class: "coming", role: "status" });
  #inside = el("div", { class: "over-view" });
  #search: HTMLInputElement;
  #which: HTMLSelectElement;
  #loaded = "";

  constructor(ui: Ui) {
    this.#ui = ui;
    this.#all = new Entries(ui, true);
    this.#search = el("input", { type: "search", id: "find", autocomplete: "off", enterkeyhint: "search" });
    this.#search.addEventListener("input", () => this.refresh());
    this.#search.addEventListener("keydown", (event) => {
      if (event.key === "Enter") this.#openOnly();
    });
    this.#which = el(
      "select",
      { id: "which", "data-key": "which" },
      WHICH.map(([value, words]) => el("option", { value }, words)),
      el(
        "optgroup",
        { label: "with something open" },
        (ui.app.fields?.kinds ?? []).map((k) => el("option", { value: `kind ${k.name}` }, `${k.name} open`)),
      ),
    );
    this.#which.addEventListener("change", () => this.refresh());
    const scanner = el(
      "button",
      { type: "button", "data-key": "scan", onclick: () => scan((code) => this.#scanned(code)) },
      icon("scan"),
      "Scan a tag",
    );
    scanner.hidden = !canScan();
    this.node = el(
      "div",
      { class: "airframe-screen" },
      el(
        "section",
        { class: "finder", "aria-labelledby": "finder-title" },
        this.#lists,
        this.#all.node,
        el("h2", { id: "finder-title", tabindex: -1, class: "of-parts" }, "Parts"),
        el(
          "div",
          { class: "find-row of-parts" },
          el("label", { for: "find" }, "Name or tag code"),
          el("div", { class: "with-unit" }, this.#search, scanner),
        ),
        el("div", { class: "find-row of-parts" }, el("label", { for: "which" }, "Which parts"), this.#which),
        this.#count,
        this.#list,
      ),
      el("section", { class: "airframe", "aria-label": "The airframe" }, this.#host, this.#coming, this.#inside),
    );
    for (const topic of ["book", "outbox", "start", "show"] as const) {
      ui.on(topic, () => this.refresh());
    }
  }

  begin(): void {
    this.#view = new AirframeView(this.#host, { onPart: (id) => this.#ui.openPart(id) });
    this.#view.setUnits(this.#ui.app.start?.shop.units ?? "metric");
    this.refresh();
  }

  dispose(): void {
    this.#view?.dispose();
    this.#view = null;
  }

  /** Enter opens what was found, when it is one thing. */
  #openOnly(): void {
    const { parts, off } = this.#found();
    if (parts.length === 1 && parts[0] !== undefined) this.#ui.openPart(parts[0].id);
    else if (parts.length === 0 && off.length === 1 && off[0] !== undefined) this.#ui.openEntry(off[0].id);
  }

  #scanned(code: string): void {
    const { app } = this.#ui;
    const plain = code.trim().toLowerCase();
    const part = app.book?.parts.find((p) => p.code.toLowerCase() === plain);
    if (part !== undefined) {
      this.#ui.openPart(part.id);
      return;
    }
    const bag = app.entries().find((e) => (e.typed["tag_code"] ?? "").toLowerCase() === plain);
    if (bag !== undefined) this.#ui.openEntry(bag.id);
    else {
      this.#search.value = code.trim();
      this.refresh();
      app.say(`No part and no bag has the tag code ${code.trim()}.`, "warn");
    }
  }

  #found(): { parts: PartView[]; off: LocalEntry[] } {
    const { app } = this.#ui;
    const words = this.#search.value.trim().toLowerCase();
    const which = this.#which.value;
    const kind = which.startsWith("kind ") ? which.slice(5) : "";
    const open = new Map<string, Set<string>>();
    const missing = new Set<string>();
    for (const entry of app.entries()) {
      if (entry.missing.length > 0) missing.add(entry.part_id);
      if (entry.state === "closed") continue;
      const kinds = open.get(entry.part_id) ?? new Set();
      open.set(entry.part_id, kinds.add(entry.kind));
    }
    const names = new Map((app.book?.assemblies ?? []).map((a) => [a.id, a.name]));
    const parts = (app.book?.parts ?? []).filter((p) => {
      const told = [p.name, p.code, p.note, p.kept_at, names.get(p.assembly_id) ?? ""].join(" ").toLowerCase();
      if (!words.split(/\s+/).every((w) => told.includes(w))) return false;
      if (kind !== "" && !open.get(p.id)?.has(kind)) return false;
      if (which === "off") return p.removed;
      if (which === "inner") return p.inner;
      if (which === "findings") return p.open_findings > 0;
      return which === "complete" ? missing.has(p.id) : true;
    });
    // Bags and boxes: they have no shape of their own and are found by the same words.
    const off = app.entries().filter((e) => {
      if (e.typed["tag_code"] === undefined && e.kind !== "removed part") return false;
      if (which === "inner" || which === "findings" || which === "complete") return false;
      if (kind !== "" && e.kind !== kind) return false;
      if (words === "") return which === "off";
      const told = [e.title, ...Object.values(e.told)].join(" ").toLowerCase();
      return words.split(/\s+/).every((w) => told.includes(w));
    });
    return { parts, off };
  }

  refresh(): void {
    const { app } = this.#ui;
    if (app.book === null) return;
    this.#showInside();
    this.#showLists();
    const { parts, off } = this.#found();
    const all = app.book.parts.length;
    this.#count.textContent = parts.length === all ? many(all, "part") : `${parts.length} of ${many(all, "part")}`;
    const groups: [string, PartView[]][] = app.book.assemblies.map((a) => [
      a.name,
      parts.filter((p) => p.assembly_id === a.id),
    ]);
    const known = new Set(app.book.assemblies.map((a) => a.id));
    groups.push(["without an assembly", parts.filter((p) => !known.has(p.assembly_id))]);
    refill(
      this.#list,
      groups
        .filter(([, own]) => own.length > 0)
        .map(([name, own]) => [
          el("h3", {}, capital(name)),
          el("ul", { class: "rows" }, own.map((p) => this.#row(p))),
        ]),
      off.length === 0
        ? null
        : [el("h3", {}, "Taken off, by bag"), el("ul", { class: "rows" }, off.map((e) => entryRow(this.#ui, e, true)))],
      parts.length + off.length === 0 ? el("p", { class: "empty" }, all === 0 ? NO_PARTS : "Nothing found.") : null,
    );
    this.#showView();
  }

  #showLists(): void {
    const one = (entries: boolean, words: string) =>
      el(
        "button",
        {
          type: "button",
          class: "toggle",
          "data-key": words,
          "aria-pressed": String(this.#entries === entries),
          onclick: () => {
            this.#entries = entries;
            this.refresh();
          },
        },
        words,
      );
    refill(this.#lists, one(false, "Parts"), one(true, "Entries"));
    this.#all.node.hidden = !this.#entries;
    this.node.classList.toggle("entries-listed", this.#entries);
    if (this.#entries) this.#all.refresh();
  }

  #showInside(): void {
    const { app } = this.#ui;
    const inside = app.show.inside;
    const hide = el(
      "button",
      {
        type: "button",
        class: "toggle",
        "data-key": "inside",
        "aria-pressed": String(inside),
        onclick: () => {
          app.show.inside = !inside;
          app.tell("show");
        },
      },
      icon("inside"),
      inside ? "Skins hidden" : "Hide skins",
    );
    refill(this.#inside, app.book?.parts.some((p) => p.inner) ? hide : null);
  }

  #row(part: PartView): HTMLElement {
    const { app } = this.#ui;
    const at = glance(part);
    const own = app.entries().filter((e) => e.part_id === part.id);
    const missing = own.filter((e) => e.missing.length > 0).length;
    const unsent = own.filter((e) => e.unsent).length;
    return el(
      "li",
      {},
      el(
        "button",
        {
          type: "button",
          class: "row-button",
          "data-key": part.id,
          onclick: () => this.#ui.openPart(part.id),
          onpointerenter: () => this.#view?.highlight(part.id),
          onfocus: () => this.#view?.highlight(part.id),
        },
        el(
          "span",
          { class: "row-words" },
          el("strong", {}, part.name, " ", el("span", { class: "code" }, part.code)),
          part.removed ? el("span", {}, `taken off${part.kept_at === "" ? "" : `, at ${part.kept_at}`}`) : null,
          el("span", { class: "facts" }, glanceWords(at)),
          missing + unsent > 0
            ? el(
                "span",
                { class: "marks" },
                missing > 0 ? el("span", { class: "mark missing" }, `${missing} to complete`) : null,
                unsent > 0 ? el("span", { class: "mark unsent" }, `${unsent} not sent yet`) : null,
              )
            : null,
        ),
        gauge(at),
      ),
    );
  }

  #showView(): void {
    const { app } = this.#ui;
    const view = this.#view;
    if (view === null || app.book === null) return;
    const parts = app.book.parts.filter((p) => p.shape !== "");
    view.hide(app.show.inside ? parts.filter((p) => !p.inner).map((p) => p.id) : []);
    const key = parts.map((p) => `${p.id} ${p.shape} ${glance(p).state} ${p.removed}`).join();
    if (key === this.#loaded) return;
    this.#loaded = key;
    void this.#load(parts, key);
  }

  /** Each shape is shown as it comes; one that is not there leaves the others alone. */
  async #load(parts: PartView[], key: string): Promise<void> {
    const shapes: Parameters<AirframeView["setParts"]>[0] = [];
    let lost = 0;
    let tried = 0;
    for (const part of parts) {
      this.#coming.textContent = `Shapes are coming: ${tried} of ${parts.length}`;
      tried += 1;
      try {
        const shape = await this.#ui.device.loadShape(part.shape);
        const { state } = glance(part);
        shapes.push({ id: part.id, shape, state: state === "begun" ? "untouched" : state, name: part.name, off: part.removed });
      } catch {
        lost += 1;
      }
      if (this.#loaded !== key || this.#view === null) return;
      this.#view.setParts([...shapes]);
    }
    this.#coming.textContent = "";
    if (lost > 0) this.#ui.app.say(`${many(lost, "shape")} could not be loaded; the list has every part.`, "warn");
  }
}

const NO_PARTS = "This job has no part yet. Parts are described at the desk: mapper add part.";

function glanceWords(at: Glance): string {
  const words: string[] = [];
  if (at.stripped !== null && at.stripped > 0) words.push(`stripped ${percent(at.stripped)}`);
  if (at.inspected !== null) words.push(at.inspected > 0 ? `inspected ${percent(at.inspected)}` : "nobody has looked yet");
  if (at.open > 0) words.push(`${many(at.open, "finding")} open`);
  return words.length > 0 ? words.join(" · ") : GLANCE_WORDS[at.state];
}

/** Two bars: how much is stripped, how much is inspected. The words beside them say the same. */
function gauge(at: Glance): SVGElement | null {
  if (at.stripped === null || at.inspected === null) return null;
  const bar = (y: number, share: number, sort: string) => [
    svg("rect", { class: "gauge-all", x: 0.5, y, width: 47, height: 9 }),
    svg("rect", { class: `gauge-${sort}`, x: 0.5, y, width: (47 * Math.min(share, 100)) / 100, height: 9 }),
  ];
  return svg(
    "svg",
    { class: "gauge", viewBox: "0 0 48 26", "aria-hidden": "true", focusable: "false" },
    bar(1, at.stripped, "stripped"),
    bar(15, at.inspected, "inspected"),
  );
}
