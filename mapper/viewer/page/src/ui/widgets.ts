// One control for each type of field, made from the table of fields. Each tells its value as it
// would be typed on the command line, which is what goes over the wire.

import type { FieldView } from "../wire.ts";
import { el, ownId, refill } from "./el.ts";
import * as typed from "./typed.ts";

/** So many choices are shown as buttons; more of them in a list to open. */
const BUTTONS = 12;

export interface Choices {
  /** What a reference may point to. */
  references(to: string): { id: string; words: string }[];
  /** Who records now, for fields that name a person. */
  me: string;
  /** An outline of the draft as well-known text, "" for none. */
  outline(): string;
}

export interface Control {
  node: HTMLElement;
  /** Show another value, as typed. */
  put(text: string): void;
  /** Where the words about a slip go. */
  slip: HTMLElement;
}

type Told = (text: string) => void;

/** A control for a field; `tell` hears every change. */
export function control(field: FieldView, value: string, from: Choices, tell: Told): Control {
  const make = {
    text: textControl,
    choice: choiceControl,
    number: numberControl,
    measured: measuredControl,
    date: dateControl,
    time: timeControl,
    "yes/no": yesNoControl,
    reference: referenceControl,
    shape: shapeControl,
    records: recordsControl,
  }[field.type];
  const made = make(field, from, tell);
  made.put(value);
  return made;
}

/** Label, help and the place for words about a slip, round one input or a group of them. */
function framed(field: FieldView, inputs: HTMLElement, group: boolean, ...after: HTMLElement[]): Control {
  const help = el("p", { class: "help", id: ownId("help") }, field.help);
  const slip = el("p", { class: "slip", id: ownId("slip"), role: "status" });
  const unit = field.unit === "" ? "" : ` (${field.unit})`;
  const about = `${help.id} ${slip.id}`;
  let node: HTMLElement;
  if (group) {
    node = el(
      "fieldset",
      { class: "field", "aria-describedby": about },
      el("legend", {}, field.label + unit),
      inputs,
      ...after,
      help,
      slip,
    );
  } else {
    const input = inputs.matches("input,select,textarea")
      ? inputs
      : inputs.querySelector<HTMLElement>("input,select,textarea");
    const id = ownId("field");
    input?.setAttribute("id", id);
    input?.setAttribute("aria-describedby", about);
    node = el("div", { class: "field" }, el("label", { for: id }, field.label + unit), inputs, ...after, help, slip);
  }
  node.dataset["name"] = field.name;
  return { node, put: () => {}, slip };
}

function textControl(field: FieldView, _from: Choices, tell: Told): Control {
  const input = el("textarea", { rows: 1, autocomplete: "off" });
  input.addEventListener("input", () => tell(input.value));
  return { ...framed(field, input, false), put: (text) => (input.value = text) };
}

/** Round buttons of which one may be chosen, and one to choose none again. */
function radios(
  label: string,
  words: { value: string; label: string }[],
  chosen: (value: string) => void,
): { node: HTMLElement; put(value: string): void } {
  const name = ownId("choice");
  const none = el("button", { type: "button", class: "none", "aria-label": `${label}: not said` }, "not said");
  const inputs = words.map(({ value }) => el("input", { type: "radio", name, value }));
  const put = (value: string) => {
    for (const input of inputs) input.checked = input.value === value;
    none.hidden = value === "";
  };
  inputs.forEach((input) =>
    input.addEventListener("change", () => {
      none.hidden = false;
      chosen(input.value);
    }),
  );
  none.addEventListener("click", () => {
    put("");
    inputs[0]?.focus();
    chosen("");
  });
  const node = el(
    "div",
    { class: "choices" },
    words.map((word, i) => el("label", { class: "choice" }, inputs[i], el("span", {}, word.label))),
    none,
  );
  return { node, put };
}

function choiceControl(field: FieldView, _from: Choices, tell: Told): Control {
  const words = [...field.choices, "other"];
  const other = el("input", { type: "text", "aria-label": `${field.label}: other, in words`, hidden: true });
  other.placeholder = "in words";
  let choice = "";
  const chosen = (value: string) => {
    choice = value;
    other.hidden = value !== "other";
    tell(typed.joinChoice(choice, other.value));
    if (value === "other") other.focus();
  };
  other.addEventListener("input", () => tell(typed.joinChoice(choice, other.value)));
  let node: HTMLElement;
  let show: (value: string) => void;
  if (words.length <= BUTTONS) {
    const made = radios(field.label, words.map((w) => ({ value: w, label: w })), chosen);
    node = made.node;
    show = made.put;
  } else {
    const select = el(
      "select",
      { "aria-label": field.label },
      el("option", { value: "" }, "not said"),
      words.map((w) => el("option", { value: w }, w)),
    );
    select.addEventListener("change", () => chosen(select.value));
    node = select;
    show = (value) => (select.value = value);
  }
  const put = (text: string) => {
    const parts = typed.splitChoice(text, field.choices);
    choice = parts.choice;
    other.value = parts.other;
    other.hidden = choice !== "other";
    show(choice);
  };
  return { ...framed(field, node, true, other), put };
}

function decimal(label: string, whole = false): HTMLInputElement {
  return el("input", {
    type: "text",
    inputmode: whole ? "numeric" : "decimal",
    autocomplete: "off",
    "aria-label": label,
  });
}

function checked(made: Control, input: HTMLInputElement, field: FieldView): void {
  const sense = el("p", { class: "help means", role: "status", hidden: true });
  made.slip.before(sense);
  const look = () => {
    const words = typed.slip(input.value, field);
    const means = words === "" ? typed.means(input.value, field) : "";
    sense.textContent = means;
    sense.hidden = means === "";
    made.slip.textContent = words;
    if (words === "") input.removeAttribute("aria-invalid");
    else input.setAttribute("aria-invalid", "true");
  };
  // While somebody types, "0." is no mistake yet; a mistake that is mended goes at once.
  input.addEventListener("change", look);
  input.addEventListener("input", () => {
    if (made.slip.textContent !== "" || !sense.hidden) look();
  });
}

function numberControl(field: FieldView, _from: Choices, tell: Told): Control {
  const input = decimal("", field.whole);
  input.removeAttribute("aria-label");
  const unit = el("span", { class: "unit", "aria-hidden": "true" }, field.unit);
  const row = el("div", { class: "with-unit" }, input, field.unit === "" ? null : unit);
  if (field.whole) {
    const step = (by: number) => () => {
      const next = Math.max((Number(input.value) || 0) + by, field.least ?? -Infinity);
      input.value = String(next);
      tell(input.value);
    };
    row.append(
      el("button", { type: "button", "aria-label": `${field.label}: one less`, onclick: step(-1) }, "−"),
      el("button", { type: "button", "aria-label": `${field.label}: one more`, onclick: step(1) }, "+"),
    );
  }
  input.addEventListener("input", () => tell(input.value.trim()));
  const made = framed(field, row, false);
  checked(made, input, field);
  return { ...made, put: (text) => (input.value = typed.withoutUnit(text, field.unit)) };
}

function measuredControl(field: FieldView, _from: Choices, tell: Told): Control {
  const value = decimal(field.unit === "" ? "value" : `value, ${field.unit}`);
  const half = decimal("plus or minus, half-width of 95 %");
  const row = el(
    "div",
    { class: "with-unit measured" },
    value,
    el("span", { class: "sign", "aria-hidden": "true" }, "±"),
    half,
    field.unit === "" ? null : el("span", { class: "unit", "aria-hidden": "true" }, field.unit),
  );
  const told = () => tell(typed.joinMeasured(value.value, half.value));
  value.addEventListener("input", told);
  half.addEventListener("input", told);
  const made = framed(field, row, true);
  checked(made, value, field);
  checked(made, half, { ...field, least: 0, most: null });
  const put = (text: string) => {
    const parts = typed.splitMeasured(text, field.unit);
    value.value = parts.value;
    half.value = parts.half;
  };
  return { ...made, put };
}

function dateControl(field: FieldView, _from: Choices, tell: Told): Control {
  const input = el("input", { type: "date" });
  const set = el("button", { type: "button", "aria-label": `${field.label}: today` }, "today");
  set.addEventListener("click", () => {
    input.value = typed.today();
    tell(input.value);
  });
  input.addEventListener("input", () => tell(input.value));
  const made = framed(field, el("div", { class: "with-unit" }, input, set), false);
  return { ...made, put: (text) => (input.value = text.slice(0, 10)) };
}

function timeControl(field: FieldView, _from: Choices, tell: Told): Control {
  const input = el("input", { type: "datetime-local" });
  const set = el("button", { type: "button", "aria-label": `${field.label}: now` }, "now");
  set.addEventListener("click", () => {
    const text = typed.now();
    input.value = typed.toLocal(text);
    tell(text);
  });
  input.addEventListener("input", () => tell(typed.fromLocal(input.value)));
  const made = framed(field, el("div", { class: "with-unit" }, input, set), false);
  return { ...made, put: (text) => (input.value = typed.toLocal(text)) };
}

function yesNoControl(field: FieldView, _from: Choices, tell: Told): Control {
  const words = ["yes", "no"].map((w) => ({ value: w, label: w }));
  const made = radios(field.label, words, tell);
  return { ...framed(field, made.node, true), put: made.put };
}

function referenceControl(field: FieldView, from: Choices, tell: Told): Control {
  const known = from.references(field.refers_to);
  const select = el(
    "select",
    {},
    el("option", { value: "" }, known.length === 0 ? `no ${field.refers_to} known` : "not said"),
    known.map(({ id, words }) => el("option", { value: id }, words)),
  );
  select.addEventListener("change", () => tell(select.value));
  const me = el("button", { type: "button", "aria-label": `${field.label}: me` }, "me");
  me.hidden = field.refers_to !== "person" || !known.some((k) => k.id === from.me);
  me.addEventListener("click", () => {
    select.value = from.me;
    tell(from.me);
  });
  const put = (text: string) => {
    // What is stored may be told by its name or by its id.
    const at = known.find((k) => k.id === text || k.words === text);
    if (text !== "" && at === undefined) {
      select.append(el("option", { value: text }, text));
      select.value = text;
    } else select.value = at?.id ?? "";
  };
  return { ...framed(field, el("div", { class: "with-unit" }, select, me), false), put };
}

function shapeControl(field: FieldView, from: Choices, tell: Told): Control {
  let text = "";
  const words = el("span", {});
  const set = el("button", { type: "button" }, "take the outline as drawn");
  const none = el("button", { type: "button", "aria-label": `${field.label}: take it off` }, "none");
  const show = () => {
    words.textContent = text === "" ? "not there yet" : "there";
    none.hidden = text === "";
  };
  set.addEventListener("click", () => {
    text = from.outline();
    show();
    tell(text);
    if (text === "") words.textContent = "nothing is drawn yet: draw it first";
  });
  none.addEventListener("click", () => {
    text = "";
    show();
    tell(text);
  });
  const made = framed(field, el("div", { class: "with-unit" }, words, set, none), true);
  const put = (value: string) => {
    text = value;
    show();
  };
  return { ...made, put };
}

function recordsControl(field: FieldView, from: Choices, tell: Told): Control {
  let rows: Record<string, string>[] = [];
  const list = el("div", { class: "records" });
  const told = () => tell(typed.joinRecords(rows));
  const show = () =>
    refill(
      list,
      rows.map((row, i) =>
        el(
          "div",
          { class: "record", role: "group", "aria-label": `${field.label}, ${i + 1}` },
          field.of.map(
            (f) =>
              control(f, row[f.name] ?? "", from, (text) => {
                row[f.name] = text;
                told();
              }).node,
          ),
          el(
            "button",
            {
              type: "button",
              class: "quiet",
              onclick: () => {
                rows.splice(i, 1);
                show();
                told();
              },
            },
            `Take off no. ${i + 1}`,
          ),
        ),
      ),
    );
  const add = el("button", { type: "button", class: "add" }, "Add one");
  add.addEventListener("click", () => {
    rows.push({});
    show();
    list.lastElementChild?.querySelector<HTMLElement>("input,select,textarea")?.focus();
  });
  const made = framed(field, list, true, add);
  const put = (text: string) => {
    rows = typed.splitRecords(text);
    show();
  };
  return { ...made, put };
}
