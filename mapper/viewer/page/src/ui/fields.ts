// The fields of one kind on a form: what is expected first, the rest behind "More".

import { isWanted } from "../state.ts";
import type { FieldView, KindView } from "../wire.ts";
import { el } from "./el.ts";
import { given } from "./typed.ts";
import { control, type Choices, type Control } from "./widgets.ts";
import { capital, many } from "./words.ts";

type Values = Record<string, string>;

/** "main": always to be seen; "more": behind the button; "none": makes no sense yet. */
type Room = "main" | "more" | "none";

/** What such a record is about, though nothing waits for it: which coats a go of stripper or media
 * is to take off. */
const FRONT = new Set(["application: coats", "blasting round: coats"]);

/** Where a field stands, by what was typed in the others. */
export function roomOf(field: FieldView, kind: KindView, values: Values): Room {
  if (field.computed) return "none";
  const [leaning, ...words] = field.only_if;
  if (leaning === undefined) return field.expected || FRONT.has(`${kind.name}: ${field.name}`) ? "main" : "more";
  const other = kind.fields.find((f) => f.name === leaning);
  const home = other === undefined ? "more" : roomOf(other, kind, values);
  if (isWanted(field, values)) return home;
  if (given(values[field.name])) return home;
  // Something else was said there: the field is of little use, but nobody is kept from it.
  return given(values[leaning]) && words.length > 0 ? "more" : "none";
}

export class FieldList {
  readonly node: HTMLElement;
  #kind: KindView;
  #values: Values;
  #controls = new Map<string, Control>();
  #main = el("div", { class: "fields" });
  #more = el("div", { class: "fields" });
  #summary = el("summary", {}, "More");
  #behind = el("details", { class: "more" }, this.#summary, this.#more);
  #offer = el("div", { class: "offer" });
  #last: Values = {};
  #tell: (name: string, text: string) => void;

  constructor(
    kind: KindView,
    values: Values,
    from: Choices,
    tell: (name: string, text: string) => void,
  ) {
    this.#kind = kind;
    this.#values = { ...values };
    this.#tell = tell;
    for (const field of kind.fields) {
      if (field.computed) continue;
      const made = control(field, values[field.name] ?? "", from, (text) => {
        this.#values[field.name] = text;
        tell(field.name, text);
        this.refresh();
      });
      this.#controls.set(field.name, made);
    }
    this.node = el("div", {}, this.#offer, this.#main, this.#behind);
    this.refresh();
    this.#behind.open = kind.fields.some(
      (f) => given(values[f.name]) && roomOf(f, kind, this.#values) === "more",
    );
  }

  /** Put every field where it belongs now; what is in use does not jump. */
  refresh(): void {
    let behind = 0;
    let before: Record<"main" | "more", Element | null> = { main: null, more: null };
    for (const field of this.#kind.fields) {
      const made = this.#controls.get(field.name);
      if (made === undefined) continue;
      const room = roomOf(field, this.#kind, this.#values);
      made.node.hidden = room === "none";
      const missing = field.expected && isWanted(field, this.#values) && !given(this.#values[field.name]);
      made.node.classList.toggle("missing", missing && room === "main");
      if (room === "none") continue;
      const host = room === "main" ? this.#main : this.#more;
      if (room === "more") behind += 1;
      const at: Element | null = before[room]?.nextElementSibling ?? null;
      const wanted = before[room] === null ? host.firstElementChild : at;
      if (made.node !== wanted) host.insertBefore(made.node, wanted);
      before = { ...before, [room]: made.node };
    }
    this.#summary.textContent = `More (${many(behind, "field")})`;
    this.#behind.hidden = behind === 0;
    this.#showOffer();
  }

  /** Offer what was said last time, for words and choices; never what was measured. */
  offer(last: Values): void {
    const kinds = new Set(["text", "choice", "yes/no", "reference"]);
    this.#last = {};
    for (const field of this.#kind.fields) {
      const value = last[field.name];
      if (value !== undefined && kinds.has(field.type)) this.#last[field.name] = value;
    }
    this.#showOffer();
  }

  #showOffer(): void {
    const open = this.#kind.fields.filter(
      (f) =>
        given(this.#last[f.name]) &&
        !given(this.#values[f.name]) &&
        roomOf(f, this.#kind, { ...this.#last, ...this.#values }) !== "none",
    );
    this.#offer.hidden = open.length === 0;
    if (open.length === 0) {
      this.#offer.replaceChildren();
      return;
    }
    const words = open.map((f) => `${f.label}: ${this.#shown(f, this.#last[f.name] ?? "")}`);
    const use = el("button", { type: "button", "data-key": "last" }, "As last time");
    use.addEventListener("click", () => {
      for (const field of open) {
        const text = this.#last[field.name] ?? "";
        this.#values[field.name] = text;
        this.#controls.get(field.name)?.put(text);
        this.#tell(field.name, text);
      }
      this.refresh();
      this.#main.querySelector<HTMLElement>("input,textarea,select")?.focus();
    });
    this.#offer.replaceChildren(use, el("p", { class: "help" }, capital(words.join("; "))));
  }

  #shown(field: FieldView, text: string): string {
    if (field.type !== "reference") return text;
    return this.#named(field, text);
  }

  #named(field: FieldView, id: string): string {
    const select = this.#controls.get(field.name)?.node.querySelector("select");
    return [...(select?.options ?? [])].find((o) => o.value === id)?.text ?? id;
  }
}
