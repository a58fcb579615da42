// Two versions of one entry: another person changed it meanwhile. Both are shown, and for every
// field that differs the person takes one.

import { deviceTime, newId, type OutboxItem } from "../state.ts";
import type { EntryGiven, EntryView } from "../wire.ts";
import { dialog, el, ownId, twice } from "./el.ts";
import { trying, type Ui } from "./context.ts";
import { area, capital } from "./words.ts";

interface Differing {
  key: string;
  label: string;
  mine: string;
  theirs: string;
}

export function openVersions(ui: Ui, item: OutboxItem): void {
  const { app } = ui;
  const step = item.action?.steps.find((s) => s.op !== "add") ?? item.action?.steps[0];
  const theirs = item.refusal?.theirs ?? null;
  if (step === undefined) return;
  const opened = dialog("Two versions of one entry", "wide");
  if (theirs === null) {
    gone(ui, item, step.entry, opened.body, opened.close);
    return;
  }
  const mine = step.entry;
  if (step.op === "remove") {
    removed(ui, item, mine, theirs, opened.body, opened.close);
    return;
  }
  const rows = differing(ui, mine, theirs);
  // Nothing is chosen beforehand: a hurried tap must not overwrite what somebody else wrote.
  const taken = new Map<string, "mine" | "theirs">();
  const told = el("p", { class: "slip", role: "status" });
  const pairs = el("div", { class: "versions" }, rows.map((row) => chooser(row, (which) => taken.set(row.key, which))));
  const all = (which: "mine" | "theirs", words: string) => {
    const button = el("button", { type: "button" }, words);
    button.addEventListener("click", () => {
      for (const input of pairs.querySelectorAll<HTMLInputElement>(`input[value="${which}"]`)) {
        input.checked = true;
      }
      for (const row of rows) taken.set(row.key, which);
    });
    return button;
  };
  const put = () => {
    const open = rows.filter((row) => !taken.has(row.key));
    if (open.length > 0) {
      told.textContent = `Choose first: ${open.map((row) => row.label).join(", ")}.`;
      return;
    }
    trying(app, "It is not kept", async () => {
      await ui.device.replace(item, {
        ...item.action!,
        id: newId(),
        device_time: deviceTime(),
        steps: item.action!.steps.map((s) =>
          s.entry.id === mine.id ? { op: "change" as const, entry: joined(mine, theirs, taken) } : s,
        ),
      });
      opened.close();
      app.say("Kept as you chose.");
    });
  };
  opened.body.append(
    el(
      "p",
      {},
      `${theirs.by_name === "" ? "Somebody" : theirs.by_name} or another person changed this ${theirs.kind} before yours arrived. Take one of each; nothing is changed until you do.`,
    ),
    rows.length > 1 ? el("div", { class: "row" }, all("mine", "All of mine"), all("theirs", "All from the shop")) : "",
    pairs,
    told,
    rows.length === 0 ? el("p", {}, "Both say the same: yours can be dropped.") : "",
    el(
      "div",
      { class: "row" },
      el("button", { type: "button", class: "main", onclick: put }, "Keep it as chosen"),
      twice("Drop mine altogether", "Tap again: yours is lost", () =>
        trying(app, "It is not dropped", async () => {
          await ui.device.drop(item);
          opened.close();
        }),
      ),
    ),
  );
}

function chooser(row: Differing, choose: (which: "mine" | "theirs") => void): HTMLElement {
  const name = ownId("version");
  const one = (which: "mine" | "theirs", words: string, text: string) => {
    const input = el("input", { type: "radio", name, value: which });
    input.addEventListener("change", () => choose(which));
    return el("label", { class: "version" }, input, el("span", {}, el("small", {}, words), el("span", {}, text || "nothing")));
  };
  return el(
    "fieldset",
    { class: "field" },
    el("legend", {}, row.label),
    el("div", { class: "pair" }, one("mine", "yours", row.mine), one("theirs", "in the shop", row.theirs)),
  );
}

/** What the two say differently, each in words. */
export function differing(ui: Ui, mine: EntryGiven, theirs: EntryView): Differing[] {
  const { app } = ui;
  const rows: Differing[] = [];
  const add = (key: string, label: string, a: string, b: string) => {
    if (a !== b) rows.push({ key, label, mine: a, theirs: b });
  };
  for (const field of app.kind(mine.kind)?.fields ?? []) {
    if (field.computed) continue;
    const given = mine.values[field.name];
    // A field that mine says nothing of stays as it is in the shop.
    if (given === undefined) continue;
    const stored = theirs.typed[field.name] ?? "";
    const shown = (text: string) => (field.refers_to === "person" ? app.personName(text) : text);
    add(`value ${field.name}`, field.label, shown(given), shown(stored));
  }
  if (mine.where !== null) {
    const item = app.entry(mine.id);
    const size = item !== null && item.about_mm2 > 0 ? `, about ${area(app, item.about_mm2)}` : "";
    add("outline", "outline", `as you drew it${size}`, theirs.outline?.area_words ?? "as stored");
  }
  add("place", "where, in words", mine.place, theirs.place);
  add("state", "state", mine.state, theirs.state);
  add("note", "note", mine.note, theirs.note);
  const count = (photos: { photo_id: string }[]) => photos.map((p) => p.photo_id).sort().join();
  if (count(mine.photos) !== count(theirs.photos)) {
    rows.push({ key: "photos", label: "photos", mine: `${mine.photos.length}`, theirs: `${theirs.photos.length}` });
  }
  return rows;
}

/** The version to keep: made from theirs, with what was chosen of mine. */
export function joined(
  mine: EntryGiven,
  theirs: EntryView,
  taken: Map<string, "mine" | "theirs">,
): EntryGiven {
  const values: Record<string, string> = { ...theirs.typed };
  for (const [name, text] of Object.entries(mine.values)) {
    if (taken.get(`value ${name}`) === "mine") values[name] = text;
  }
  const own = (key: string) => taken.get(key) === "mine";
  const photos = theirs.photos.map(({ photo_id, caption, mm_per_pixel }) => ({ photo_id, caption, mm_per_pixel }));
  return {
    id: mine.id,
    part_id: mine.part_id,
    kind: mine.kind,
    version: theirs.version,
    where: own("outline") ? mine.where : null,
    place: own("place") ? mine.place : theirs.place,
    values,
    state: own("state") ? mine.state : theirs.state,
    deferred_to: own("state") ? mine.deferred_to : theirs.deferred_to,
    note: own("note") ? mine.note : theirs.note,
    photos: own("photos") ? mine.photos : photos,
  };
}

function gone(ui: Ui, item: OutboxItem, mine: EntryGiven, body: HTMLElement, close: () => void): void {
  const { app, device } = ui;
  const again = () =>
    trying(app, "It is not kept", async () => {
      const entry = { ...mine, id: newId(), version: 0 };
      await device.replace(item, {
        ...item.action!,
        id: newId(),
        device_time: deviceTime(),
        steps: [{ op: "add", entry }],
      });
      close();
      app.say("Recorded as a new entry.");
    });
  // What was drawn on top of an outline that is gone cannot be drawn again from it.
  const whole = mine.where !== null && !mine.where.shapes.some((s) => s.type === "kept");
  const possible = whole || mine.place !== "";
  body.append(
    el("p", {}, `Another person removed this ${mine.kind} before your change arrived.`),
    el("dl", { class: "told" }, Object.entries(mine.values).map(([name, text]) => [
      el("dt", {}, app.kind(mine.kind)?.fields.find((f) => f.name === name)?.label ?? name),
      el("dd", {}, text),
    ])),
    possible ? "" : el("p", { class: "note" }, "It cannot be recorded anew by itself: its outline went with it."),
    el(
      "div",
      { class: "row" },
      possible ? el("button", { type: "button", class: "main", onclick: again }, "Record mine as a new one") : "",
      twice("Leave it removed", "Tap again: yours is lost", () =>
        trying(app, "It is not dropped", async () => {
          await device.drop(item);
          close();
        }),
      ),
    ),
  );
}

function removed(
  ui: Ui,
  item: OutboxItem,
  mine: EntryGiven,
  theirs: EntryView,
  body: HTMLElement,
  close: () => void,
): void {
  const { app, device } = ui;
  const put = () =>
    trying(app, "It is not removed", async () => {
      await device.replace(item, {
        ...item.action!,
        id: newId(),
        device_time: deviceTime(),
        steps: [{ op: "remove", entry: { ...mine, version: theirs.version } }],
      });
      close();
    });
  body.append(
    el("p", {}, `You removed this ${mine.kind}, and another person changed it meanwhile. As it stands now:`),
    el("dl", { class: "told" }, el("dt", {}, "what"), el("dd", {}, capital(theirs.title)), Object.entries(theirs.told).map(([name, text]) => [
      el("dt", {}, app.kind(mine.kind)?.fields.find((f) => f.name === name)?.label ?? name),
      el("dd", {}, text),
    ])),
    el(
      "div",
      { class: "row" },
      twice("Remove it all the same", "Tap again to remove it", put),
      el("button", { type: "button", class: "main", onclick: () => trying(app, "It is not kept", async () => { await device.drop(item); close(); }) }, "Leave it as it stands"),
    ),
  );
}
