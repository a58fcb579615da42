// What the page knows of the shop, from the server while it answers and from this device while
// not; and what others record, as it happens.

import type { App } from "../state.ts";
import type { BookView, Changes, Fields, Start } from "../wire.ts";
import { Api, NoAnswer } from "./api.ts";
import { BookStore } from "./bookstore.ts";
import type { DeviceDb } from "./db.ts";

const SILENCE = 15_000; // the server says something every 5 s, or the way to it is gone
const AGAIN = 1500;
const WRITE_AFTER = 1000;
const COARSE = 1500; // ms: the header of an answer has whole seconds

export class Sync {
  #app: App;
  #db: DeviceDb;
  #books: BookStore;
  #api: Api;
  #events: EventSource | null = null;
  #heard = 0;
  #retry = 0;
  #saving = 0;
  /** Called when the server is there (again). */
  onHere: () => void = () => {};

  constructor(app: App, db: DeviceDb, api: Api) {
    this.#app = app;
    this.#db = db;
    this.#books = new BookStore(db);
    this.#api = api;
    setInterval(() => this.#listenFor(), SILENCE / 3);
    app.on("book", () => this.#save());
    api.onClock = (asked, answered, said) => this.#compare(asked, answered, said);
  }

  /** Every answer tells the second it was given: where that is not what was measured at the start,
   * somebody has set a clock meanwhile. */
  #compare(asked: number, answered: number, said: number): void {
    if (Number.isNaN(said)) return;
    const rough = Math.round((asked + answered) / 2 - (said + 500));
    const known = this.#app.clockOffset;
    if (known !== null && Math.abs(rough - known) < COARSE + (answered - asked)) return;
    this.#app.clockOffset = rough;
    void this.#db.wish("clock", rough).catch(() => {});
  }

  /** Start, fields and style: from the server, else as they were. */
  async load(): Promise<void> {
    const kept = await this.#db.get<{ start: Start; fields: Fields; style: Record<string, unknown> }>(
      "start",
    );
    if (kept !== null) {
      this.#app.start = kept.start;
      this.#app.fields = kept.fields;
      this.#app.style = kept.style;
      this.#app.clockOffset = await this.#db.get<number>("clock");
      this.#app.tell("start");
    }
    const fresh = this.renew();
    if (kept === null) await fresh;
    else fresh.catch(() => {});
  }

  /** Ask the server for everything it says at the start. Throws NoAnswer while it does not. */
  async renew(): Promise<void> {
    const asked = Date.now();
    const start = await this.#api.get<Start>("/api/start");
    const between = (asked + Date.now()) / 2;
    const [fields, style] = await Promise.all([
      this.#api.get<Fields>("/api/fields"),
      this.#api.get<Record<string, unknown>>("/api/style"),
    ]);
    const first = this.#api.token === "";
    this.#api.token = start.token;
    const app = this.#app;
    app.clockOffset = Math.round(between - Date.parse(start.server_time));
    app.start = start;
    for (const { person } of app.outbox) {
      // Somebody new who was not sent yet is known here all the same.
      if (person !== undefined && !start.people.some((p) => p.id === person.id)) start.people.push(person);
    }
    app.fields = fields;
    app.style = style;
    app.tell("start");
    // The token is of this run of the server: it is not kept.
    await this.#db.wish("start", { start: { ...start, token: "" }, fields, style });
    await this.#db.wish("clock", app.clockOffset);
    // What waited over a reload could not be sent before, whoever asked for it.
    if (first) this.onHere();
  }

  async openJob(id: string): Promise<void> {
    const app = this.#app;
    this.#close();
    app.jobId = id;
    app.book = await this.#books.read(id);
    app.tell("book");
    await this.#db.wish("job", id);
    // Nobody waits for the server here: what this device has is shown at once, and on a network
    // that swallows everything an answer never comes.
    void this.#follow(id);
  }

  async #follow(id: string): Promise<void> {
    const app = this.#app;
    try {
      await this.#catchUp();
    } catch (error) {
      if (app.jobId !== id) return;
      if (error instanceof NoAnswer) this.#lost();
      else {
        app.say(`The job cannot be opened: ${error instanceof Error ? error.message : String(error)}`, "wrong");
        if (app.book === null) app.jobId = "";
        app.tell("book");
      }
      return;
    }
    if (app.jobId === id) this.#open();
  }

  async #catchUp(): Promise<void> {
    const app = this.#app;
    const id = app.jobId;
    const job = `/api/jobs/${encodeURIComponent(id)}`;
    if (app.book !== null) {
      const changes = await this.#api.get<Changes>(`${job}/changes?after=${app.book.seq}`);
      if (app.jobId !== id) return;
      if (!changes.again) {
        app.take(changes);
        return;
      }
    }
    const book = await this.#api.get<BookView>(`${job}/book`, true);
    if (app.jobId !== id) return;
    app.book = book;
    app.tell("book");
    // At once: the network may be gone a moment later. What is full or forbidden is seen without.
    await this.#books.write(book, true).catch(() => {});
  }

  #save(): void {
    clearTimeout(this.#saving);
    this.#saving = setTimeout(() => {
      const { book } = this.#app;
      if (book !== null) this.#books.write(book).catch(() => {});
    }, WRITE_AFTER);
  }

  #close(): void {
    this.#events?.close();
    this.#events = null;
    clearTimeout(this.#retry);
  }

  #open(): void {
    const app = this.#app;
    this.#close();
    const after = app.book?.seq ?? 0;
    const path = `/api/jobs/${encodeURIComponent(app.jobId)}/events?after=${after}`;
    const events = new EventSource(path);
    this.#events = events;
    this.#heard = Date.now();
    const here = () => {
      this.#heard = Date.now();
      if (!app.reached) this.reach(true);
    };
    events.onopen = here;
    events.addEventListener("beat", here);
    events.onmessage = (message: MessageEvent<string>) => {
      here();
      const changes = JSON.parse(message.data) as Changes;
      if (changes.again) void this.#catchUp().catch(() => {});
      else app.take(changes);
    };
    events.onerror = () => this.#lost();
  }

  #lost(): void {
    // Opened anew rather than left to the browser: its address names what was heard last.
    this.#close();
    this.reach(false);
    this.#retry = setTimeout(() => void this.#again(), AGAIN);
  }

  async #again(): Promise<void> {
    try {
      // The server may have been started again: its token is another then.
      await this.renew();
      await this.#catchUp();
      this.#open();
      this.reach(true);
    } catch {
      this.#retry = setTimeout(() => void this.#again(), AGAIN * 2);
    }
  }

  #listenFor(): void {
    if (this.#events !== null && Date.now() - this.#heard > SILENCE) this.#lost();
  }

  reach(reached: boolean): void {
    const app = this.#app;
    if (app.reached !== reached) {
      app.reached = reached;
      app.tell("net");
    }
    if (reached) this.onHere();
  }
}
