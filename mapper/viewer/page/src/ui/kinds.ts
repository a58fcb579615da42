// The kinds of entry as large buttons. Their order never changes: hands learn where they are.

import { el } from "./el.ts";
import type { Ui } from "./context.ts";
import { swatch } from "./swatch.ts";
import { capital } from "./words.ts";

/** What a name alone leaves open, said below it. */
const HINTS: Record<string, string> = {
  application: "of stripper",
  "coat zone": "what paint is on",
  "inspected area": "looked at",
  reading: "of a gauge",
};

export function kindButtons(
  ui: Ui,
  choose: (name: string) => void,
  which: (name: string) => boolean = () => true,
): HTMLElement {
  const { app } = ui;
  return el(
    "div",
    { class: "kinds" },
    (app.fields?.kinds ?? []).filter((kind) => which(kind.name)).map((kind) =>
      el(
        "button",
        { type: "button", class: "kind", title: kind.help, "data-key": kind.name, onclick: () => choose(kind.name) },
        swatch(app, kind.style),
        el("span", {}, capital(kind.name), kind.name in HINTS ? el("small", {}, HINTS[kind.name]) : null),
      ),
    ),
  );
}
