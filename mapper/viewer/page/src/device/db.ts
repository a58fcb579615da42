// This device's database. What waits to be sent is written with strict durability: it is on the
// disk before the page says that it is kept.

import type { Draft, OutboxItem } from "../state.ts";
import { BALLAST, makeRoom, NoRoom } from "./storage.ts";

const NAME = "airframe-map";
const VERSION = 1;
const PHOTO = "the photo";

/** This browser keeps nothing for the page: a private window, or storage is forbidden. */
export class KeepsNothing extends Error {}

export class DeviceDb {
  #db: IDBDatabase;
  /** Called when the device is full and entries take the last room. */
  onShort: () => void = () => {};

  private constructor(db: IDBDatabase) {
    this.#db = db;
    // A newer page in another tab wants to change the tables: let it.
    db.onversionchange = () => db.close();
  }

  /** Throws KeepsNothing where nothing can be kept: better not begun than lost. */
  static async open(): Promise<DeviceDb> {
    try {
      const db = await DeviceDb.#open();
      // Some browsers open it and then refuse the first word.
      await db.wish("opened", Date.now());
      void db.#layBallast().catch(() => {});
      return db;
    } catch (error) {
      if (error instanceof Busy) throw error;
      throw new KeepsNothing(error instanceof Error ? error.message : String(error));
    }
  }

  static #open(): Promise<DeviceDb> {
    return new Promise((resolve, reject) => {
      const asked = indexedDB.open(NAME, VERSION);
      asked.onupgradeneeded = () => {
        const db = asked.result;
        db.createObjectStore("outbox", { keyPath: "n", autoIncrement: true });
        db.createObjectStore("drafts", { keyPath: "entry.id" });
        db.createObjectStore("kept");
      };
      asked.onsuccess = () => resolve(new DeviceDb(asked.result));
      asked.onerror = () => reject(asked.error ?? new Error("The device's database did not open."));
      asked.onblocked = () => reject(new Busy("Another tab holds an older page: close it."));
    });
  }

  /** Throws NoRoom where the device is full, when all that can be fetched again was thrown away and
   * (not for photos) the ballast too. */
  async #write<T>(
    store: string,
    work: (s: IDBObjectStore) => IDBRequest<T>,
    what = "it",
  ): Promise<T> {
    for (;;) {
      try {
        return await this.#once(store, work);
      } catch (error) {
        if (!isFull(error)) throw error;
        if (await makeRoom()) continue;
        if (what === PHOTO || !(await this.#dropBallast())) throw new NoRoom(what);
      }
    }
  }

  async #layBallast(): Promise<void> {
    const there = await this.#read("kept", (s) => s.getKey("ballast"));
    if (there === undefined) await this.wish("ballast", new Blob([new Uint8Array(BALLAST)]));
  }

  /** Give up the ballast; false where it is gone already. */
  async #dropBallast(): Promise<boolean> {
    if ((await this.#read("kept", (s) => s.getKey("ballast"))) === undefined) return false;
    await this.#once("kept", (s) => s.delete("ballast"));
    this.onShort();
    return true;
  }

  #once<T>(
    store: string,
    work: (s: IDBObjectStore) => IDBRequest<T>,
    durability: IDBTransactionDurability = "strict",
  ): Promise<T> {
    return new Promise((resolve, reject) => {
      const step = this.#db.transaction(store, "readwrite", { durability });
      const asked = work(step.objectStore(store));
      step.oncomplete = () => resolve(asked.result);
      step.onerror = step.onabort = () => reject(step.error ?? asked.error ?? new Error("not kept"));
    });
  }

  #read<T>(store: string, work: (s: IDBObjectStore) => IDBRequest<T>): Promise<T> {
    return new Promise((resolve, reject) => {
      const asked = work(this.#db.transaction(store, "readonly").objectStore(store));
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => reject(asked.error ?? new Error("not read"));
    });
  }

  /** All that waits, in order. */
  outbox(): Promise<OutboxItem[]> {
    return this.#read("outbox", (s) => s.getAll() as IDBRequest<OutboxItem[]>);
  }

  /** Keep one more; gives it with its number. */
  async push(item: Omit<OutboxItem, "n">): Promise<OutboxItem> {
    const what = item.type === "photo" ? PHOTO : "it";
    const n = (await this.#write("outbox", (s) => s.add(item), what)) as number;
    return { ...item, n } as OutboxItem;
  }

  async update(item: OutboxItem): Promise<void> {
    await this.#write("outbox", (s) => s.put(item));
  }

  async take(n: number): Promise<void> {
    await this.#write("outbox", (s) => s.delete(n));
  }

  async putDraft(draft: Draft): Promise<void> {
    await this.#write("drafts", (s) => s.put(draft));
  }

  async dropDraft(entryId: string): Promise<void> {
    await this.#write("drafts", (s) => s.delete(entryId));
  }

  drafts(): Promise<Draft[]> {
    return this.#read("drafts", (s) => s.getAll() as IDBRequest<Draft[]>);
  }

  async put(key: string, value: unknown): Promise<void> {
    await this.#write("kept", (s) => s.put(value, key));
  }

  /** Put what the page can do without for now: where the device is full it is not kept. */
  async wish(key: string, value: unknown): Promise<void> {
    try {
      await this.#once("kept", (s) => s.put(value, key), "relaxed");
    } catch (error) {
      if (!isFull(error)) throw error;
    }
  }

  async get<T>(key: string): Promise<T | null> {
    const found = await this.#read("kept", (s) => s.get(key) as IDBRequest<T | undefined>);
    return found ?? null;
  }
}

class Busy extends Error {}

function isFull(error: unknown): boolean {
  return error instanceof DOMException && error.name === "QuotaExceededError";
}
