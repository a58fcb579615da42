// The kinds of entry as large buttons. Their order never changes: hands learn where they are.

import { el } from "./el.ts";
import type { Ui } from "./context.ts";
import { swatch } from "./swatch.ts";
import { capital } from "./words.ts";

export function kindButtons(ui: Ui, choose: (name: string) => void): HTMLElement {
  const { app } = ui;
  return el(
    "div",
    { class: "kinds" },
    (app.fields?.kinds ?? []).map((kind) =>
      el(
        "button",
        { type: "button", class: "kind", title: kind.help, "data-key": kind.name, onclick: () => choose(kind.name) },
        swatch(app, kind.style),
        capital(kind.name),
      ),
    ),
  );
}
