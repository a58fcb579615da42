// A stage for the forms and lists: the page's own shell over an invented job, with a device that
// keeps everything in memory. Which state is shown is named in the address (?net=off&who=...).

import type { Device, Kept } from "../../../mapper/viewer/page/src/device/device.ts";
import type { LoadedShape } from "../../../mapper/viewer/page/src/lib/shape.ts";
import {
  App,
  deviceTime,
  newId,
  type Draft,
  type OutboxItem,
} from "../../../mapper/viewer/page/src/state.ts";
import type { Id, MeasureAnswer, Where } from "../../../mapper/viewer/page/src/wire.ts";
import { shell, unreached } from "../../../mapper/viewer/page/src/ui/shell.ts";
import { plate } from "./plate.ts";

const asked = new URLSearchParams(location.search);
const app = new App();

class Stage implements Device {
  kept: Kept[] = [];
  draftsKept = new Map<Id, Draft>();
  lastValues = new Map<string, Record<string, string>>();
  dropped: Id[] = [];
  #n = 0;
  #photos = new Map<Id, string>();
  #done: string[] = [];
  #undone: string[] = [];

  async setWho(id: Id): Promise<void> {
    app.who = id;
    app.tell("who");
  }
  async addPerson(name: string): Promise<Id> {
    const id = newId();
    app.start!.people.push({ id, name });
    app.tell("start");
    await this.setWho(id);
    return id;
  }
  async openJob(id: Id): Promise<void> {
    app.jobId = id;
    app.tell("book");
  }
  async loadShape(digest: string): Promise<LoadedShape> {
    if (asked.get("shape") === "lost") throw new Error("no answer");
    return plate(digest);
  }
  push(item: Partial<OutboxItem> & { type: OutboxItem["type"]; words: string }): OutboxItem {
    this.#n += 1;
    const made: OutboxItem = {
      n: this.#n,
      id: newId(),
      job_id: app.jobId,
      by: app.who,
      made: deviceTime(),
      state: "waiting",
      refusal: null,
      tries: 0,
      ...item,
    };
    app.outbox.push(made);
    app.tell("outbox");
    return made;
  }
  async keep(action: Kept): Promise<void> {
    this.kept.push(structuredClone(action));
    const id = newId();
    const { words, steps, about } = structuredClone(action);
    this.push({
      id,
      type: "action",
      words,
      about: about ?? {},
      action: {
        id, by: app.who, words, device_time: deviceTime(), clock_offset_ms: 0, units: "metric", steps,
      },
    });
    this.#done.push(words);
    this.#undone = [];
  }
  wouldUndo(): string {
    return this.#done.at(-1) ?? "";
  }
  wouldRedo(): string {
    return this.#undone.at(-1) ?? "";
  }
  async undo(): Promise<void> {
    const words = this.#done.pop();
    if (words !== undefined) this.#undone.push(words);
    this.push({ type: "undo", words: "undo" });
  }
  async redo(): Promise<void> {
    const words = this.#undone.pop();
    if (words !== undefined) this.#done.push(words);
    this.push({ type: "redo", words: "redo" });
  }
  async addPhoto(file: Blob, taken: string): Promise<Id> {
    const { id } = this.push({ type: "photo", words: "photo", photo: { taken, media_type: file.type, data: file } });
    this.#photos.set(id, URL.createObjectURL(file));
    return id;
  }
  async photoUrl(id: Id, href: string): Promise<string> {
    return this.#photos.get(id) ?? href;
  }
  async saveDraft(draft: Draft | null): Promise<void> {
    const before = app.draft;
    app.draft = draft;
    app.tell("draft");
    if (before !== null && before.entry.id !== draft?.entry.id) this.draftsKept.delete(before.entry.id);
    if (draft !== null) this.draftsKept.set(draft.entry.id, structuredClone(draft));
  }
  async drafts(): Promise<Draft[]> {
    return [...this.draftsKept.values()];
  }
  async dropDraft(id: Id): Promise<void> {
    this.draftsKept.delete(id);
  }
  async last(kind: string): Promise<Record<string, string>> {
    return this.lastValues.get(kind) ?? {};
  }
  async remember(kind: string, values: Record<string, string>): Promise<void> {
    this.lastValues.set(kind, values);
  }
  async sendAgain(item: OutboxItem): Promise<void> {
    item.state = "waiting";
    item.refusal = null;
    app.tell("outbox");
  }
  async readOutboxFile(file: Blob): Promise<{ words: string; status: string; message: string }[]> {
    if ((await file.text()) !== "saved") throw new Error("This is no file of unsent entries.");
    return [
      { words: "finding on RW-00", status: "stored", message: "" },
      { words: "photo", status: "repeated", message: "" },
      { words: "finding on LW-00", status: "refused", message: "There is no kind of entry 'ghost'." },
    ];
  }
  async drop(item: OutboxItem): Promise<void> {
    this.dropped.push(item.id);
    app.outbox = app.outbox.filter((i) => i !== item);
    app.tell("outbox");
  }
  async replace(item: OutboxItem, action: OutboxItem["action"] & object): Promise<void> {
    this.push({ type: "action", words: item.words, action: structuredClone(action) });
    await this.drop(item);
  }
  async outboxFile(): Promise<Blob> {
    return new Blob(["{}"], { type: "application/json" });
  }
  async takeAlong(onProgress: (done: number, all: number) => void): Promise<void> {
    for (let done = 0; done <= 8; done += 1) onProgress(done, 8);
  }
  async askToKeepStorage(): Promise<boolean> {
    app.storage = { ...app.storage!, kept: true };
    app.tell("outbox");
    return true;
  }
  async measure(_part: Id, where: Where): Promise<MeasureAnswer | null> {
    if (!app.reached) return null;
    const point = where.shapes.every((s) => s.type === "point");
    return {
      outline: {
        skin: where.skin, face: where.face, region: point ? "point" : "area", shape: "a", polygons: [],
        area_mm2: point ? 0 : 1234, area_words: point ? "" : "12.3 cm²",
      },
      where: "station 300 mm, 30.0 % chord, nose skin",
      near: "",
    };
  }
  reloadToNewer(): void {
    document.title = "newer";
  }
}

const device = new Stage();
Object.assign(globalThis, { stage: { app, device, newId, deviceTime } });

async function begin(): Promise<void> {
  const host = document.querySelector<HTMLElement>("#app")!;
  if (asked.get("first") === "lost") {
    unreached(host, "Failed to fetch");
    return;
  }
  const data = await (await fetch("/data.json")).json();
  app.start = data.start;
  app.fields = data.fields;
  app.style = data.style;
  app.book = asked.get("book") === "none" ? { ...data.book, parts: [], entries: [], assemblies: [] } : data.book;
  app.who = asked.get("who") ?? data.start.people[0].id;
  if (asked.get("jobs") === "none") app.start!.jobs = [];
  app.jobId = asked.get("job") ?? data.start.jobs[0].id;
  app.reached = asked.get("net") !== "off";
  app.clockOffset = 0;
  app.storage = { used: 48e6, quota: 2.1e9, kept: asked.get("kept") !== "no" };
  for (const item of data.outbox[asked.get("outbox") ?? ""] ?? []) device.push(item);
  for (const draft of data.drafts[asked.get("drafts") ?? ""] ?? []) device.draftsKept.set(draft.entry.id, draft);
  for (const [kind, values] of Object.entries(data.last)) device.lastValues.set(kind, values as Record<string, string>);
  shell(app, host, device);
  if (asked.get("newer") !== null) app.tell("newer");
}

void begin();
