// Places that a corrected shape has moved: looked at on the metal, then confirmed or drawn again.

import type { LocalEntry } from "../state.ts";
import type { Id } from "../wire.ts";
import { el } from "./el.ts";
import { trying, type Ui } from "./context.ts";
import { givenOf } from "./given.ts";
import { icon } from "./icons.ts";

/** Whether an entry stayed behind on an earlier shape: it is not on the sheet as it is now. */
export function offSheet(ui: Ui, entry: LocalEntry): boolean {
  const part = ui.app.part(entry.part_id);
  return entry.outline !== null && part !== null && entry.outline.shape !== part.shape;
}

/** What is said of a doubtful place and what can be done; null where nothing is in doubt.
 * last: the entry that was confirmed just now, from which one goes on to the next. */
export function doubt(ui: Ui, entry: LocalEntry, last: Id, confirmed: (id: Id) => void): HTMLElement | null {
  const { app, device, recording } = ui;
  const others = app
    .entries()
    .filter((e) => e.part_id === entry.part_id && e.unconfirmed && !e.refused && e.id !== entry.id);
  const next = others[0];
  const onward =
    next === undefined
      ? null
      : el(
          "button",
          { type: "button", "data-key": "next doubt", onclick: () => ui.openEntry(next.id) },
          `Next place to look at (${others.length} left)`,
        );
  if (!entry.unconfirmed) {
    if (entry.id !== last) return null;
    return el(
      "div",
      { class: "note doubt" },
      el("p", {}, others.length === 0 ? "Confirmed. No other place on this part is in doubt." : "Confirmed."),
      onward,
    );
  }
  const off = offSheet(ui, entry);
  const why = entry.doubt ? `: ${entry.doubt.replace(/ when the shape was corrected$/, "")}` : "";
  const act = (key: string, sort: string, words: string, sign: Parameters<typeof icon>[0], work: () => Promise<void>) =>
    el(
      "button",
      { type: "button", class: sort, "data-key": key, onclick: () => trying(app, words, work) },
      icon(sign),
      words,
    );
  const confirm = async () => {
    await device.keep({
      words: `place of ${entry.kind} confirmed`,
      steps: [{ op: "change", entry: { ...givenOf(entry), confirmed: true } }],
    });
    confirmed(entry.id);
  };
  const again = async () => {
    await recording.change(entry, !off);
    ui.open("form");
    if (app.tool.type === "look") {
      const point = entry.outline?.region === "point";
      app.tool = point ? { type: "point" } : { type: "brush", radius: 12, wipe: false };
      app.tell("tool");
    }
  };
  return el(
    "div",
    { class: "note doubt" },
    el("p", {}, `The shape of the part was corrected${why}.`),
    el(
      "p",
      {},
      off
        ? "It is not on the sheet as it is now. Look on the metal, then draw it again or remove it."
        : "Look on the metal: does it lie where it is shown?",
    ),
    el(
      "div",
      { class: "row" },
      off || entry.unsent ? null : act("confirm", "main", "It lies here", "sent", confirm),
      act("draw again", "", "Draw it again", "brush", again),
    ),
    entry.unsent ? el("p", { class: "help" }, "A change of it is not sent yet; once it is, the place can be confirmed.") : null,
    onward,
  );
}
