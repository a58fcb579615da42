// The day that work is put off to: by a tap, or in the calendar.

import { deviceTime } from "../state.ts";
import { el, ownId } from "./el.ts";

const STEPS: { words: string; days?: number; months?: number }[] = [
  { words: "in a week", days: 7 },
  { words: "in a month", months: 1 },
  { words: "in six months", months: 6 },
];

/** A field for that day; `set` hears every day that is chosen, "" where it was taken out. */
export function deferral(day: string, set: (day: string) => void): HTMLElement {
  const id = ownId("deferred");
  const input = el("input", { type: "date", id, value: day });
  input.addEventListener("change", () => set(input.value));
  const steps = STEPS.map(({ words, days, months }) => {
    const button = el("button", { type: "button", "data-key": words }, words);
    button.addEventListener("click", () => {
      input.value = later(new Date(), days ?? 0, months ?? 0);
      set(input.value);
    });
    return button;
  });
  return el(
    "div",
    { class: "field deferral" },
    el("label", { for: id }, "deferred to"),
    input,
    el("div", { class: "choices" }, steps),
  );
}

/** ISO day so much after another; the last of the month where the month is too short. */
export function later(from: Date, days: number, months: number): string {
  const to = new Date(from);
  to.setDate(1);
  to.setMonth(to.getMonth() + months);
  const last = new Date(to.getFullYear(), to.getMonth() + 1, 0).getDate();
  to.setDate(Math.min(from.getDate(), last) + days);
  return deviceTime(to).slice(0, 10);
}
