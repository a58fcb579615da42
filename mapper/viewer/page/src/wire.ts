// What goes over the wire between the page and the server. The server's models are the judge: a
// test compares these names with its OpenAPI description. Lengths are mm, areas mm2, flat
// coordinates are mm on the flat map of a skin; times are ISO 8601 with an offset.

export type Id = string;
export type Flat = [number, number];

export interface PersonView {
  id: Id;
  name: string;
}

export interface JobView {
  id: Id;
  name: string;
  airframe: string;
  owner: string;
}

/** GET /api/start: what the page must know before anything else. */
export interface Start {
  shop: { id: Id; name: string; units: "metric" | "inch" };
  people: PersonView[];
  jobs: JobView[];
  /** Sent back in the header X-Mapper-Token with every request that changes something. */
  token: string;
  /** Server's clock, to know how far this device's clock is off. */
  server_time: string;
  /** Digest of the page's build: another one means a newer page is there. */
  build: string;
  photo_bytes_most: number;
  body_bytes_most: number;
}

export type FieldType =
  | "text"
  | "choice"
  | "number"
  | "measured"
  | "date"
  | "time"
  | "yes/no"
  | "records"
  | "reference"
  | "shape";

/** One field of the one table of fields (mapper/job/kinds), in the shop's units. */
export interface FieldView {
  name: string;
  label: string;
  type: FieldType;
  /** As shown in the shop's units ("in", "µm"); "" for none. */
  unit: string;
  choices: string[];
  /** In the shown unit. */
  least: number | null;
  most: number | null;
  of: FieldView[];
  refers_to: string;
  expected: boolean;
  help: string;
  whole: boolean;
  only_if: string[];
  unless: string[];
  computed: boolean;
}

export type Region = "area" | "line" | "point" | "place";

export interface KindView {
  name: string;
  plural: string;
  help: string;
  regions: Region[];
  style: string;
  fields: FieldView[];
  /** What to be careful of in this work, each with its source. */
  cautions?: { text: string; source: string }[];
}

/** GET /api/fields */
export interface Fields {
  kinds: KindView[];
  states: string[];
  /** By unit inside the program ("mm", "mm2", ...): what the shop's units make of it. */
  units: Record<string, { label: string; factor: number; digits: number }>;
}

export interface PartView {
  id: Id;
  name: string;
  code: string;
  assembly_id: Id;
  note: string;
  /** Digest of its geometry version, "" for a part without a shape. */
  shape: string;
  /** The part on the other side that mirrors this one, "" for none. */
  mirror_id: Id;
  /** In place of a shape, or besides: is it off the airframe today? */
  removed: boolean;
  /** Bag, board and hook, where it is off. */
  kept_at: string;
  /** True area mm2 of its outer faces together, 0 for none; its +/- in percent. */
  area_mm2: number;
  tolerance_percent: number;
  /** mm2 by state at a glance; of `faces_mm2`. */
  faces_mm2: number;
  stripped_mm2: number;
  inspected_mm2: number;
  open_findings: number;
  /** Whether it is inner structure, reached by hiding skins. */
  inner: boolean;
}

/** An outline as stored: cut at the sheet's edges, openings off. */
export interface OutlineView {
  skin: string;
  face: string;
  region: "area" | "line" | "point";
  /** Digest of the geometry version it was drawn on. */
  shape: string;
  /** area: polygons of rings (first the outer); line: one "polygon" of lines; point: one ring. */
  polygons: Flat[][][];
  /** True area on the surface, 0 for lines and points. */
  area_mm2: number;
  /** "12.3 cm²" as the command line and the report print it. */
  area_words: string;
}

export interface PhotoUseView {
  photo_id: Id;
  caption: string;
  mm_per_pixel: number | null;
  /** Address of the stored file, "" while it is only on this device. */
  href: string;
}

export interface EntryView {
  id: Id;
  part_id: Id;
  kind: string;
  version: number;
  state: string;
  deferred_to: string | null;
  note: string;
  by: Id;
  by_name: string;
  device_time: string;
  server_time: string | null;
  outline: OutlineView | null;
  /** Where it is in words, when no outline is drawn. */
  place: string;
  /** Where it is in words, made from the outline. */
  where: string;
  /** One line for lists: what it is. */
  title: string;
  /** By field name: as shown to a reader, and as it would be typed again. */
  told: Record<string, string>;
  typed: Record<string, string>;
  /** Fields that are expected and missing. */
  missing: string[];
  photos: PhotoUseView[];
  /** Carried over to a corrected shape and not looked at yet. */
  unconfirmed: boolean;
  /** Why its place is not confirmed, in words; "" where it is not in doubt. */
  doubt?: string;
  /** How far the clock was off of the device that recorded it, in words; "" where it was right. */
  clock?: string;
}

/** GET /api/jobs/{job}/book: a job as the page takes it along. */
export interface BookView {
  job: JobView;
  assemblies: { id: Id; name: string }[];
  parts: PartView[];
  entries: EntryView[];
  references: Record<string, { id: Id; words: string }[]>;
  /** Number and hash of the newest row of the history. */
  seq: number;
  head: string;
}

/** GET /api/jobs/{job}/changes?after=SEQ, and each message of /api/jobs/{job}/events. */
export interface Changes {
  seq: number;
  head: string;
  /** Changed or new; removed ones by id. The page takes the whole book when `again` is set. */
  entries: EntryView[];
  parts: PartView[];
  removed: Id[];
  people: PersonView[];
  again: boolean;
}

/** A piece of what was drawn; taken together in order: "add" unites, "wipe" takes off. */
export type Shape = { op: "add" | "wipe" } & (
  | { type: "stroke"; points: Flat[]; radius: number }
  | { type: "polygon"; ring: Flat[] }
  | { type: "disc"; at: Flat; radius: number }
  | {
      type: "box";
      stations: [number, number] | null;
      chord: [number, number] | null;
      /** Round a closed body, in place of chord: degrees from the top, outboard first. */
      angles: [number, number] | null;
      side: "upper" | "lower" | "both";
    }
  | { type: "panel"; name: string }
  | { type: "bay"; name: string }
  | { type: "whole" }
  | { type: "point"; at: Flat }
  | {
      type: "tape";
      rib: string;
      outboard: number;
      spar: string;
      aft: number;
      upper: boolean;
      /** A disc about the place, or null for the point itself. */
      radius: number | null;
    }
  | { type: "line"; points: Flat[]; width: number | null }
  /** The outline that an entry has, to be changed further. */
  | { type: "kept"; entry: Id }
  /** The mirror place of an entry of the part on the other side. */
  | { type: "mirror"; entry: Id }
);

export interface Where {
  skin: string;
  face: string;
  shapes: Shape[];
  /** Digest of the geometry version it was drawn on; another one than the part's now is stale. */
  shape?: string;
}

export interface EntryGiven {
  id: Id;
  part_id: Id;
  kind: string;
  /** Version it was made from; 0 for a new one. */
  version: number;
  /** null keeps the outline an entry has (change), or none (new: then `place`). */
  where: Where | null;
  place: string;
  /** As typed; the server reads it in `units` of the message. "" takes a value off. */
  values: Record<string, string>;
  state: string;
  deferred_to: string | null;
  note: string;
  photos: { photo_id: Id; caption: string; mm_per_pixel: number | null }[];
  /** A change: somebody looked, and the entry lies where it is shown on the corrected shape. */
  confirmed?: boolean;
}

/** POST /api/jobs/{job}/actions: one action of one person; the same id again is harmless. */
export interface ActionGiven {
  id: Id;
  by: Id;
  words: string;
  device_time: string;
  /** Device clock minus server clock, ms, as it was when this was recorded; null: never compared. */
  clock_offset_ms: number | null;
  units: "metric" | "inch";
  steps: { op: "add" | "change" | "remove"; entry: EntryGiven }[];
}

/** POST /api/jobs/{job}/undo and /redo */
export interface UndoGiven {
  id: Id;
  by: Id;
  device_time: string;
  clock_offset_ms?: number | null;
  /** The action that is meant: where another one is the latest by now, nothing is taken back. */
  of?: Id;
}

export interface Answer {
  action_id: Id;
  /** "repeated": stored before, this is the answer it had. */
  status: "stored" | "repeated";
  changes: Changes;
  notes: string[];
}

/** POST /api/jobs/{job}/photos?id=&by=&taken=&made=&clock_offset_ms= with the file as body. */
export interface PhotoAnswer {
  photo_id: Id;
  href: string;
  width: number;
  height: number;
  notes: string[];
}

/** POST /api/jobs/{job}/measure: true area of what is drawn, without storing it. */
export interface MeasureGiven {
  part_id: Id;
  where: Where;
}
export interface MeasureAnswer {
  outline: OutlineView;
  where: string;
  near: string;
}

/** Every answer that is no success. status 409: stale (both versions), 422: refused. */
export interface Refusal {
  code: "stale" | "refused" | "unknown" | "foreign" | "too large" | "busy";
  /** What was given, what is allowed, what to do. */
  message: string;
  /** For "stale": the entry as it is stored now (null: removed). */
  theirs?: EntryView | null;
}

/** POST /api/people: somebody new who records; the same id again is harmless. */
export interface PersonGiven {
  id: Id;
  name: string;
  device_time?: string;
  clock_offset_ms?: number | null;
}

/** The outbox saved to a file; POST /api/outbox and `mapper take-in` read it, each item once. */
export interface OutboxFile {
  format: "airframe map outbox 1";
  job_id: Id;
  made: string;
  items: OutboxFileItem[];
}
/** Photos are base64; `job_id` where it is another job than the file's. */
export type OutboxFileItem = { job_id?: Id } & (
  | { type: "action"; action: ActionGiven }
  | { type: "undo" | "redo"; asked: UndoGiven }
  | { type: "person"; person: PersonGiven }
  | {
      type: "photo";
      id: Id;
      by: Id;
      taken: string;
      media_type: string;
      data: string;
      device_time?: string;
      clock_offset_ms?: number | null;
    }
);
export interface OutboxAnswer {
  results: { id: Id; status: "stored" | "repeated" | "refused"; message: string }[];
}

// GET /api/shapes/{digest}: one geometry version for the page. Little endian:
//   8 bytes "AFMSHAPE", uint32 length of the header, header as JSON (ShapeHeader), padding to a
//   multiple of 4, then the arrays one after the other at `arrays[...]` byte offsets from the
//   first array. Gzip on the wire, immutable, known by its address.
export interface ArrayAt {
  at: number;
  /** How many numbers: three for each point in space or triangle, two for each flat place. */
  count: number;
}
export interface SkinHeader {
  name: string;
  faces: string[];
  /** float32 x 3: mm in the aircraft's frame minus `origin`. */
  points: ArrayAt;
  /** float32 x 2: flat mm minus `flat_origin`. */
  flat: ArrayAt;
  flat_origin: Flat;
  /** float32: station mm (NaN: none). */
  station: ArrayAt;
  /** float32: % chord, negative on the lower side (NaN: none); degrees on a closed body. */
  chord: ArrayAt;
  /** uint32 x 3, no triangles in openings. */
  triangles: ArrayAt;
  /** Per triangle float32: true area over flat area. */
  stretch: ArrayAt;
  /** Whether `chord` holds degrees round a body. */
  round: boolean;
  has_chord: boolean;
  /** [x0, y0, x1, y1] flat mm. */
  bounds: [number, number, number, number];
  /** Rim of each chart, polygons of rings, openings off. */
  sheet: Flat[][][];
  panels: { name: string; polygons: Flat[][][] }[];
  bays: { name: string; polygons: Flat[][][] }[];
  openings: { name: string; polygons: Flat[][][] }[];
  /** Chart edges that are one line on the part: points in pairs, on either chart. */
  glue: { here: Flat[]; there: Flat[] }[];
  lines: { kind: string; name: string; paths: Flat[][] }[];
  grid: {
    stations: { label: string; paths: Flat[][] }[];
    chord: { label: string; paths: Flat[][] }[];
  };
  /** Flat direction of outboard (growing station) and of forward, unit vectors. */
  outboard: Flat;
  forward: Flat;
  /** +1/-1: how the flat plane is turned so that it is seen from outside, forward up. */
  view: [number, number];
  area_mm2: number;
}
export interface ShapeHeader {
  format: 2;
  part: string;
  origin: [number, number, number];
  skins: SkinHeader[];
}
