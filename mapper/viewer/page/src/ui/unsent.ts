// What waits on this device: sent once each, or refused and left to a person. Room on the device,
// the job taken along, the outbox saved to a file.

import type { OutboxItem } from "../state.ts";
import { dialog, el, refill, twice } from "./el.ts";
import { trying, type Ui } from "./context.ts";
import { openVersions } from "./versions.ts";
import { bytes, capital, moment, percent } from "./words.ts";

export function openDevice(ui: Ui): void {
  const { app, device } = ui;
  const list = el("div", {});
  const room = el("div", {});
  const stops: (() => void)[] = [];
  const opened = dialog("Waiting on this device", "wide", () => stops.forEach((stop) => stop()));
  const fill = () => {
    refill(list, items(ui, opened.close));
    refill(room, storage(ui));
  };
  for (const topic of ["outbox", "net", "start"] as const) stops.push(app.on(topic, fill));
  fill();
  const progress = el("p", { role: "status" });
  const bar = el("progress", { max: 1, value: 0, "aria-label": "Taken along", hidden: true });
  const along = el("button", { type: "button" }, "Take the job along");
  along.addEventListener("click", () => {
    bar.hidden = false;
    along.disabled = true;
    const done = (words: string) => {
      along.disabled = false;
      progress.textContent = words;
    };
    device
      .takeAlong((count, all) => {
        bar.max = Math.max(all, 1);
        bar.value = count;
        progress.textContent = `${count} of ${all}`;
      })
      .then(
        () => done("All of it is on this device: it works without a network."),
        (error: unknown) => done(`Not all of it came: ${error instanceof Error ? error.message : String(error)}`),
      );
  });
  const save = el("button", { type: "button" }, "Save what waits to a file");
  save.addEventListener("click", () => trying(app, "The file is not made", () => saveFile(ui)));
  const read = el("div", { role: "status" });
  const pick = el("input", { type: "file", accept: ".json,application/json", hidden: true, "aria-label": "File of another device" });
  const open = el("button", { type: "button" }, "Read a file of another device");
  open.addEventListener("click", () => pick.click());
  pick.addEventListener("change", () => {
    const file = pick.files?.[0];
    pick.value = "";
    if (file === undefined) return;
    open.disabled = true;
    readFile(ui, file, read).finally(() => (open.disabled = false));
  });
  opened.body.append(
    list,
    el("h3", {}, "Without a network"),
    el("p", {}, "Shapes and photos of the job are fetched now, so that every part opens later without a network."),
    along,
    bar,
    progress,
    el("h3", {}, "Room on this device"),
    room,
    el("h3", {}, "By hand"),
    el("p", {}, "When this device finds no way to the server: the file is read there, each entry once."),
    save,
    el("p", {}, "Here, where the server answers, such a file of another device is read: what is there already is left as it is."),
    open,
    pick,
    read,
  );
}

async function readFile(ui: Ui, file: File, told: HTMLElement): Promise<void> {
  const tell = (words: string) => refill(told, el("p", {}, words));
  tell(`Reading ${file.name} ...`);
  try {
    const found = await ui.device.readOutboxFile(file, (done, all) => tell(`${done} of ${all}`));
    const count = (status: string) => found.filter((one) => one.status === status).length;
    const refused = found.filter((one) => one.status === "refused");
    refill(
      told,
      el("p", {}, `${count("stored")} stored, ${count("repeated")} there already, ${refused.length} refused.`),
      refused.length === 0
        ? null
        : el("ul", { class: "waiting-list" }, refused.map((one) => el("li", { class: "refused" }, el("strong", {}, capital(one.words)), el("p", { class: "why" }, one.message)))),
    );
  } catch (error) {
    const away = error instanceof Error && error.name === "NoAnswer";
    const why = error instanceof Error ? error.message : String(error);
    tell(away ? "The server does not answer. Read the file again when it does: nothing is stored twice." : why);
  }
}

async function saveFile(ui: Ui): Promise<void> {
  const { app, device } = ui;
  const blob = await device.outboxFile();
  const address = URL.createObjectURL(blob);
  const name = `unsent-${new Date().toISOString().slice(0, 16).replace(/[:T]/g, "-")}.json`;
  const link = el("a", { href: address, download: name });
  link.click();
  // The download has its own hold on the data once it has begun.
  setTimeout(() => URL.revokeObjectURL(address), 60000);
  app.say(`Saved as ${name}. What waits here stays here until the server has it.`);
}

function items(ui: Ui, close: () => void): HTMLElement {
  const { app } = ui;
  const refused = app.outbox.filter((i) => i.state === "refused");
  const waiting = app.outbox.filter((i) => i.state !== "refused");
  if (app.outbox.length === 0) return el("p", { class: "empty" }, "Nothing waits: the server has everything.");
  return el(
    "div",
    {},
    refused.length === 0
      ? null
      : [
          el("h3", {}, `${refused.length} refused: decide what becomes of ${refused.length === 1 ? "it" : "them"}`),
          el("ul", { class: "waiting-list" }, refused.map((i) => refusedRow(ui, i, close))),
        ],
    waiting.length === 0
      ? null
      : [
          el("h3", {}, `${waiting.length} unsent`),
          el("p", { class: "help" }, app.reached ? "Being sent." : "Sent as soon as the server answers, in this order."),
          el("ul", { class: "waiting-list" }, waiting.map((i) => el("li", {}, heading(ui, i)))),
        ],
  );
}

function heading(ui: Ui, item: OutboxItem): HTMLElement {
  const { app } = ui;
  const entry = item.action?.steps[0]?.entry;
  const part = entry === undefined ? null : app.part(entry.part_id);
  const size = item.photo === undefined ? "" : bytes(item.photo.data.size);
  const facts = [part?.name ?? "", size, app.personName(item.by), moment(item.made)];
  if (item.tries > 1) facts.push(`tried ${item.tries} times`);
  return el(
    "div",
    {},
    el("strong", {}, capital(item.words || item.type)),
    el("span", { class: "facts" }, facts.filter(Boolean).join(" · ")),
  );
}

function refusedRow(ui: Ui, item: OutboxItem, close: () => void): HTMLElement {
  const { app, device, recording } = ui;
  const stale = twoVersions(item);
  const step = item.action?.steps.find((s) => s.op !== "remove");
  const acts: HTMLElement[] = [];
  if (stale) {
    acts.push(
      el(
        "button",
        {
          type: "button",
          class: "main",
          "data-key": `choose ${item.id}`,
          onclick: () => {
            close();
            openVersions(ui, item);
          },
        },
        "See both versions",
      ),
    );
  } else if (step !== undefined) {
    acts.push(
      el(
        "button",
        {
          type: "button",
          class: "main",
          "data-key": `change ${item.id}`,
          onclick: () =>
            trying(app, "It cannot be changed", async () => {
              close();
              await recording.mend(item);
              ui.openPart(step.entry.part_id);
              ui.open("form");
            }),
        },
        "Change it",
      ),
    );
  }
  acts.push(
    el(
      "button",
      { type: "button", "data-key": `again ${item.id}`, onclick: () => trying(app, "It is not sent", () => device.sendAgain(item)) },
      "Send again",
    ),
    twice("Drop it", "Tap again: it is lost for good", () => trying(app, "It is not dropped", () => device.drop(item)), {
      "data-key": `drop ${item.id}`,
    }),
  );
  return el(
    "li",
    { class: "refused" },
    heading(ui, item),
    el("p", { class: "why" }, item.refusal?.message ?? "The server gave no reason."),
    el("div", { class: "row" }, acts),
  );
}

/** Whether another person changed or removed the entry. The same version there, or none at all,
 * means that the shape was corrected: then the outline is looked at again in its form. */
function twoVersions(item: OutboxItem): boolean {
  const { refusal } = item;
  const step = item.action?.steps[0];
  if (refusal?.code !== "stale" || step === undefined || refusal.theirs === undefined) return false;
  if (step.op === "add") return false;
  return refusal.theirs === null || refusal.theirs.version !== step.entry.version;
}

function storage(ui: Ui): HTMLElement {
  const { app, device } = ui;
  const { storage: kept } = app;
  if (kept === null) return el("p", {}, "This browser does not say how much room there is.");
  const share = kept.quota > 0 ? (100 * kept.used) / kept.quota : 0;
  const meter = el("meter", {
    min: 0,
    max: Math.max(kept.quota, 1),
    high: 0.8 * kept.quota,
    value: kept.used,
    "aria-label": "Room used",
  });
  const ask = el("button", { type: "button", "data-key": "keep" }, "Ask the browser to keep it");
  ask.addEventListener("click", () =>
    trying(app, "The browser did not answer", async () => {
      const yes = await device.askToKeepStorage();
      app.say(yes ? "The browser keeps what is stored here." : "The browser did not promise it. Save what waits to a file.", yes ? "told" : "warn");
    }),
  );
  return el(
    "div",
    {},
    el("p", {}, `${bytes(kept.used)} used of ${bytes(kept.quota)} (${percent(share)})`),
    meter,
    kept.kept
      ? el("p", {}, "The browser has promised to keep it.")
      : el("p", { class: "note" }, "The browser may throw it away when the device runs short of room, what is not sent included."),
    kept.kept ? null : ask,
  );
}
