// What was begun and not closed, found again after a crash or a flat battery: offered, never sent.

import type { Draft } from "../state.ts";
import { dialog, el, twice } from "./el.ts";
import { trying, type Ui } from "./context.ts";
import { area, capital, many, moment } from "./words.ts";

/** Ask about the drafts of this device, if there are any that are not on the screen. */
export async function offerDrafts(ui: Ui): Promise<void> {
  const { app, device } = ui;
  const found = (await device.drafts()).filter(
    (d) => d.job_id === app.jobId && d.entry.id !== app.draft?.entry.id,
  );
  if (found.length === 0) return;
  const opened = dialog("Begun and not finished", "wide");
  const list = el("ul", { class: "waiting-list" });
  const gone = (row: HTMLElement) => {
    row.remove();
    if (list.children.length === 0) opened.close();
  };
  for (const draft of found) list.append(row(ui, draft, opened.close, gone));
  opened.body.append(
    el("p", {}, `This device has ${many(found.length, "entry", "entries")} that nobody closed. Nothing was sent.`),
    list,
    el("p", { class: "help" }, "Closed without an answer, they are offered again."),
  );
}

function row(ui: Ui, draft: Draft, close: () => void, gone: (row: HTMLElement) => void): HTMLElement {
  const { app, device, recording } = ui;
  const { entry } = draft;
  const part = app.part(entry.part_id);
  const facts = [
    part?.name ?? "",
    draft.about_mm2 > 0 ? `about ${area(app, draft.about_mm2)}` : "",
    entry.photos.length > 0 ? many(entry.photos.length, "photo") : "",
    app.personName(draft.by),
    moment(draft.begun),
  ];
  const on = el("button", { type: "button", class: "main" }, "Go on with it");
  on.addEventListener("click", () =>
    trying(app, "It cannot be opened", async () => {
      close();
      await recording.goOn(draft);
      if (part !== null) ui.openPart(part.id);
      ui.open("form");
    }),
  );
  const node = el(
    "li",
    {},
    el("strong", {}, capital(entry.kind === "" ? "an outline without a kind" : entry.kind)),
    el("span", { class: "facts" }, facts.filter(Boolean).join(" · ")),
    el(
      "div",
      { class: "row" },
      on,
      twice("Throw it away", "Tap again: it is lost for good", () =>
        trying(app, "It is still there", async () => {
          await device.dropDraft(entry.id);
          gone(node);
        }),
      ),
    ),
  );
  return node;
}
