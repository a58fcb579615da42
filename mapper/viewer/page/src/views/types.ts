// What the views take and give: tools, what is drawn, what lies under the pointer. Flat coordinates
// are mm on the flat map of a skin, as on the wire.

import type { Flat, OutlineView, Shape } from "../wire.ts";

/** What a pointer does. radius and width are mm along the sheet. */
export type Tool =
  | { type: "look" }
  | { type: "brush"; radius: number; wipe: boolean }
  | { type: "polygon"; wipe: boolean }
  | { type: "line"; width: number | null }
  | { type: "point" };

/** One entry, or the draft being drawn. A selected item with `shapes` is the draft: it is the
 * paint that brush, polygon and wiping change. Without `shapes` the stored outline is drawn. */
export interface DrawnItem {
  id: string;
  /** Name of a token in the file of looks. */
  style: string;
  title: string;
  shapes: Shape[] | null;
  outline: OutlineView | null;
  unsent: boolean;
  selected: boolean;
  number?: number;
  /** Where `shapes` lie, when there is no outline: the face in view if it is not said. */
  on?: { skin: string; face: string };
}

/** What lies under the pointer; distances along the flat map, mm. */
export interface Under {
  skin: string;
  face: string;
  flat: Flat;
  station: number | null;
  /** % chord from 0; degrees round from the top on a closed body (`round` is set). */
  chord: number | null;
  round: boolean;
  upper: boolean | null;
  panel: string;
  bay: string;
  rib: { name: string; distance: number } | null;
  row: { name: string; distance: number } | null;
  /** Ids of drawn items at this place, the newest drawn first. */
  entries: string[];
}

export interface ViewEvents {
  onUnder(under: Under | null): void;
  /** A finished gesture: what it adds or wipes, and "about" how large it is by itself, mm2. */
  onDrawn(shapes: Shape[], aboutArea: number): void;
  /** A tap without a tool, or on a face or skin that is not being drawn on. */
  onTap(under: Under): void;
  onFace(face: string): void;
  /** A short word for the person: why nothing was drawn, what a key did, 3D lost and back. */
  onNote?(words: string): void;
}

export type LengthUnits = "metric" | "inch";

/** One hatch of the file of looks: degrees as seen, the rest mm on paper. */
export interface HatchFamily {
  angle: number;
  gap: number;
  width: number;
  dash: number[];
  shift?: number;
}

export interface StyleToken {
  line?: string;
  width?: number;
  dash?: number[];
  fill?: string;
  opacity?: number;
  hatch?: HatchFamily[];
  mark?: string;
}

/** GET /api/style: the one file of looks that every pen reads. */
export interface StyleFile {
  tokens: Record<string, StyleToken>;
  text: Record<string, number>;
}

/** State of a part at a glance, for the whole airframe. */
export type PartState = "untouched" | "open" | "inspected" | "stripped";
