// The screen of one part: its two views, the bar of tools, and the sheet beside them.

import type { Topic } from "../state.ts";
import type { Shape, Where } from "../wire.ts";
import type { DrawnItem, StyleFile, Under } from "../views/types.ts";
import { PartViews } from "../views/partviews.ts";
import { el, refill } from "./el.ts";
import { trying, type Pane, type Ui } from "./context.ts";
import { Entries } from "./entries.ts";
import { EntrySheet } from "./entrysheet.ts";
import { Form } from "./form.ts";
import { Here, underWords } from "./here.ts";
import { icon, type Icon } from "./icons.ts";
import { Numbers } from "./numbers.ts";
import { middleOf } from "./given.ts";
import { HANDS, ShowSheet } from "./show.ts";
import { Tools } from "./tools.ts";
import { area } from "./words.ts";

const PALM = 60;
const PALM_IN_GLOVE = 110;

/** Where shapes lie that have no stored outline yet. */
function on(where: Where | null): Pick<DrawnItem, "on"> {
  return where === null ? {} : { on: { skin: where.skin, face: where.face } };
}

/** A tap that opens a sheet under the finger is followed by the browser's click, which would fall
 * on whatever stands there now: that one click is swallowed, the next touch is the person's own. */
function withoutGhost(): void {
  const swallow = (event: Event) => {
    // Keys and programs click too, without a touch.
    if ((event as MouseEvent).detail === 0) return;
    event.preventDefault();
    event.stopPropagation();
    removeEventListener("click", swallow, true);
  };
  addEventListener("click", swallow, true);
  addEventListener("pointerdown", () => removeEventListener("click", swallow, true), { capture: true, once: true });
}

export class PartScreen {
  readonly node: HTMLElement;
  #ui: Ui;
  #views: PartViews | null = null;
  #host = el("div", { class: "views" });
  #instead = el("div", { class: "instead", hidden: true });
  #sheet = el("div", { class: "sheet", id: "sheet", tabindex: -1 });
  #bar = el("div", { class: "part-bar" });
  #under = el("p", { class: "under" });
  #tools: Tools;
  #form: Form;
  #panes: Record<Exclude<Pane, "none">, { node: HTMLElement; refresh(): void }>;
  #shown = "";

  constructor(ui: Ui) {
    this.#ui = ui;
    this.#tools = new Tools(ui, {
      finish: () => this.#views?.finish(),
      back: () => {
        if (this.#views?.back() !== true) ui.app.say("There is no corner to take back.");
      },
    });
    this.#form = new Form(ui);
    this.#panes = {
      here: new Here(ui),
      form: this.#form,
      entries: new Entries(ui, false),
      entry: new EntrySheet(ui),
      show: new ShowSheet(ui),
      numbers: new Numbers(ui, (shapes) => this.#drawn(shapes, this.#views?.aboutArea(shapes) ?? 0)),
    };
    this.node = el(
      "div",
      { class: "part-screen" },
      this.#bar,
      this.#sheet,
      el("div", { class: "views-room" }, this.#host, this.#instead),
      this.#under,
      this.#tools.settings,
      el("div", { class: "thumb" }, this.#tools.bar),
    );
    const { app } = ui;
    const on = (topic: Topic, work: () => void) => ui.on(topic, work);
    on("part", () => this.#showPart());
    on("book", () => {
      this.#showBar();
      this.#draw();
    });
    for (const topic of ["outbox", "show", "entry", "draft"] as const) on(topic, () => this.#draw());
    on("draft", () => this.#showBar());
    on("outbox", () => this.#showBar());
    on("show", () => this.#lines());
    on("tool", () => this.#views?.setTool(app.tool));
  }

  /** After it stands on the page: the views need a host with a size. */
  begin(): void {
    this.#views = new PartViews(this.#host, {
      onUnder: (under) => this.#readout(under),
      onDrawn: (shapes, about) => void this.#drawn(shapes, about).catch(() => {}),
      onTap: (under) => this.#tapped(under),
      onFace: (face) => this.#turned(face),
      onNote: (words) => this.#ui.app.say(words),
    });
    this.#ui.recording.aboutOf = (shapes) => this.#views?.aboutArea(shapes) ?? 0;
    const { app } = this.#ui;
    this.#views.setStyle(app.style as unknown as StyleFile);
    this.#views.setUnits(app.start?.shop.units ?? "metric");
    this.#lines();
    this.#showPart();
    this.pane();
    this.#ui.on("show", () => this.#hands());
    this.#hands();
  }

  /** Contacts that wide are a palm; fingers in gloves are nearly as wide. */
  #hands(): void {
    void this.#ui.device.last(HANDS).then(
      (kept) => this.#views?.setPalm(kept["gloves"] === "yes" ? PALM_IN_GLOVE : PALM),
      () => {},
    );
  }

  #lines(): void {
    const { grid, structure } = this.#ui.app.show;
    this.#views?.setLines({ grid, structure });
  }

  dispose(): void {
    this.#views?.dispose();
    this.#views = null;
  }

  turnTo(flat: [number, number]): void {
    this.#views?.turnTo(flat);
  }

  /** Show the sheet that is asked for, or none. */
  pane(): void {
    const { pane } = this.#ui;
    this.#tools.refresh();
    this.node.classList.toggle("with-sheet", pane !== "none");
    this.node.classList.toggle("recording", pane === "form");
    if (pane === "none") this.#sheet.replaceChildren();
    else {
      const { node } = this.#panes[pane];
      this.#panes[pane].refresh();
      if (this.#sheet.firstElementChild !== node) {
        this.#sheet.replaceChildren(node);
        this.#sheet.scrollTop = 0;
        node.querySelector<HTMLElement>("h2")?.focus();
      }
    }
    this.#showBar();
  }

  /** Say in place of the views why there is no shape, and let it be tried again. */
  withoutShape(words: string, again: (() => void) | null): void {
    const button = again === null ? null : el("button", { type: "button", onclick: again }, "Try again");
    refill(this.#instead, words === "" ? null : el("p", { role: "status" }, words), button);
    this.#instead.hidden = words === "";
  }

  /** Closing the form keeps what is in it. */
  closeForm(): Promise<void> {
    return this.#form.close();
  }

  #showPart(): void {
    const { app } = this.#ui;
    const part = app.part();
    if (part === null || this.#views === null) return;
    const { shape } = this.#ui;
    const key = `${part.id} ${part.shape} ${app.skin} ${app.face} ${shape === null}`;
    if (key !== this.#shown) {
      this.#shown = key;
      if (shape !== null) this.#views.show(shape, app.skin, app.face);
    }
    this.#host.classList.toggle("no-shape", shape === null);
    this.#views.setTool(app.tool);
    this.#readout(null);
    this.#draw();
    this.pane();
  }

  /** Faces, skins, and the buttons for sheets; what would be undone stands on the buttons. */
  #showBar(): void {
    const { app } = this.#ui;
    const skins = this.#ui.shape?.header.skins ?? [];
    const skin = skins[app.skin];
    const set = (index: number, face: string) => {
      app.skin = index;
      app.face = face;
      app.tell("part");
    };
    const choice = el(
      "select",
      { "aria-label": "Skin", class: "skins", "data-key": "skin" },
      skins.map((s, i) => el("option", { value: i }, s.name)),
    );
    choice.value = String(app.skin);
    choice.addEventListener("change", () => set(Number(choice.value), skins[Number(choice.value)]?.faces[0] ?? ""));
    const faces = (skin?.faces ?? []).map((face) =>
      el(
        "button",
        {
          type: "button",
          class: "toggle",
          "data-key": `face ${face}`,
          "aria-pressed": String(face === app.face),
          onclick: () => set(app.skin, face),
        },
        face,
      ),
    );
    // On a narrow screen one list of skins and faces stands in place of both.
    const sides = skins.flatMap((s, i) => s.faces.map((f) => ({ i, f, words: skins.length > 1 ? `${s.name}, ${f}` : f })));
    const side = el(
      "select",
      { "aria-label": "Skin and face", class: "side", "data-key": "side" },
      sides.map(({ words }, i) => el("option", { value: i }, words)),
    );
    side.value = String(sides.findIndex(({ i, f }) => i === app.skin && f === app.face));
    side.addEventListener("change", () => {
      const at = sides[Number(side.value)];
      if (at !== undefined) set(at.i, at.f);
    });
    const sheet = (pane: Pane, label: string, sign: Icon) =>
      el(
        "button",
        {
          type: "button",
          class: "toggle",
          "data-key": `sheet ${pane}`,
          "aria-pressed": String(this.#ui.pane === pane),
          "aria-controls": "sheet",
          onclick: () => this.#ui.open(this.#ui.pane === pane ? "none" : pane),
        },
        icon(sign),
        el("span", { class: "roomy-only" }, label),
      );
    refill(
      this.#bar,
      sides.length > 1 ? side : null,
      skins.length > 1 ? choice : null,
      faces.length > 1 ? el("div", { class: "faces", role: "group", "aria-label": "Face" }, faces) : null,
      el(
        "div",
        { class: "sheets" },
        sheet(app.draft === null ? "here" : "form", "Record", "pen"),
        sheet("entries", "Entries", "list"),
        sheet("show", "Show", "show"),
      ),
    );
  }

  #readout(under: Under | null): void {
    // No live region: it would be read aloud at every step of a stroke.
    this.#under.textContent = under === null ? this.#partWords() : underWords(this.#ui, under).join(" · ");
  }

  #partWords(): string {
    const part = this.#ui.app.part();
    if (part === null) return "";
    const size = part.area_mm2 > 0 ? `, ${area(this.#ui.app, part.area_mm2)} ± ${part.tolerance_percent} %` : "";
    return `${part.name}${size}`;
  }

  #tapped(under: Under): void {
    this.#ui.here = under;
    if (this.#ui.app.tool.type !== "look") return;
    // With a form open, a tap on the map must not take it away.
    if (this.#ui.app.draft !== null && this.#ui.pane === "form") return;
    withoutGhost();
    this.#ui.open("here");
  }

  #turned(face: string): void {
    const { app } = this.#ui;
    if (face === app.face) return;
    app.face = face;
    app.tell("part");
  }

  /** Something was drawn: into what is being recorded, or the beginning of a new entry. */
  async #drawn(shapes: Shape[], about: number): Promise<void> {
    const { app, recording } = this.#ui;
    const skin = this.#ui.shape?.header.skins[app.skin]?.name ?? "";
    if (app.draft !== null) {
      if (app.draft.entry.part_id !== app.partId) return;
      recording.draw(skin, app.face, shapes);
      if (this.#ui.pane !== "form") {
        withoutGhost();
        this.#ui.open("form");
      }
      return;
    }
    if (!shapes.some((s) => s.op === "add")) {
      app.say("To wipe out of an entry, open it and choose Change the outline.", "warn");
      return;
    }
    withoutGhost();
    const begun = recording.begin("", { skin, face: app.face, shapes: [...shapes] }, about);
    trying(app, "It is not begun", () => begun);
    await begun;
    this.#ui.open("form");
  }

  /** Hand the views what the filter shows, and the draft over it. */
  #draw(): void {
    const views = this.#views;
    if (views === null || this.#ui.shape === null) return;
    const { app } = this.#ui;
    const { draft } = app;
    const items: DrawnItem[] = [];
    const looked: [number, number][][][] = [];
    const skin = this.#ui.shape.header.skins[app.skin]?.name ?? "";
    for (const entry of app.entries()) {
      if (entry.part_id !== app.partId || !app.shows(entry)) continue;
      if (draft?.entry.id === entry.id && draft.entry.where !== null) continue;
      const style = app.kind(entry.kind)?.style ?? "other";
      const { outline } = entry;
      if (style === "inspected-area" && outline?.skin === skin && outline.face === app.face) {
        looked.push(...outline.polygons);
      }
      items.push({
        id: entry.id,
        style,
        title: entry.title,
        shapes: outline === null ? (entry.drawn?.shapes ?? null) : null,
        outline,
        ...on(entry.drawn),
        unsent: entry.unsent,
        // A selected one with shapes of its own would be taken for what is being drawn.
        selected: entry.id === app.entryId && outline !== null,
      });
    }
    if (draft !== null && draft.entry.part_id === app.partId && draft.entry.where !== null) {
      const { where } = draft.entry;
      items.push({
        id: draft.entry.id,
        style: app.kind(draft.entry.kind)?.style ?? "other",
        title: draft.entry.kind,
        shapes: [...where.shapes],
        ...on(where),
        outline: this.#ui.recording.measured?.outline ?? draft.from?.outline ?? null,
        unsent: true,
        selected: true,
      });
    }
    views.setDrawn(items);
    views.setUnseen(app.show.unseen ? looked : null);
  }

  /** Bring an entry into sight. */
  seek(): void {
    const entry = this.#ui.app.entry();
    const at = entry?.outline?.polygons[0]?.[0]?.[0] ?? middleOf(entry?.drawn ?? null);
    if (at != null) this.#views?.turnTo(at);
  }
}
