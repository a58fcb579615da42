// The bar that is always in sight: where one is, whether all is sent, undo and redo, who records.

import { el, refill } from "./el.ts";
import { trying, type Ui } from "./context.ts";
import { icon, type Icon } from "./icons.ts";
import { openDevice } from "./unsent.ts";
import { openWho } from "./who.ts";

export class Top {
  readonly node = el("header", { class: "top" });
  #ui: Ui;

  constructor(ui: Ui) {
    this.#ui = ui;
    for (const topic of ["start", "who", "book", "part", "outbox", "net", "draft"] as const) {
      ui.app.on(topic, () => this.refresh());
    }
    this.refresh();
  }

  refresh(): void {
    const { app, device, recording } = this.#ui;
    const part = app.part();
    const drawn = (app.draft?.entry.where?.shapes.length ?? 0) > 0;
    const back = drawn ? "what was drawn last" : device.wouldUndo();
    const again = device.wouldRedo();
    const known = app.jobId !== "" && app.who !== "";
    const step = (sign: Icon, label: string, what: string, key: string, work: () => Promise<void>) =>
      el(
        "button",
        {
          type: "button",
          class: what === "" ? `top-button ${key} idle` : `top-button ${key}`,
          "data-key": key,
          title: what === "" ? label : `${label}: ${what}`,
          onclick: () => trying(app, label, work),
        },
        icon(sign),
        el("span", { class: "wide-only" }, label, what === "" ? null : el("small", {}, ` ${what}`)),
      );
    const undo = async () => {
      if (drawn && recording.takeBack()) return;
      if (app.draft !== null) await recording.settle();
      await device.undo();
      app.say(back === "" ? "Taken back." : `Taken back: ${back}.`);
    };
    const redo = async () => {
      await device.redo();
      app.say(again === "" ? "Done again." : `Done again: ${again}.`);
    };
    refill(
      this.node,
      part === null
        ? el("span", { class: "badge", "aria-hidden": "true" }, icon("inside"))
        : el(
            "button",
            { type: "button", class: "top-button", "data-key": "home", onclick: () => this.#ui.openAirframe() },
            icon("back"),
            el("span", { class: "wide-only" }, "Airframe"),
          ),
      el(
        "h1",
        { class: "where", tabindex: -1 },
        el("span", {}, part?.name ?? app.book?.job.name ?? "Airframe mapper"),
        el("small", {}, part === null ? (app.start?.shop.name ?? "") : part.code),
      ),
      known ? this.#unsent() : null,
      known ? step("undo", "Undo", back, "undo", undo) : null,
      known ? step("redo", "Redo", again, "redo", redo) : null,
      this.#who(),
    );
  }

  /** The count is always in sight; no network shows here too. */
  #unsent(): HTMLElement {
    const { app } = this.#ui;
    const count = app.unsentCount();
    const refused = app.outbox.filter((i) => i.state === "refused").length;
    const words = [
      refused > 0 ? `${refused} refused` : "",
      count - refused > 0 ? `${count - refused} unsent` : count === 0 ? "All sent" : "",
      app.reached ? "" : "no network",
    ].filter(Boolean);
    const sort = refused > 0 ? "wrong" : count > 0 || !app.reached ? "waiting" : "calm";
    return el(
      "button",
      {
        type: "button",
        class: `top-button unsent ${sort}`,
        "data-key": "unsent",
        title: "what waits on this device",
        onclick: () => openDevice(this.#ui),
      },
      icon(refused > 0 ? "warn" : count > 0 || !app.reached ? "unsent" : "sent"),
      count > 0 ? el("b", { class: "count", "aria-hidden": "true" }, count) : null,
      el("span", { class: "wide-only" }, words[0] ?? "", words[1] === undefined ? null : el("small", {}, ` ${words.slice(1).join(", ")}`)),
    );
  }

  #who(): HTMLElement | null {
    const { app } = this.#ui;
    if (app.who === "") return null;
    const name = app.personName(app.who);
    return el(
      "button",
      {
        type: "button",
        class: "top-button who",
        "data-key": "who",
        title: `${name} is recording: change`,
        onclick: () => openWho(this.#ui),
      },
      icon("who"),
      el("span", { class: "name wide-only" }, name),
    );
  }
}

/** What must be known, over the page so that nothing moves under a stroke; each can be put away. */
export class Notices {
  readonly node = el("section", { class: "notices", "aria-label": "Notices" });
  #ui: Ui;
  #newer = false;
  #away = new Set<string>();
  #reached: boolean;

  constructor(ui: Ui) {
    this.#ui = ui;
    this.#reached = ui.app.reached;
    ui.app.on("net", () => this.#net());
    ui.app.on("outbox", () => this.refresh());
    ui.app.on("newer", () => {
      this.#newer = true;
      this.#away.delete("newer");
      this.refresh();
    });
    this.refresh();
  }

  #net(): void {
    const { app } = this.#ui;
    if (app.reached !== this.#reached) {
      this.#reached = app.reached;
      app.say(
        app.reached
          ? "The server answers again."
          : "No answer from the server. Go on: everything is kept on this device and sent later.",
      );
    }
    this.refresh();
  }

  refresh(): void {
    const { app, device, recording } = this.#ui;
    const all: HTMLElement[] = [];
    const add = (key: string, words: string, act: HTMLElement) => {
      if (this.#away.has(key)) return;
      const later = el("button", { type: "button", "data-key": `later ${key}` }, "Later");
      later.addEventListener("click", () => {
        this.#away.add(key);
        this.refresh();
      });
      all.push(el("p", { class: "notice" }, el("span", {}, words), act, later));
    };
    const see = (key: string) =>
      el("button", { type: "button", "data-key": key, onclick: () => openDevice(this.#ui) }, "See");
    if (this.#newer) {
      const load = el("button", { type: "button", "data-key": "newer" }, "Load it");
      load.addEventListener("click", () =>
        trying(app, "The newer page is not loaded", async () => {
          await recording.settle();
          device.reloadToNewer();
        }),
      );
      add("newer", "A newer page is there.", load);
    }
    const { storage } = app;
    if (storage !== null && storage.quota > 0 && storage.used / storage.quota > 0.8) {
      const free = `${Math.round(100 * (1 - storage.used / storage.quota))} %`;
      add("room", `This device has little room left for the page: ${free}. Send what waits, or save it to a file.`, see("room"));
    }
    // What is sent within seconds needs no warning.
    if (!app.reached && app.unsentCount() > 0 && storage !== null && !storage.kept) {
      add("kept", "The browser may throw away what waits here when it needs room.", see("kept"));
    }
    refill(this.node, all);
    this.node.hidden = all.length === 0;
  }
}
