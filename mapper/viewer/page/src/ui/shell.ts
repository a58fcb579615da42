// The whole page: asks who records, then shows the airframe or one part, and what waits on this
// device over both.

import type { LoadedShape } from "../lib/shape.ts";
import type { Device } from "../device/device.ts";
import type { App, Topic } from "../state.ts";
import type { Flat, Id } from "../wire.ts";
import { trying, type Pane, type Ui } from "./context.ts";
import { offerDrafts } from "./drafts.ts";
import { el } from "./el.ts";
import { AirframeScreen } from "./parts.ts";
import { PartScreen } from "./part.ts";
import { Recording } from "./recording.ts";
import { Notices, Top } from "./top.ts";
import { jobScreen, whoScreen } from "./who.ts";
import { Words } from "./said.ts";

export function shell(app: App, host: HTMLElement, device: Device): void {
  new Shell(app, host, device);
}

/** Before there is anything to show: the server did not answer and this device knows nothing. */
export function unreached(host: HTMLElement, why: string): void {
  host.replaceChildren(
    el(
      "main",
      { class: "ask" },
      el("h1", {}, "Airframe mapper"),
      el("p", {}, "The server does not answer, and this device has not been here before."),
      el("p", {}, "Is mapper serve running, and is the address right? Then load the page again."),
      el("p", { class: "help" }, why),
      el("button", { type: "button", class: "main", onclick: () => location.reload() }, "Load again"),
    ),
  );
}

/** This browser keeps nothing for the page: recording is not begun, so that nothing is lost. */
export function keepsNothing(host: HTMLElement, why: string): void {
  host.replaceChildren(
    el(
      "main",
      { class: "ask" },
      el("h1", {}, "Airframe mapper"),
      el("p", {}, "This window of the browser keeps nothing, so what is recorded here could be lost."),
      el("p", {}, "Open this address in an ordinary window (not a private one), and allow the page to store data."),
      el("p", { class: "help" }, why),
      el("button", { type: "button", class: "main", onclick: () => location.reload() }, "Load again"),
    ),
  );
}

class Shell implements Ui {
  readonly app: App;
  readonly device: Device;
  readonly recording: Recording;
  shape: LoadedShape | null = null;
  here: Ui["here"] = null;
  pane: Pane = "none";
  #main = el("main", { id: "main", tabindex: -1 });
  #screen: { dispose?(): void } | null = null;
  #part: PartScreen | null = null;
  #shown = "";
  #asked = false;
  #stops: (() => void)[] = [];
  /** Of the shape that is shown or coming, null before a part is open. */
  #digest: string | null = null;

  constructor(app: App, host: HTMLElement, device: Device) {
    this.app = app;
    this.device = device;
    this.recording = new Recording(app, device);
    const top = new Top(this);
    const notices = new Notices(this);
    const skip = el("a", { class: "skip", href: "#main" }, "Skip to the parts and the map");
    skip.addEventListener("click", (event) => {
      // The address after # says which part is open.
      event.preventDefault();
      this.#main.focus();
    });
    const words = new Words(app);
    // In one pile, so that neither lies over the other or over the buttons of a sheet.
    words.node.prepend(notices.node);
    host.replaceChildren(skip, top.node, this.#main, words.node);
    for (const topic of ["start", "who", "book", "part"] as const) app.on(topic, () => this.#show());
    addEventListener("popstate", () => this.#fromAddress());
    // The last chance to save on a device that throws the page away.
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState === "hidden") void this.recording.saveNow();
    });
    this.#fromAddress();
    this.#show();
  }

  on(topic: Topic, listener: () => void): void {
    this.#stops.push(this.app.on(topic, listener));
  }

  open(pane: Pane): void {
    // The form is where a draft lives: asking for another sheet closes it, which keeps it.
    if (pane === "here" && this.app.draft !== null) pane = "form";
    if (pane === "form" && this.app.draft === null) pane = "here";
    this.pane = pane;
    this.#part?.pane();
  }

  openEntry(id: Id): void {
    const entry = this.app.entry(id);
    if (entry === null) {
      this.open("entries");
      return;
    }
    trying(this.app, "It cannot be opened", async () => {
      if (this.app.draft !== null && this.app.draft.entry.id !== id) await this.recording.settle();
      this.app.entryId = id;
      if (entry.part_id !== this.app.partId) this.#go(entry.part_id, "entry");
      else this.open("entry");
      this.app.tell("entry");
      this.#part?.seek();
    });
  }

  openPart(id: Id): void {
    trying(this.app, "It cannot be opened", async () => {
      const { draft } = this.app;
      if (draft !== null && draft.entry.part_id !== id) await this.recording.settle();
      if (id !== this.app.partId) this.#go(id, this.app.draft === null ? "none" : "form");
    });
  }

  openAirframe(): void {
    trying(this.app, "It is not closed", async () => {
      await this.recording.settle();
      if (this.app.partId !== "") this.#go("", "none");
    });
  }

  turnTo(flat: Flat): void {
    this.#part?.turnTo(flat);
  }

  #go(part: Id, pane: Pane): void {
    history.pushState(null, "", part === "" ? "#" : `#part/${encodeURIComponent(part)}`);
    this.#set(part, pane);
  }

  #fromAddress(): void {
    const found = /^#part\/(.+)$/.exec(location.hash);
    const part = found === null ? "" : decodeURIComponent(found[1]!);
    if (part === this.app.partId) return;
    trying(this.app, "It is not closed", async () => {
      await this.recording.settle();
      this.#set(part, "none");
    });
  }

  #set(part: Id, pane: Pane): void {
    const { app } = this;
    app.partId = part;
    app.entryId = pane === "entry" ? app.entryId : "";
    app.tool = { type: "look" };
    app.skin = 0;
    app.face = "";
    this.shape = null;
    this.#digest = null;
    this.here = null;
    this.pane = pane;
    app.tell("part");
    app.tell("tool");
  }

  /** Whichever screen fits what is known now. */
  #show(): void {
    const { app } = this;
    const part = app.part();
    let wanted = "airframe";
    if (app.start === null) wanted = "wait";
    else if (app.who === "") wanted = "who";
    else if (app.jobId === "") wanted = "job";
    else if (app.book === null) wanted = "wait";
    else if (part !== null) wanted = `part ${part.id}`;
    // People may be added while the question stands.
    if (wanted === "who" || wanted === "job") wanted += JSON.stringify([app.start?.people, app.start?.jobs]);
    if (wanted !== this.#shown) {
      this.#shown = wanted;
      this.#screen?.dispose?.();
      for (const stop of this.#stops.splice(0)) stop();
      this.#screen = this.#part = null;
      this.#begin(wanted);
    }
    if (part !== null && wanted.startsWith("part ")) this.#load(part.shape);
  }

  #begin(wanted: string): void {
    const { app } = this;
    if (wanted === "wait") this.#main.replaceChildren(el("p", { class: "ask", role: "status" }, "Opening …"));
    else if (wanted.startsWith("who")) this.#main.replaceChildren(whoScreen(this));
    else if (wanted.startsWith("job")) this.#main.replaceChildren(jobScreen(this));
    else if (wanted === "airframe") {
      const screen = new AirframeScreen(this);
      this.#screen = screen;
      this.#main.replaceChildren(screen.node);
      screen.begin();
    } else {
      const screen = new PartScreen(this);
      this.#screen = this.#part = screen;
      this.#main.replaceChildren(screen.node);
      screen.begin();
    }
    // What had the focus went with the screen before: the next tab key goes on in this one.
    if (document.activeElement === document.body) this.#main.focus({ preventScroll: true });
    const name = app.part()?.name ?? app.book?.job.name;
    document.title = name === undefined ? "Airframe mapper" : `${name} – Airframe mapper`;
    if (!this.#asked && (wanted === "airframe" || wanted.startsWith("part "))) {
      this.#asked = true;
      trying(app, "The drafts of this device cannot be read", () => offerDrafts(this));
    }
  }

  /** The shape of the open part, or the corrected one that came in its place. */
  #load(digest: string): void {
    const { app } = this;
    if (digest === this.#digest) return;
    const again = this.#digest !== null;
    this.#digest = digest;
    if (digest === "") {
      this.#part?.withoutShape("This part has no shape: record by words, and with photos.", null);
      return;
    }
    this.#part?.withoutShape("The shape is coming …", null);
    this.device.loadShape(digest).then(
      (shape) => {
        if (this.#digest !== digest) return;
        this.shape = shape;
        const entry = app.draft?.entry.where ?? app.entry()?.outline ?? null;
        const skin = shape.header.skins.findIndex((s) => s.name === entry?.skin);
        app.skin = Math.max(skin, 0);
        const faces = shape.header.skins[app.skin]?.faces ?? [];
        const face = entry !== null && faces.includes(entry.face) ? entry.face : faces[0];
        app.face = face ?? "";
        if (again) app.say("The shape of this part was corrected; this is the new one.");
        this.#part?.withoutShape("", null);
        app.tell("part");
        queueMicrotask(() => this.#part?.seek());
      },
      (error: unknown) => {
        if (this.#digest !== digest) return;
        const why = error instanceof Error ? error.message : String(error);
        this.#part?.withoutShape(`The shape of this part is not on this device (${why}). Entries can be recorded by words.`, () => {
          this.#digest = null;
          this.#load(digest);
        });
      },
    );
  }
}
