// Values as they are typed: taken apart for the fields of a form and put together again, and
// looked at before the server does, so that a slip shows beside the field it was made in.

import { deviceTime } from "../state.ts";
import type { FieldView } from "../wire.ts";

const HALF = /\s*(?:\+\s*\/\s*-|±|\+-)\s*/;
const NUMBER = /^[+-]?(?:\d{1,3}(?:[ \u202f\u00a0]\d{3})+|\d+)?(?:\.\d+)?(?:e[+-]?\d+)?$/i;

/** mm in each unit of length that may be typed. */
const LENGTHS: Record<string, number> = {
  mm: 1, cm: 10, m: 1000, µm: 1e-3, μm: 1e-3, um: 1e-3, micron: 1e-3, microns: 1e-3,
  in: 25.4, inch: 25.4, inches: 25.4, '"': 25.4, "″": 25.4,
  ft: 304.8, foot: 304.8, feet: 304.8, "'": 304.8, "′": 304.8,
  mil: 0.0254, mils: 0.0254, thou: 0.0254,
};
const FRACTION = /(?:(\d+)[ -])?(\d+)\/(\d+)/;
const GAPS = /[ \u202f\u00a0]/g;

/** A length as typed, in `unit`: "12", "12 mm", "0.5 in"; null for nothing, NaN for no length. */
export function lengthOf(text: string, unit: string): number | null {
  const plain = text.trim().replace(FRACTION, (_, whole: string | undefined, over: string, under: string) =>
    String(Number(whole ?? 0) + Number(over) / Number(under)),
  );
  if (plain === "") return null;
  const parts = /^([+-]?[\d. \u202f\u00a0]*\d[\d.]*(?:e[+-]?\d+)?)\s*(\D*)$/i.exec(plain);
  const number = (parts?.[1] ?? "").trim();
  if (parts === null || !NUMBER.test(number)) return NaN;
  const mm = LENGTHS[(parts[2] ?? "").trim() || unit];
  return mm === undefined ? NaN : (Number(number.replace(GAPS, "")) * mm) / (LENGTHS[unit] ?? 1);
}

/** What a length typed in another unit is in the field's own: "= 3.05 mm"; "" where it is plain. */
export function means(text: string, field: FieldView): string {
  const unit = /[^\d\s.eE+-].*$/.exec(text.trim())?.[0] ?? "";
  if (unit === "" || unit === field.unit || !(field.unit in LENGTHS)) return "";
  const value = lengthOf(text, field.unit);
  return value === null || Number.isNaN(value) ? "" : `= ${Number(value.toPrecision(4))} ${field.unit}`;
}

/** "30 mm" to "30" where mm is the field's own unit; other units stay, they mean something. */
export function withoutUnit(text: string, unit: string): string {
  const plain = text.trim();
  if (unit === "" || !plain.endsWith(unit)) return plain;
  const rest = plain.slice(0, -unit.length).trim();
  return NUMBER.test(rest) ? rest : plain;
}

export function splitMeasured(text: string, unit: string): { value: string; half: string } {
  const [value = "", half = ""] = text.trim().split(HALF);
  const inner = withoutUnit(half, unit);
  // "0.12 ± 0.02 mm": the unit at the end is of both.
  return { value: withoutUnit(value, unit), half: inner };
}

export function joinMeasured(value: string, half: string): string {
  const first = value.trim();
  if (first === "") return "";
  return half.trim() === "" ? first : `${first} +/- ${half.trim()}`;
}

/** What is wrong with a number as typed, in words; "" where nothing is. */
export function slip(text: string, field: FieldView): string {
  const plain = text.trim();
  if (plain === "") return "";
  if (FRACTION.test(plain)) return ""; // read by the server, as "2 ft 6 1/2" is
  if (/\d,\d/.test(plain)) return "Write the decimal sign as a point: 0.5";
  const parts = /^([+-]?[\d. \u202f\u00a0]*\d[\d.]*(?:e[+-]?\d+)?)\s*(.*)$/i.exec(plain);
  const digits = (parts?.[1] ?? "").trim();
  if (parts === null || !NUMBER.test(digits)) return "This takes a number.";
  const unit = (parts[2] ?? "").trim();
  if (unit !== "" && unit !== field.unit) {
    // Several ("2 ft 6 in") and units of other sorts are for the server to read.
    if (!(field.unit in LENGTHS) || /\d/.test(unit)) return "";
    const mm = LENGTHS[unit];
    if (mm === undefined) return `"${unit}" is no unit of length. Without a unit it is ${field.unit}.`;
    return slip(`${(Number(digits.replace(GAPS, "")) * mm) / (LENGTHS[field.unit] ?? 1)}`, field);
  }
  const value = Number(digits.replace(GAPS, ""));
  if (field.whole && !Number.isInteger(value)) return "This takes a whole number.";
  const { least, most } = field;
  const label = field.unit === "" ? "" : ` ${field.unit}`;
  if (least !== null && value < least) return `${least}${label} or more.`;
  if (most !== null && value > most) return `${most}${label} or less.`;
  return "";
}

/** Whether a value as typed says nothing on its own: "no" of a yes/no takes nothing off. */
export function given(text: string | undefined): boolean {
  return text !== undefined && text !== "";
}

/** "a=1; b=x | a=2" to rows; a backslash takes the meaning off ; | and itself. */
export function splitRecords(text: string): Record<string, string>[] {
  if (text.trim() === "") return [];
  return cut(text, "|").map((row) => {
    const values: Record<string, string> = {};
    for (const pair of cut(row, ";")) {
      const at = pair.indexOf("=");
      if (at < 0) continue;
      values[pair.slice(0, at).trim()] = pair
        .slice(at + 1)
        .trim()
        .replace(/\\([\\|;])/g, "$1");
    }
    return values;
  });
}

export function joinRecords(rows: Record<string, string>[]): string {
  return rows
    .map((row) =>
      Object.entries(row)
        .filter(([, value]) => value.trim() !== "")
        .map(([name, value]) => `${name}=${value.trim().replace(/([\\|;])/g, "\\$1")}`)
        .join("; "),
    )
    .filter((row) => row !== "")
    .join(" | ");
}

function cut(text: string, mark: string): string[] {
  const parts: string[] = [];
  let start = 0;
  for (let at = 0; at < text.length; at += 1) {
    if (text[at] === "\\") at += 1;
    else if (text[at] === mark) {
      parts.push(text.slice(start, at));
      start = at + 1;
    }
  }
  parts.push(text.slice(start));
  return parts;
}

/** A time as typed to what a field for local time takes ("2026-05-31T14:20"), "" for none. */
export function toLocal(typed: string): string {
  const text = typed.trim();
  if (text === "") return "";
  const zoned = /(?:Z|[+-]\d\d:?\d\d)$/.test(text);
  if (!zoned) return text.replace(" ", "T").slice(0, 16);
  const date = new Date(text.replace(" ", "T"));
  return Number.isNaN(date.getTime()) ? "" : deviceTime(date).slice(0, 16);
}

/** The other way, with the device's offset on that day. */
export function fromLocal(local: string): string {
  const date = new Date(local);
  if (local === "" || Number.isNaN(date.getTime())) return "";
  const full = deviceTime(date);
  return `${full.slice(0, 10)} ${full.slice(11, 16)}${full.slice(19)}`;
}

export function now(): string {
  return fromLocal(deviceTime().slice(0, 16));
}

export function today(): string {
  return deviceTime().slice(0, 10);
}

const OTHER = "other:";

/** A choice as typed: one of the list, or the words behind "other:". */
export function splitChoice(text: string, choices: string[]): { choice: string; other: string } {
  if (text === "" || choices.includes(text)) return { choice: text, other: "" };
  const own = text.startsWith(OTHER) ? text.slice(OTHER.length).trim() : text;
  // Words that the shop added to the list are kept as other words and shown with the list.
  if (choices.includes(own)) return { choice: own, other: "" };
  return { choice: "other", other: own };
}

export function joinChoice(choice: string, other: string): string {
  if (choice !== "other") return choice;
  return other.trim() === "" ? "" : `${OTHER} ${other.trim()}`;
}
