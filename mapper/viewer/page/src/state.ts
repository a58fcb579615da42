// The one state of the page. Modules read it and change it through its methods, and listen to
// topics; they never hold on to each other.

import type {
  ActionGiven,
  BookView,
  Changes,
  EntryGiven,
  EntryView,
  Fields,
  Id,
  KindView,
  PartView,
  Refusal,
  Start,
  Where,
} from "./wire.ts";

export type Topic =
  | "start" // shop, people, fields, style are there or new
  | "who" // another person records
  | "book" // parts or entries changed
  | "part" // another part, skin or face is looked at
  | "entry" // another entry is selected
  | "show" // the filter changed
  | "tool" // another tool, or other settings of it
  | "draft" // what is being recorded changed
  | "outbox" // unsent or refused ones, storage, came or went
  | "net" // online, offline, server answers or not
  | "newer" // a newer page is installed and waits for a reload
  | "word"; // something to tell the person

/** An entry as this device knows it: `unsent` while it waits in the outbox. */
export interface LocalEntry extends EntryView {
  unsent: boolean;
  refused: boolean;
  /** What was drawn here and has no outline from the server yet. */
  drawn: Where | null;
  /** Area as worked out here, mm2: to be shown as "about". */
  about_mm2: number;
}

export interface OutboxItem {
  /** Order of sending; made by the device's database. */
  n: number;
  id: Id;
  job_id: Id;
  type: "action" | "undo" | "redo" | "photo" | "person";
  by: Id;
  made: string;
  words: string;
  /** "waiting", or "refused": a person decides what becomes of it. */
  state: "waiting" | "refused";
  refusal: Refusal | null;
  tries: number;
  /** Device clock minus server clock when it was recorded, ms; null: never compared. */
  clock_offset_ms?: number | null;
  /** For undo and redo: the action that is meant, where this device knows it. */
  of?: Id;
  action?: ActionGiven;
  photo?: { taken: string; media_type: string; data: Blob };
  person?: { id: Id; name: string };
  about?: Record<Id, number>;
}

/** What is recorded right now and not kept yet: saved on this device at every change. */
export interface Draft {
  entry: EntryGiven;
  about_mm2: number;
  /** The entry it changes, as it was. */
  from: EntryView | null;
  begun: string;
  job_id: Id;
  by: Id;
}

export interface Show {
  /** Hidden kinds and states by name, people by id; what is not named is shown. */
  hiddenKinds: Set<string>;
  hiddenStates: Set<string>;
  hiddenPeople: Set<Id>;
  /** Only entries up to this day ("2026-05-31"), null: all. */
  until: string | null;
  /** Only this coat (0: all coats; 1 the outermost). */
  coat: number;
  unseen: boolean;
  grid: boolean;
  structure: boolean;
  /** Hide skins of the whole airframe, to reach what is inside. */
  inside: boolean;
}

export type Tool =
  | { type: "look" }
  | { type: "brush"; radius: number; wipe: boolean }
  | { type: "polygon"; wipe: boolean }
  | { type: "line"; width: number | null }
  | { type: "point" };

export interface Word {
  kind: "told" | "warn" | "wrong" | "gone";
  text: string;
}

export function newId(): Id {
  // randomUUID is only there on secure origins.
  const b = crypto.getRandomValues(new Uint8Array(16));
  b[6] = (b[6]! & 15) | 64;
  b[8] = (b[8]! & 63) | 128;
  const hex = Array.from(b, (v) => v.toString(16).padStart(2, "0")).join("");
  return [0, 8, 12, 16, 20].map((at, i) => hex.slice(at, [8, 12, 16, 20, 32][i])).join("-");
}

/** Now, with this device's offset from UTC, as the wire wants it. */
export function deviceTime(now = new Date()): string {
  const off = -now.getTimezoneOffset();
  const local = new Date(now.getTime() + off * 60000).toISOString().slice(0, 19);
  const two = (v: number) => String(Math.floor(Math.abs(v))).padStart(2, "0");
  return `${local}${off < 0 ? "-" : "+"}${two(off / 60)}:${two(off % 60)}`;
}

export class App {
  start: Start | null = null;
  fields: Fields | null = null;
  style: Record<string, unknown> = {};
  who: Id = "";
  jobId: Id = "";
  book: BookView | null = null;
  partId: Id = "";
  skin = 0;
  face = "";
  entryId: Id = "";
  tool: Tool = { type: "look" };
  draft: Draft | null = null;
  outbox: OutboxItem[] = [];
  /** The server answered last time it was asked. */
  reached = false;
  /** Device clock minus server clock, ms; null: never compared. */
  clockOffset: number | null = null;
  storage: { used: number; quota: number; kept: boolean } | null = null;
  show: Show = {
    hiddenKinds: new Set(),
    hiddenStates: new Set(),
    hiddenPeople: new Set(),
    until: null,
    coat: 0,
    unseen: true,
    grid: true,
    structure: true,
    inside: false,
  };

  #listeners = new Map<Topic, Set<(word?: Word) => void>>();
  #waiting = new Set<Topic>();
  #local: LocalEntry[] | null = null;

  /** Listen to a topic; gives the function that stops it. */
  on(topic: Topic, listener: (word?: Word) => void): () => void {
    const all = this.#listeners.get(topic) ?? new Set();
    this.#listeners.set(topic, all);
    all.add(listener);
    return () => all.delete(listener);
  }

  /** Tell the listeners of a topic, once after the present work, however often it is said. */
  tell(topic: Topic): void {
    if (topic === "book" || topic === "outbox" || topic === "start") this.#local = null;
    if (this.#waiting.has(topic)) return;
    this.#waiting.add(topic);
    queueMicrotask(() => {
      this.#waiting.delete(topic);
      for (const listener of [...(this.#listeners.get(topic) ?? [])]) listener();
    });
  }

  /** Say something to the person. */
  /** Take away what was said with these first words: it is settled. */
  unsay(start: string): void {
    for (const listener of [...(this.#listeners.get("word") ?? [])]) listener({ kind: "gone", text: start });
  }

  say(text: string, kind: Word["kind"] = "told"): void {
    for (const listener of [...(this.#listeners.get("word") ?? [])]) listener({ kind, text });
  }

  kind(name: string): KindView | null {
    return this.fields?.kinds.find((k) => k.name === name) ?? null;
  }

  part(id: Id = this.partId): PartView | null {
    return this.book?.parts.find((p) => p.id === id) ?? null;
  }

  personName(id: Id): string {
    return this.start?.people.find((p) => p.id === id)?.name ?? id;
  }

  /** All entries as this device knows them, the unsent ones laid over those of the server. */
  entries(): LocalEntry[] {
    this.#local ??= overlaid(this);
    return this.#local;
  }

  entry(id: Id = this.entryId): LocalEntry | null {
    return this.entries().find((e) => e.id === id) ?? null;
  }

  /** Whether the filter shows an entry. Coats: entries that name a coat, or none at all. */
  shows(entry: LocalEntry): boolean {
    const { show } = this;
    if (show.hiddenKinds.has(entry.kind) || show.hiddenStates.has(entry.state)) return false;
    if (show.hiddenPeople.has(entry.by)) return false;
    if (show.until !== null && entry.device_time.slice(0, 10) > show.until) return false;
    if (show.coat === 0) return true;
    const named = [...(entry.typed["coats"] ?? "").matchAll(/(?:^|[|;])\s*number=\s*(\d+)/g)];
    return named.length === 0 || named.some(([, number]) => Number(number) === show.coat);
  }

  unsentCount(): number {
    return this.outbox.length;
  }

  /** Rows of an answer: newer ones only, and no word about what else happened meanwhile. */
  takeRows(changes: Changes): void {
    const book = this.book;
    if (book === null) return;
    const gone = new Set(changes.removed);
    book.entries = merged(book.entries, newer(book.entries, changes.entries)).filter(
      (e) => !gone.has(e.id),
    );
    this.tell("book");
  }

  /** What happened since the seq of the book, in order. */
  take(changes: Changes): void {
    const book = this.book;
    if (book === null || changes.seq < book.seq) return;
    const gone = new Set(changes.removed);
    book.entries = merged(book.entries, changes.entries).filter((e) => !gone.has(e.id));
    book.parts = merged(book.parts, changes.parts);
    book.seq = changes.seq;
    book.head = changes.head;
    if (this.start !== null && changes.people.length > 0) {
      this.start.people = merged(this.start.people, changes.people);
      this.tell("start");
    }
    this.tell("book");
  }
}

function newer(old: EntryView[], fresh: EntryView[]): EntryView[] {
  const versions = new Map(old.map((e) => [e.id, e.version]));
  return fresh.filter((e) => e.version >= (versions.get(e.id) ?? 0));
}

function merged<T extends { id: Id }>(old: T[], fresh: T[]): T[] {
  if (fresh.length === 0) return old;
  const byId = new Map(old.map((row) => [row.id, row]));
  for (const row of fresh) byId.set(row.id, row);
  return [...byId.values()];
}

function overlaid(app: App): LocalEntry[] {
  const all = new Map<Id, LocalEntry>();
  for (const e of app.book?.entries ?? []) {
    all.set(e.id, { ...e, unsent: false, refused: false, drawn: null, about_mm2: 0 });
  }
  for (const item of app.outbox) {
    if (item.type !== "action" || item.job_id !== app.jobId) continue;
    const refused = item.state === "refused";
    for (const { op, entry } of item.action?.steps ?? []) {
      if (op === "remove") {
        if (!refused) all.delete(entry.id);
        continue;
      }
      const stored = all.get(entry.id) ?? null;
      all.set(entry.id, {
        ...asView(app, entry, item, stored),
        unsent: true,
        refused,
        drawn: entry.where,
        about_mm2: item.about?.[entry.id] ?? 0,
      });
    }
  }
  return [...all.values()];
}

function asView(
  app: App,
  given: EntryGiven,
  item: OutboxItem,
  stored: LocalEntry | null,
): EntryView {
  const kind = app.kind(given.kind);
  const typed = { ...stored?.typed, ...given.values };
  for (const name of Object.keys(typed)) if (typed[name] === "") delete typed[name];
  const main = kind?.fields.find((f) => typed[f.name] !== undefined);
  return {
    id: given.id,
    part_id: given.part_id,
    kind: given.kind,
    version: given.version,
    state: given.state,
    deferred_to: given.deferred_to,
    note: given.note,
    by: stored?.by ?? item.by,
    by_name: app.personName(stored?.by ?? item.by),
    device_time: stored?.device_time ?? item.made,
    server_time: stored?.server_time ?? null,
    outline: given.where === null ? (stored?.outline ?? null) : null,
    place: given.place,
    where: given.where === null ? (stored?.where ?? given.place) : "",
    title: main === undefined ? given.kind : `${given.kind}: ${typed[main.name]}`,
    told: { ...stored?.told, ...typed },
    typed,
    missing: (kind?.fields ?? [])
      .filter((f) => f.expected && isWanted(f, typed) && typed[f.name] === undefined)
      .map((f) => f.name),
    photos: given.photos.map((p) => ({ ...p, href: "" })),
    // What was drawn again or looked at is in doubt no more.
    unconfirmed: (stored?.unconfirmed ?? false) && given.where === null && given.confirmed !== true,
    doubt: stored?.doubt ?? "",
  };
}

/** Whether a field is wanted, by what was typed in the others ("only if", "unless"). */
export function isWanted(
  field: { only_if: string[]; unless: string[]; computed: boolean },
  typed: Record<string, string>,
): boolean {
  if (field.computed) return false;
  const [name, ...words] = field.only_if;
  if (name !== undefined) {
    const other = typed[name] ?? "";
    // Without words, any value of the other field will do.
    if (words.length === 0 ? other === "" : !words.includes(other)) return false;
  }
  // "unknown: no" answers nothing, so a no does not stand for the value.
  return !field.unless.some((other) => (typed[other] ?? "no") !== "no");
}
