// This device, put together: database, outbox, sync and service worker behind one interface.

import { parseShape, SHAPE_FORMAT, type LoadedShape } from "../lib/shape.ts";
import { deviceTime, newId, type App, type Draft, type OutboxItem } from "../state.ts";
import type { ActionGiven, Id, MeasureAnswer, Where } from "../wire.ts";
import { Api, NoAnswer } from "./api.ts";
import { DeviceDb } from "./db.ts";
import type { Device, Kept } from "./device.ts";
import { Outbox } from "./outbox.ts";
import { readOutboxFile, type ReadItem } from "./outboxfile.ts";
import { Sync } from "./sync.ts";
import { registerWorker, reloadToNewer } from "./worker.ts";

const SHAPES_KEPT = 12; // parsed ones in memory; the bytes stay in the browser's store

/** Opens what this device has, then asks the server. Throws NoAnswer on a first visit without it. */
export async function makeDevice(app: App): Promise<Device> {
  const db = await DeviceDb.open();
  db.onShort = () => app.say(
    "This device is nearly full. Entries have a little room still, photos have none: send what waits,"
      + " or save it to a file, and make room.",
    "wrong",
  );
  const api = new Api();
  const outbox = new Outbox(app, db, api);
  const sync = new Sync(app, db, api);
  api.onReach = (reached) => {
    if (app.reached !== reached) sync.reach(reached);
  };
  outbox.renew = () => sync.renew();
  sync.onHere = () => outbox.poke();
  await outbox.read();
  app.who = (await db.get<Id>("who")) ?? "";
  await sync.load();
  addEventListener("online", () => outbox.poke());
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") outbox.poke();
  });
  void registerWorker(app).catch((error: unknown) => {
    app.say(`Without a network the page cannot be opened again: ${String(error)}`, "warn");
  });
  const job = (await db.get<Id>("job")) ?? app.start?.jobs[0]?.id ?? "";
  if (job !== "" && app.start?.jobs.some((j) => j.id === job)) await sync.openJob(job);
  app.tell("who");
  const device = new ThisDevice(app, db, api, outbox, sync);
  await device.lookAtStorage();
  outbox.poke();
  return device;
}

class ThisDevice implements Device {
  #app: App;
  #db: DeviceDb;
  #api: Api;
  #outbox: Outbox;
  #sync: Sync;
  #shapes = new Map<string, Promise<LoadedShape>>();
  #photos = new Map<Id, string>();

  constructor(app: App, db: DeviceDb, api: Api, outbox: Outbox, sync: Sync) {
    this.#app = app;
    this.#db = db;
    this.#api = api;
    this.#outbox = outbox;
    this.#sync = sync;
  }

  async setWho(id: Id): Promise<void> {
    await this.#db.wish("who", id);
    this.#app.who = id;
    this.#app.tell("who");
  }

  async addPerson(name: string): Promise<Id> {
    const person = { id: newId(), name: name.trim() };
    const words = `${person.name} records here`;
    const made = deviceTime();
    const jobId = this.#app.jobId;
    await this.#outbox.put({ id: newId(), job_id: jobId, type: "person", by: person.id, made, words, person });
    this.#app.start?.people.push(person);
    this.#app.tell("start");
    await this.setWho(person.id);
    return person.id;
  }

  openJob(id: Id): Promise<void> {
    return this.#sync.openJob(id);
  }

  loadShape(digest: string): Promise<LoadedShape> {
    const known = this.#shapes.get(digest);
    if (known !== undefined) return known;
    const loading = this.#api.bytes(this.#shapePath(digest)).then(parseShape);
    loading.catch(() => this.#shapes.delete(digest));
    this.#shapes.set(digest, loading);
    for (const old of this.#shapes.keys()) {
      if (this.#shapes.size <= SHAPES_KEPT) break;
      this.#shapes.delete(old);
    }
    return loading;
  }

  /** Kept for good at its address: other units label its lines otherwise, and other bytes are
   * another layout. */
  #shapePath(digest: string): string {
    const units = this.#app.start?.shop.units ?? "metric";
    return `/api/shapes/${digest}?units=${units}&layout=${SHAPE_FORMAT}`;
  }

  async keep({ words, steps, about }: Kept): Promise<void> {
    const app = this.#app;
    const id = newId();
    const shapeOf = (part: Id) => app.part(part)?.shape ?? "";
    const action: ActionGiven = {
      id,
      by: app.who,
      words,
      device_time: deviceTime(),
      clock_offset_ms: app.clockOffset,
      units: app.start?.shop.units ?? "metric",
      // Named with the shape it was drawn on, so that a part corrected meanwhile is noticed.
      steps: steps.map(({ op, entry }) => ({
        op,
        entry: { ...entry, where: entry.where && { shape: shapeOf(entry.part_id), ...entry.where } },
      })),
    };
    await this.#outbox.put({
      id,
      job_id: app.jobId,
      type: "action",
      by: app.who,
      made: action.device_time,
      words,
      action,
      about: about ?? {},
    });
    void this.lookAtStorage();
  }

  wouldUndo(): string {
    return this.#outbox.wouldUndo();
  }

  wouldRedo(): string {
    return this.#outbox.wouldRedo();
  }

  undo(): Promise<void> {
    return this.#outbox.undo();
  }

  redo(): Promise<void> {
    return this.#outbox.redo();
  }

  async addPhoto(file: Blob, taken: string): Promise<Id> {
    const app = this.#app;
    const id = newId();
    const photo = { taken, media_type: file.type, data: file };
    const words = "photo";
    const made = deviceTime();
    await this.#outbox.put({ id, job_id: app.jobId, type: "photo", by: app.who, made, words, photo });
    this.#photos.set(id, URL.createObjectURL(file));
    void this.lookAtStorage();
    return id;
  }

  async photoUrl(id: Id, href: string): Promise<string> {
    if (href !== "") return href;
    const known = this.#photos.get(id);
    if (known !== undefined) return known;
    const item = this.#app.outbox.find((i) => i.type === "photo" && i.id === id);
    if (item?.photo === undefined) return "";
    const made = URL.createObjectURL(item.photo.data);
    this.#photos.set(id, made);
    return made;
  }

  async saveDraft(draft: Draft | null): Promise<void> {
    const before = this.#app.draft;
    this.#app.draft = draft;
    this.#app.tell("draft");
    if (before !== null && before.entry.id !== draft?.entry.id) {
      await this.#db.dropDraft(before.entry.id);
    }
    if (draft !== null) await this.#db.putDraft(draft);
  }

  async drafts(): Promise<Draft[]> {
    const found = await this.#db.drafts();
    // Kept just before the device failed: it was acknowledged, so it is no draft any more.
    const kept = found.filter((draft) => this.#isKept(draft));
    for (const draft of kept) await this.#db.dropDraft(draft.entry.id);
    return found.filter((draft) => !kept.includes(draft));
  }

  #isKept({ entry }: Draft): boolean {
    const { book, outbox } = this.#app;
    if (entry.version === 0 && book?.entries.some((e) => e.id === entry.id)) return true;
    // One that was refused is being mended: that is a draft again.
    return outbox.some((item) =>
      item.state === "waiting" && item.action?.steps.some(
        (s) => s.op !== "remove" && s.entry.id === entry.id && s.entry.version === entry.version,
      ),
    );
  }

  dropDraft(entryId: Id): Promise<void> {
    return this.#db.dropDraft(entryId);
  }

  async last(kind: string): Promise<Record<string, string>> {
    return (await this.#db.get<Record<string, string>>(`last ${this.#app.who} ${kind}`)) ?? {};
  }

  remember(kind: string, values: Record<string, string>): Promise<void> {
    return this.#db.wish(`last ${this.#app.who} ${kind}`, values);
  }

  sendAgain(item: OutboxItem): Promise<void> {
    return this.#outbox.sendAgain(item);
  }

  drop(item: OutboxItem): Promise<void> {
    return this.#outbox.drop(item);
  }

  async replace(item: OutboxItem, action: ActionGiven): Promise<void> {
    const id = newId();
    // A person decides now: the clock is compared as of now.
    const made = { ...action, id, clock_offset_ms: this.#app.clockOffset };
    const { job_id, by, words, about } = item;
    await this.#outbox.put({
      id, job_id, type: "action", by, made: action.device_time, words, action: made, about: about ?? {},
    });
    await this.#outbox.drop(item);
  }

  outboxFile(): Promise<Blob> {
    return this.#outbox.file();
  }

  readOutboxFile(file: Blob, onProgress: (done: number, all: number) => void): Promise<ReadItem[]> {
    return readOutboxFile(this.#api, file, onProgress);
  }

  async takeAlong(onProgress: (done: number, all: number) => void): Promise<void> {
    const { book } = this.#app;
    if (book === null) return;
    const paths = new Set<string>();
    for (const part of book.parts) if (part.shape !== "") paths.add(this.#shapePath(part.shape));
    for (const entry of book.entries) {
      for (const photo of entry.photos) if (photo.href !== "") paths.add(photo.href);
    }
    let done = 0;
    onProgress(0, paths.size);
    for (const path of paths) {
      await this.#api.bytes(path);
      done += 1;
      onProgress(done, paths.size);
    }
    await this.lookAtStorage();
  }

  async lookAtStorage(): Promise<void> {
    try {
      const { usage, quota } = await navigator.storage.estimate();
      const kept = await navigator.storage.persisted();
      this.#app.storage = { used: usage ?? 0, quota: quota ?? 0, kept };
    } catch {
      this.#app.storage = null;
    }
    this.#app.tell("outbox");
  }

  async askToKeepStorage(): Promise<boolean> {
    const kept = (await navigator.storage?.persist?.()) ?? false;
    await this.lookAtStorage();
    return kept;
  }

  async measure(partId: Id, where: Where): Promise<MeasureAnswer | null> {
    const job = `/api/jobs/${encodeURIComponent(this.#app.jobId)}`;
    try {
      return await this.#api.post<MeasureAnswer>(`${job}/measure`, { part_id: partId, where });
    } catch (error) {
      if (error instanceof NoAnswer) return null;
      throw error;
    }
  }

  reloadToNewer(): void {
    reloadToNewer();
  }
}
