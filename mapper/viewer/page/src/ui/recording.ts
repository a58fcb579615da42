// What is being recorded: begun, drawn, filled in, saved on this device at every change, and kept
// when the person closes it or a photo was taken.

import type { Device } from "../device/device.ts";
import { deviceTime, newId, type App, type Draft, type LocalEntry, type OutboxItem } from "../state.ts";
import type { EntryGiven, Id, MeasureAnswer, Shape, Where } from "../wire.ts";
import { trying } from "./context.ts";
import { givenOf, keptOutline, sort } from "./given.ts";
import { area, place, size } from "./words.ts";

/** After the last change, ms: short enough that a crash costs a letter, not a line. */
const SAVE_AFTER = 250;
const MEASURE_AFTER = 350;
/** Without an answer it is asked again: the network may be back, the server less busy. */
const MEASURE_AGAIN = 4000;
/** How the word begins that asks for a kind: it goes when one is chosen. */
export const NO_KIND = "Say what it is:";
const NO_PLACE = "It has no place yet:";

export class Recording {
  /** The true size and place from the server, null until it has answered. */
  measured: MeasureAnswer | null = null;
  /** Why the server did not take what was drawn, "" where it did. */
  refused = "";
  /** The refused item of the outbox that is being mended. */
  mends: OutboxItem | null = null;
  /** About the area mm2 of shapes taken together, by whoever shows them. */
  aboutOf: (shapes: Shape[]) => number = () => 0;
  #app: App;
  #device: Device;
  #saving = 0;
  #measuring = 0;
  #asked = 0;
  #changed = false;

  constructor(app: App, device: Device) {
    this.#app = app;
    this.#device = device;
  }

  get draft(): Draft | null {
    return this.#app.draft;
  }

  /** Whether something was changed since it was last kept. */
  get changed(): boolean {
    return this.#changed;
  }

  /** Begin a new entry; kind "" while the person has not said which. */
  async begin(kind: string, where: Where | null, about = 0): Promise<void> {
    await this.settle();
    const app = this.#app;
    const entry: EntryGiven = {
      id: newId(),
      part_id: app.partId,
      kind,
      version: 0,
      where,
      place: "",
      values: {},
      state: "open",
      deferred_to: null,
      note: "",
      photos: [],
    };
    this.#start(entry, null, about);
  }

  /** Change an entry that is there; `outline`: go on drawing from the outline it has. */
  async change(entry: LocalEntry, outline: boolean): Promise<void> {
    await this.settle();
    const given = givenOf(entry);
    if (outline) given.where = keptOutline(entry);
    this.#start(given, entry, entry.about_mm2);
    if (outline) this.#measureSoon();
  }

  /** Mend what the server refused; keeping it puts the new version in place of the refused one. */
  async mend(item: OutboxItem): Promise<void> {
    await this.settle();
    const step = item.action?.steps.find((s) => s.op !== "remove");
    if (step === undefined) return;
    const from = this.#app.book?.entries.find((e) => e.id === step.entry.id) ?? null;
    this.#start(structuredClone(step.entry), from, item.about?.[step.entry.id] ?? 0);
    this.mends = item;
    this.#changed = true;
  }

  /** Go on with a draft that was found on this device. */
  async goOn(draft: Draft): Promise<void> {
    await this.settle();
    this.#reset();
    this.#app.draft = draft;
    this.#changed = true;
    this.#app.tell("draft");
    this.#measureSoon();
  }

  /** The mirror place on the other side, as a new entry of the same kind. */
  async mirror(entry: LocalEntry, partId: Id, measuredNames: Set<string>): Promise<void> {
    await this.settle();
    const outline = entry.outline ?? entry.drawn;
    const where: Where | null =
      outline === null
        ? null
        : {
            skin: outline.skin,
            face: outline.face,
            shapes: [{ op: "add", type: "mirror", entry: entry.id }],
          };
    const values: Record<string, string> = {};
    for (const [name, value] of Object.entries(entry.typed)) {
      // What was measured there was not measured here.
      if (!measuredNames.has(name)) values[name] = value;
    }
    const given: EntryGiven = {
      id: newId(),
      part_id: partId,
      kind: entry.kind,
      version: 0,
      where,
      place: where === null ? entry.place : "",
      values,
      state: "open",
      deferred_to: null,
      note: "",
      photos: [],
    };
    this.#start(given, null, entry.outline?.area_mm2 ?? entry.about_mm2);
    this.#measureSoon();
  }

  #reset(): void {
    this.measured = null;
    this.refused = "";
    this.mends = null;
    this.#changed = false;
    this.#asked += 1;
  }

  #start(entry: EntryGiven, from: Draft["from"], about: number): void {
    this.#reset();
    const app = this.#app;
    if (entry.where !== null) entry.where.shape = app.part(entry.part_id)?.shape ?? "";
    app.draft = {
      entry,
      about_mm2: about,
      from,
      begun: deviceTime(),
      job_id: app.jobId,
      by: app.who,
    };
    app.tell("draft");
    // A new one is there from the first tap; one that is only looked at is no draft yet.
    if (from === null) {
      this.#changed = true;
      this.#saveSoon();
      this.#measureSoon();
    }
  }

  /** Change what is being recorded. */
  set(change: (entry: EntryGiven) => void): void {
    const draft = this.draft;
    if (draft === null) return;
    change(draft.entry);
    this.touched();
  }

  value(name: string, text: string): void {
    this.set((entry) => {
      // What the stored entry has must be taken off by an empty value, not by saying nothing.
      if (text === "" && this.draft?.from?.typed[name] === undefined) delete entry.values[name];
      else entry.values[name] = text;
    });
  }

  touched(): void {
    this.#changed = true;
    this.#app.tell("draft");
    this.#saveSoon();
  }

  /** Add what was drawn. Points, lines and areas do not mix: a new sort takes the old one's place. */
  draw(skin: string, face: string, shapes: Shape[]): void {
    const draft = this.draft;
    if (draft === null) return;
    const { entry } = draft;
    const now = entry.where;
    const fresh = sort(shapes);
    const old = now === null ? "" : sort(now.shapes);
    const before = old === "kept" ? (draft.from?.outline?.region ?? fresh) : old;
    const same = now !== null && now.skin === skin && now.face === face && before === fresh;
    if (same) now.shapes.push(...shapes);
    else {
      const added = shapes.filter((s) => s.op === "add");
      if (added.length === 0) {
        this.#app.say("There is nothing here to wipe out.", "warn");
        return;
      }
      entry.where = { skin, face, shapes: added, shape: this.#app.part(entry.part_id)?.shape ?? "" };
    }
    this.#app.unsay(NO_PLACE);
    // Strokes lie over each other: what they make together is worked out by who can see them.
    draft.about_mm2 = this.aboutOf(entry.where?.shapes ?? []);
    this.touched();
    this.#measureSoon();
  }

  /** Take back what was drawn last; false where nothing of this draft is left to take back. */
  takeBack(): boolean {
    const last = this.draft?.entry.where?.shapes.at(-1);
    return last !== undefined && this.takeOut(last);
  }

  /** Take one shape out again; false where it is not part of this draft any more. */
  takeOut(shape: Shape): boolean {
    const draft = this.draft;
    const { where } = draft?.entry ?? {};
    if (draft == null || where == null || !where.shapes.includes(shape)) return false;
    where.shapes = where.shapes.filter((s) => s !== shape);
    if (where.shapes.length === 0) draft.entry.where = null;
    draft.about_mm2 = this.aboutOf(where.shapes);
    this.touched();
    this.#measureSoon();
    return true;
  }

  hasPlace(): boolean {
    const draft = this.draft;
    if (draft === null) return false;
    const { where, place } = draft.entry;
    // What was kept before has a place, here or in the shop.
    return (where?.shapes.length ?? 0) > 0 || place.trim() !== "" || draft.from !== null;
  }

  /** Whether the kind may have what was drawn; the word to say where it may not. */
  wrongSort(): string {
    const draft = this.draft;
    const kind = this.#app.kind(draft?.entry.kind ?? "");
    const shapes = draft?.entry.where?.shapes ?? [];
    if (kind === null || shapes.length === 0) return "";
    const drawn = sort(shapes);
    if (drawn === "kept" || kind.regions.includes(drawn)) return "";
    const may = kind.regions.filter((r) => r !== "place").map((r) => (r === "area" ? "an area" : `a ${r}`));
    if (may.length === 0) return `A ${kind.name} has a place in words: write it below.`;
    return `A ${kind.name} is drawn as ${may.join(" or ")}; a ${drawn} is there now. Draw it again.`;
  }

  /** The size so far: the server's word, or "about" as worked out here. */
  sizeWords(): string {
    if (this.measured !== null) {
      const { outline, where } = this.measured;
      return [outline.region === "area" ? outline.area_words : "", where].filter(Boolean).join(", ");
    }
    const about = this.draft?.about_mm2 ?? 0;
    const kept = this.draft?.from == null ? null : this.#app.entry(this.draft.from.id);
    // Nothing was drawn since it was kept: it is where it was.
    if (kept !== null && this.draft?.entry.where === null) {
      return [size(this.#app, kept), place(kept)].filter(Boolean).join(", ");
    }
    return about > 0 ? `about ${area(this.#app, about)}` : "";
  }

  async photo(file: Blob): Promise<void> {
    // A picture from a file was taken when the file was made; one of the camera just now.
    const taken = file instanceof File ? deviceTime(new Date(file.lastModified)) : deviceTime();
    const id = await this.#device.addPhoto(file, taken);
    this.set((entry) => entry.photos.push({ photo_id: id, caption: "", mm_per_pixel: null }));
    if (this.hasPlace() && this.wrongSort() === "" && this.draft?.entry.kind !== "") {
      await this.keepOn();
    } else await this.saveNow();
  }

  /** Keep it and go on with it: what follows is a change of what was kept. */
  async keepOn(): Promise<void> {
    const id = this.draft?.entry.id;
    const { measured } = this;
    if (id === undefined || !(await this.keep())) return;
    const entry = this.#app.entry(id);
    if (entry === null) return;
    this.#start(givenOf(entry), entry, entry.about_mm2);
    // The outline is the same: what was said of it stays.
    this.measured = measured;
    this.#app.tell("draft");
  }

  /** Into the outbox. True where it is kept or nothing had to be; false with a word where not. */
  async keep(): Promise<boolean> {
    const draft = this.draft;
    if (draft === null) return true;
    clearTimeout(this.#saving);
    if (!this.#changed) {
      await this.#device.saveDraft(null);
      this.#reset();
      return true;
    }
    const lacks = this.#lacks(draft.entry);
    if (lacks !== "") {
      await this.saveNow();
      this.#app.say(lacks, "warn");
      return false;
    }
    const { entry } = draft;
    const step = { op: entry.version === 0 ? ("add" as const) : ("change" as const), entry };
    const part = this.#app.part(entry.part_id);
    const words = `${step.op === "add" ? "" : "change of "}${entry.kind} on ${part?.code || part?.name || "a part"}`;
    const about = draft.about_mm2 > 0 ? { [entry.id]: draft.about_mm2 } : {};
    if (this.mends?.action !== undefined) {
      const action = { ...this.mends.action, device_time: deviceTime() };
      action.steps = action.steps.map((s) => (s.entry.id === entry.id ? { ...s, entry } : s));
      await this.#device.replace(this.mends, action);
    } else await this.#device.keep({ words, steps: [step], about });
    await this.#device.saveDraft(null);
    await this.#device.remember(entry.kind, { ...entry.values });
    this.#reset();
    return true;
  }

  #lacks(entry: EntryGiven): string {
    if (entry.kind === "") return `${NO_KIND} choose a kind first. It stays as a draft.`;
    if (!this.hasPlace()) return `${NO_PLACE} draw it, or write where it is. It stays as a draft.`;
    if (entry.state === "deferred" && entry.deferred_to === null) {
      return "Say to which day it is deferred. It stays as a draft.";
    }
    const wrong = this.wrongSort();
    return wrong === "" ? "" : `${wrong} It stays as a draft.`;
  }

  /** Away with it: nothing of it is kept. */
  async discard(): Promise<void> {
    clearTimeout(this.#saving);
    this.#reset();
    await this.#device.saveDraft(null);
  }

  /** Before something else begins: keep what can be kept, leave the rest as a draft. */
  async settle(): Promise<void> {
    const draft = this.draft;
    if (draft === null) return;
    if (!this.#changed) {
      await this.discard();
      return;
    }
    if (this.#lacks(draft.entry) === "") {
      await this.keep();
      return;
    }
    const { values, note, photos, where } = draft.entry;
    const empty = Object.keys(values).length === 0 && note === "" && photos.length === 0;
    if (empty && (where?.shapes.length ?? 0) === 0) {
      await this.discard();
      return;
    }
    await this.saveNow();
    // Taken off the screen and left in the device's drafts, where it is offered again.
    this.#app.draft = null;
    this.#reset();
    this.#app.tell("draft");
  }

  #saveSoon(): void {
    clearTimeout(this.#saving);
    this.#saving = window.setTimeout(() => {
      trying(this.#app, "The draft is not saved on this device", () => this.saveNow());
    }, SAVE_AFTER);
  }

  async saveNow(): Promise<void> {
    clearTimeout(this.#saving);
    if (this.draft !== null && this.#changed) await this.#device.saveDraft(this.draft);
  }

  #measureSoon(): void {
    clearTimeout(this.#measuring);
    this.#asked += 1;
    const asked = this.#asked;
    this.measured = null;
    this.refused = "";
    this.#measuring = window.setTimeout(() => void this.#measure(asked), MEASURE_AFTER);
  }

  async #measure(asked: number): Promise<void> {
    const { entry } = this.draft ?? {};
    if (asked !== this.#asked) return;
    if (entry?.where == null || entry.where.shapes.length === 0) return;
    let answer: MeasureAnswer | null = null;
    let refused = "";
    try {
      answer = await this.#device.measure(entry.part_id, structuredClone(entry.where));
    } catch (error) {
      refused = error instanceof Error ? error.message : String(error);
    }
    // Something was drawn meanwhile: this answer is of an older outline.
    if (asked !== this.#asked || this.draft?.entry !== entry) return;
    if (answer === null && refused === "") {
      this.#measuring = window.setTimeout(() => void this.#measure(asked), MEASURE_AGAIN);
    }
    this.measured = answer;
    this.refused = refused;
    if (answer !== null && answer.outline.area_mm2 > 0 && this.draft !== null) {
      this.draft.about_mm2 = answer.outline.area_mm2;
    }
    this.#app.tell("draft");
  }
}
