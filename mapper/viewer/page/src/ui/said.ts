// What the page says to the person: read aloud as well as shown, and gone when it was read.

import type { App, Word } from "../state.ts";
import { el } from "./el.ts";

/** How long a plain word stays, ms; warnings stay until they are tapped away. */
const STAYS = 7000;
const MOST = 3;

export class Words {
  readonly node = el("div", { class: "said" });
  #calm = el("div", { role: "status", "aria-live": "polite" });
  #loud = el("div", { role: "alert" });

  constructor(app: App) {
    this.node.append(this.#calm, this.#loud);
    app.on("word", (word) => {
      if (word !== undefined) this.#say(word);
    });
  }

  #say(word: Word): void {
    if (word.kind === "gone") {
      for (const old of [...this.#calm.children, ...this.#loud.children]) {
        if (old.firstChild?.textContent?.startsWith(word.text)) old.remove();
      }
      return;
    }
    const host = word.kind === "wrong" ? this.#loud : this.#calm;
    for (const old of [...host.children]) {
      if (old.firstChild?.textContent === word.text) old.remove();
    }
    const away = el("button", { type: "button", class: "quiet", "aria-label": "Close this message" }, "×");
    const node = el("div", { class: `word ${word.kind}` }, el("span", {}, word.text), away);
    away.addEventListener("click", () => node.remove());
    host.append(node);
    while (host.children.length > MOST) host.firstElementChild?.remove();
    if (word.kind === "told") setTimeout(() => node.remove(), STAYS);
  }
}
