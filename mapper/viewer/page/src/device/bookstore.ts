// A job on this device. It is large, and changes by one entry at a time: so it is written whole
// once, and then only what is new since.

import { newId } from "../state.ts";
import type { BookView, EntryView, Id, PartView } from "../wire.ts";
import type { DeviceDb } from "./db.ts";

const MOST_NEW = 200; // entries; with more the whole is written again

/** What is new since the book with this stamp was written. */
interface More {
  stamp: string;
  seq: number;
  head: string;
  parts: PartView[];
  entries: EntryView[];
  gone: Id[];
}

export class BookStore {
  #db: DeviceDb;
  /** The book as it was written whole: its entries are known by being the same objects. */
  #whole: { job: Id; stamp: string; entries: Set<EntryView> } | null = null;

  constructor(db: DeviceDb) {
    this.#db = db;
  }

  /** The job as this device knows it; null for none. */
  async read(job: Id): Promise<BookView | null> {
    const kept = await this.#db.get<BookView & { stamp?: string }>(`book ${job}`);
    if (kept === null) return null;
    const { stamp = "", ...book } = kept;
    this.#whole = { job, stamp, entries: new Set(book.entries) };
    const more = await this.#db.get<More>(`more ${job}`);
    if (more === null || stamp === "" || more.stamp !== stamp) return book;
    const gone = new Set([...more.gone, ...more.entries.map((e) => e.id)]);
    const { seq, head, parts } = more;
    const entries = [...book.entries.filter((e) => !gone.has(e.id)), ...more.entries];
    return { ...book, seq, head, parts, entries };
  }

  /** Write it down; where the device is full nothing is, and the server is asked next time. */
  async write(book: BookView, whole = false): Promise<void> {
    const job = book.job.id;
    const was = this.#whole;
    if (!whole && was !== null && was.job === job && was.stamp !== "") {
      const { stamp } = was;
      const entries = book.entries.filter((e) => !was.entries.has(e));
      const there = new Set(book.entries.map((e) => e.id));
      const gone = [...was.entries].filter((e) => !there.has(e.id)).map((e) => e.id);
      if (entries.length + gone.length <= MOST_NEW) {
        const { seq, head, parts } = book;
        await this.#db.wish(`more ${job}`, { stamp, seq, head, parts, entries, gone });
        return;
      }
    }
    const stamp = newId();
    this.#whole = { job, stamp, entries: new Set(book.entries) };
    await this.#db.wish(`book ${job}`, { ...book, stamp });
  }
}
