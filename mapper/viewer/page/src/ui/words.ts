// Numbers, days and states in words, in the shop's units.

import type { App, LocalEntry } from "../state.ts";
import type { PartView } from "../wire.ts";

const GAP = "\u202f";

/** Three significant digits, thousands grouped, no more zeros than were there. */
export function digits(value: number, figures = 3): string {
  if (value === 0) return "0";
  const places = Math.max(0, figures - 1 - Math.floor(Math.log10(Math.abs(value))));
  const [whole, rest] = value.toFixed(Math.min(places, 6)).split(".");
  const grouped = (whole ?? "").replace(/\B(?=(\d{3})+$)/g, GAP);
  return rest === undefined ? grouped : `${grouped}.${rest}`;
}

function inch(app: App): boolean {
  return app.start?.shop.units === "inch";
}

/** An area of mm2: "12.3 cm²", "1.20 m²" or "1.91 in²", "2.10 ft²". */
export function area(app: App, mm2: number): string {
  if (inch(app)) {
    const in2 = mm2 / 645.16;
    return in2 < 144 ? `${digits(in2)} in²` : `${digits(in2 / 144)} ft²`;
  }
  if (mm2 < 100) return `${digits(mm2)} mm²`;
  return mm2 < 1e5 ? `${digits(mm2 / 100)} cm²` : `${digits(mm2 / 1e6)} m²`;
}

/** mm in one of the shop's unit of length: how many, to be typed or shown. */
export function lengthIn(app: App, mm: number): number {
  return inch(app) ? mm / 25.4 : mm;
}

export function lengthOut(app: App, shown: number): number {
  return inch(app) ? shown * 25.4 : shown;
}

export function lengthUnit(app: App): string {
  return inch(app) ? "in" : "mm";
}

/** "1 234 mm" or "48.58 in": what a tape can be read to. */
export function length(app: App, mm: number): string {
  if (inch(app)) return `${(mm / 25.4).toFixed(2)} in`;
  const value = Math.abs(mm) < 10 ? mm.toFixed(1) : String(Math.round(mm));
  return `${value.replace(/\B(?=(\d{3})+$)/g, GAP)} mm`;
}

/** "25 Nov 2026", of an ISO date or time. */
export function day(iso: string): string {
  const date = new Date(iso.length === 10 ? `${iso}T12:00:00` : iso);
  if (Number.isNaN(date.getTime())) return iso;
  const month = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split(" ")[date.getMonth()];
  return `${date.getDate()} ${month} ${date.getFullYear()}`;
}

/** "25 Nov 2026, 14:20", on this device's clock. */
export function moment(iso: string): string {
  const date = new Date(iso);
  if (Number.isNaN(date.getTime())) return iso;
  const two = (v: number) => String(v).padStart(2, "0");
  return `${day(iso)}, ${two(date.getHours())}:${two(date.getMinutes())}`;
}

export function many(count: number, one: string, more = `${one}s`): string {
  return `${count} ${count === 1 ? one : more}`;
}

/** "120 kB", "3.4 MB": storage and files. */
export function bytes(size: number): string {
  if (size < 1e6) return `${digits(Math.max(size, 0) / 1e3)} kB`;
  return size < 1e9 ? `${digits(size / 1e6)} MB` : `${digits(size / 1e9)} GB`;
}

export interface Glance {
  /** Shares of the faces, percent; null where the part has no area. */
  stripped: number | null;
  inspected: number | null;
  open: number;
  /** For the picture of the airframe. */
  state: "open" | "inspected" | "stripped" | "begun" | "untouched";
}

/** The state of a part at a glance: what was done and what is left, never that it is sound. */
export function glance(part: PartView): Glance {
  const share = (mm2: number) => (part.faces_mm2 > 0 ? (100 * mm2) / part.faces_mm2 : null);
  const stripped = share(part.stripped_mm2);
  const inspected = share(part.inspected_mm2);
  let state: Glance["state"] = "untouched";
  if (part.open_findings > 0) state = "open";
  else if ((inspected ?? 0) >= 99) state = "inspected";
  else if ((stripped ?? 0) >= 99) state = "stripped";
  else if ((stripped ?? 0) > 0 || (inspected ?? 0) > 0) state = "begun";
  return { stripped, inspected, open: part.open_findings, state };
}

export const GLANCE_WORDS: Record<Glance["state"], string> = {
  open: "findings open",
  inspected: "inspected all over",
  stripped: "stripped all over",
  begun: "begun",
  untouched: "nothing done is recorded yet",
};

/** Whole percents, but neither a 0 for something nor a 100 for less than all. */
export function percent(value: number): string {
  if (value > 0 && value < 1) return "under 1 %";
  if (value > 99 && value < 99.95) return "over 99 %";
  return `${Math.round(value)} %`;
}

/** One line for lists: its kind, and what it is. */
export function named(entry: LocalEntry): string {
  const told = entry.title.toLowerCase().startsWith(entry.kind) || entry.title === "";
  return capital(told ? entry.title || entry.kind : `${entry.kind}: ${entry.title}`);
}

/** The size of an entry: the server's words, else "about" as worked out here. */
export function size(app: App, entry: LocalEntry): string {
  if (entry.outline !== null) return entry.outline.area_words;
  return entry.about_mm2 > 0 ? `about ${area(app, entry.about_mm2)}` : "";
}

/** Where an entry is, in words. */
export function place(entry: LocalEntry): string {
  if (entry.where !== "") return entry.where;
  if (entry.place !== "") return entry.place;
  if (entry.drawn !== null) return `drawn on ${entry.drawn.skin}, ${entry.drawn.face}`;
  return "";
}

export function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
