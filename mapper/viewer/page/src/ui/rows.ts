// One entry as a row of a list.

import type { LocalEntry } from "../state.ts";
import { el } from "./el.ts";
import type { Ui } from "./context.ts";
import { swatch } from "./swatch.ts";
import { day, many, named, place, size } from "./words.ts";

/** A row to tap; `withPart`: lists of the whole job say which part it is on. */
export function entryRow(ui: Ui, entry: LocalEntry, withPart: boolean): HTMLElement {
  const { app } = ui;
  const kind = app.kind(entry.kind);
  const part = app.part(entry.part_id);
  const facts = [
    withPart ? part?.code || part?.name : "",
    size(app, entry),
    entry.state,
    `${entry.by_name}, ${day(entry.device_time)}`,
  ];
  return el(
    "li",
    {},
    el(
      "button",
      {
        type: "button",
        class: "row-button",
        "data-key": entry.id,
        "aria-current": entry.id === app.entryId ? "true" : null,
        onclick: () => ui.openEntry(entry.id),
      },
      swatch(app, kind?.style ?? "other"),
      el(
        "span",
        { class: "row-words" },
        el("strong", {}, named(entry)),
        el("span", {}, place(entry)),
        el("span", { class: "facts" }, facts.filter(Boolean).join(" · ")),
        marks(entry),
      ),
    ),
  );
}

/** Small signs in words: what is still to be done about an entry. */
export function marks(entry: LocalEntry): HTMLElement | null {
  const all: HTMLElement[] = [];
  const mark = (sort: string, words: string) => all.push(el("span", { class: `mark ${sort}` }, words));
  if (entry.refused) mark("wrong", "refused");
  else if (entry.unsent) mark("unsent", "not sent yet");
  if (entry.missing.length > 0) mark("missing", `${many(entry.missing.length, "field")} to complete`);
  if (entry.unconfirmed) mark("wrong", "place not confirmed");
  if (entry.photos.length > 0) mark("plain", many(entry.photos.length, "photo"));
  return all.length === 0 ? null : el("span", { class: "marks" }, all);
}
