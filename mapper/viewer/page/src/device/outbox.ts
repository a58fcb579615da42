// The outbox: what was recorded here waits on this device and is sent once each, in order.
//
// The same message with the same id may reach the server twice (an answer was lost): it answers as
// before. What the server refuses stays here until a person decides; the next ones go on.

import { deviceTime, newId, type App, type OutboxItem } from "../state.ts";
import type { Answer, Id, PersonView, PhotoAnswer, Refusal } from "../wire.ts";
import { Api, NoAnswer, Refused } from "./api.ts";
import type { DeviceDb } from "./db.ts";
import { asked, outboxFile } from "./outboxfile.ts";

const WAITS = [1000, 2000, 5000, 10_000, 20_000];
const TAKEN_BACK = "taken back"; // undone before it was sent: for redo

export class Outbox {
  #app: App;
  #db: DeviceDb;
  #api: Api;
  #running = false;
  #sending: Id = "";
  #fails = 0;
  #timer = 0;
  #takenBack: OutboxItem[] = [];
  #undone: string[] = []; // words of what undo messages took back on the server, newest last
  /** What the server stored last of whom, and took back last: which action an undo or redo means. */
  #stored: Meant | null = null;
  #back: Meant | null = null;
  #others = new BroadcastChannel("airframe-map outbox");

  /** Called to fetch a new token when the server does not know ours (it was started again). */
  renew: () => Promise<void> = async () => {};

  constructor(app: App, db: DeviceDb, api: Api) {
    this.#app = app;
    this.#db = db;
    this.#api = api;
    // Another tab of this page shares the database: both show the same.
    this.#others.onmessage = () => void this.read();
  }

  async read(): Promise<void> {
    this.#app.outbox = await this.#db.outbox();
    this.#takenBack = (await this.#db.get<OutboxItem[]>(TAKEN_BACK)) ?? [];
    this.#app.tell("outbox");
  }

  #changed(): void {
    this.#app.tell("outbox");
    this.#others.postMessage(null);
  }

  async put(item: Omit<OutboxItem, "n" | "state" | "refusal" | "tries">): Promise<void> {
    const clock_offset_ms = this.#app.clockOffset;
    const kept = await this.#db.push({
      clock_offset_ms, ...item, state: "waiting", refusal: null, tries: 0,
    });
    this.#app.outbox.push(kept);
    if (item.type === "action") {
      this.#undone = [];
      await this.#setTakenBack([]);
    }
    this.#changed();
    this.poke();
  }

  async #setTakenBack(items: OutboxItem[]): Promise<void> {
    if (items.length === 0 && this.#takenBack.length === 0) return;
    this.#takenBack = items;
    await this.#db.put(TAKEN_BACK, items);
  }

  async #gone(item: OutboxItem): Promise<void> {
    await this.#db.take(item.n);
    this.#app.outbox = this.#app.outbox.filter((other) => other.n !== item.n);
    this.#changed();
  }

  /** The newest thing here of whom records, photos aside. */
  #lastOwn(): OutboxItem | undefined {
    const { outbox, who, jobId } = this.#app;
    return outbox.filter((i) => i.by === who && i.job_id === jobId && i.type !== "photo").at(-1);
  }

  /** The newest action here that was never on its way: it can be taken back without the server. */
  #newest(): OutboxItem | null {
    const last = this.#lastOwn();
    if (last === undefined || last.type !== "action" || last.state !== "waiting") return null;
    return last.tries === 0 && this.#sending !== last.id ? last : null;
  }

  wouldUndo(): string {
    return this.#newest()?.words ?? "";
  }

  wouldRedo(): string {
    return this.#takenBack.at(-1)?.words ?? this.#undone.at(-1) ?? "";
  }

  async undo(): Promise<void> {
    const newest = this.#newest();
    if (newest === null) {
      await this.#message("undo");
      return;
    }
    await this.#setTakenBack([...this.#takenBack, newest]);
    await this.#gone(newest);
    this.#app.say(`Taken back: ${newest.words}`);
  }

  async redo(): Promise<void> {
    const back = this.#takenBack.at(-1);
    if (back === undefined) {
      await this.#message("redo");
      return;
    }
    const { n: _n, ...rest } = back;
    const kept = await this.#db.push({ ...rest, state: "waiting", refusal: null, tries: 0 });
    await this.#setTakenBack(this.#takenBack.slice(0, -1));
    this.#app.outbox.push(kept);
    this.#changed();
    this.poke();
    this.#app.say(`Brought again: ${back.words}`);
  }

  async #message(type: "undo" | "redo"): Promise<void> {
    const { jobId, who } = this.#app;
    const last = this.#lastOwn();
    const known = type === "undo" ? this.#stored : this.#back;
    let of: Id | undefined;
    // Named, so that where it was refused, or more was recorded elsewhere, nothing else is taken.
    if (last?.type === "action" && type === "undo") of = last.id;
    else if (last?.type === "undo" && type === "redo") of = last.of;
    else if (last === undefined && known?.by === who && known.job === jobId) of = known.id;
    await this.put({
      id: newId(),
      job_id: jobId,
      type,
      by: who,
      made: deviceTime(),
      words: type,
      ...(of === undefined ? {} : { of }),
    });
  }

  async sendAgain(item: OutboxItem): Promise<void> {
    item.state = "waiting";
    item.refusal = null;
    await this.#db.update(item);
    this.#changed();
    this.poke();
  }

  async drop(item: OutboxItem): Promise<void> {
    await this.#gone(item);
  }

  /** Go on sending now: something is new, or the network came back. */
  poke(): void {
    this.#fails = 0;
    clearTimeout(this.#timer);
    void this.#run();
  }

  async #run(): Promise<void> {
    if (this.#running || this.#api.token === "") return;
    this.#running = true;
    try {
      // One tab sends at a time where the browser can say so; ids make two harmless elsewhere.
      if (navigator.locks === undefined) await this.#sendAll();
      else await navigator.locks.request("airframe-map sending", () => this.#sendAll());
    } finally {
      this.#running = false;
    }
    if (this.#fails > 0) {
      const wait = WAITS[Math.min(this.#fails, WAITS.length) - 1]!;
      this.#timer = setTimeout(() => void this.#run(), wait);
    }
  }

  async #sendAll(): Promise<void> {
    await this.read();
    for (;;) {
      const item = this.#app.outbox.find((i) => i.state === "waiting");
      if (item === undefined) return;
      this.#sending = item.id;
      try {
        if (!(await this.#sendOne(item))) return;
      } finally {
        this.#sending = "";
      }
    }
  }

  /** Send one; false to stop for now. */
  async #sendOne(item: OutboxItem): Promise<boolean> {
    // Written first: once it may have reached the server, taking it back is the server's affair.
    if (item.tries === 0) {
      item.tries = 1;
      await this.#db.update(item);
    }
    try {
      await this.#post(item);
    } catch (error) {
      if (error instanceof NoAnswer) return this.#later();
      if (!(error instanceof Refused)) throw error;
      if (error.refusal.code === "busy") return this.#later();
      if (error.refusal.code === "foreign" && this.#fails < 2) {
        this.#fails += 1;
        await this.renew().catch(() => {});
        return true;
      }
      await this.#refused(item, error.refusal);
      return true;
    }
    this.#fails = 0;
    await this.#gone(item);
    return true;
  }

  #later(): boolean {
    this.#fails += 1;
    return false;
  }

  async #refused(item: OutboxItem, refusal: Refusal): Promise<void> {
    if (item.type === "undo" || item.type === "redo") {
      // Nothing is lost by it: say why, and go on; the next one is not for the same action.
      this.#stored = this.#back = null;
      this.#app.say(refusal.message, "warn");
      await this.#gone(item);
      return;
    }
    item.state = "refused";
    item.refusal = refusal;
    await this.#db.update(item);
    this.#changed();
    this.#app.say(`Not taken by the server, kept on this device: ${refusal.message}`, "wrong");
  }

  async #post(item: OutboxItem): Promise<void> {
    const job = `/api/jobs/${encodeURIComponent(item.job_id)}`;
    const clock_offset_ms = item.clock_offset_ms ?? null;
    if (item.type === "person") {
      const person = { ...item.person, device_time: item.made, clock_offset_ms };
      await this.#api.post<PersonView>("/api/people", person);
      return;
    }
    if (item.type === "photo") {
      const { id, by, made } = item;
      const said = new URLSearchParams({ id, by, taken: item.photo!.taken, made });
      if (clock_offset_ms !== null) said.set("clock_offset_ms", String(clock_offset_ms));
      const answer = await this.#api.postFile<PhotoAnswer>(`${job}/photos?${said}`, item.photo!.data);
      for (const note of answer.notes) this.#app.say(note);
      return;
    }
    const body = item.type === "action" ? item.action! : asked(item);
    const path = item.type === "action" ? "actions" : item.type;
    const answer = await this.#api.post<Answer>(`${job}/${path}`, body);
    this.#app.takeRows(answer.changes);
    for (const note of answer.notes) this.#app.say(note);
    const meant = { by: item.by, job: item.job_id };
    if (item.type === "action") this.#stored = { ...meant, id: item.id };
    else {
      this.#stored = item.type === "redo" && item.of !== undefined ? { ...meant, id: item.of } : null;
      this.#back = item.type === "undo" && item.of !== undefined ? { ...meant, id: item.of } : null;
    }
    if (item.type === "undo") this.#undone.push(answer.notes[0] ?? "the last action");
    if (item.type === "redo") this.#undone.pop();
  }

  file(): Promise<Blob> {
    return outboxFile(this.#app.outbox, this.#app.jobId);
  }
}

interface Meant {
  by: Id;
  job: Id;
  id: Id;
}
