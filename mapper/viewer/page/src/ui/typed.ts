// Values as they are typed: taken apart for the fields of a form and put together again, and
// looked at before the server does, so that a slip shows beside the field it was made in.

import { deviceTime } from "../state.ts";
import type { FieldView } from "../wire.ts";

const HALF = /\s*(?:\+\s*\/\s*-|±|\+-)\s*/;
const NUMBER = /^[+-]?(?:\d{1,3}(?:[ \u202f\u00a0]\d{3})+|\d+)?(?:\.\d+)?(?:e[+-]?\d+)?$/i;

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
  if (/\d,\d/.test(plain)) return "Write the decimal sign as a point: 0.5";
  const parts = /^([+-]?[\d. \u202f\u00a0]*\d[\d.]*(?:e[+-]?\d+)?)\s*(.*)$/i.exec(plain);
  const digits = (parts?.[1] ?? "").trim();
  if (parts === null || !NUMBER.test(digits)) return "This takes a number.";
  const unit = (parts[2] ?? "").trim();
  // Another unit, or several ("2 ft 6 in"), is for the server to read.
  if (unit !== "" && unit !== field.unit) return "";
  const value = Number(digits.replace(/[ \u202f\u00a0]/g, ""));
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
