// What is given to the server: made from an entry that is there, or from what was drawn.

import type { LocalEntry } from "../state.ts";
import type { EntryGiven, Flat, Shape, Where } from "../wire.ts";

/** What a change of an entry starts from. */
export function givenOf(entry: LocalEntry): EntryGiven {
  return {
    id: entry.id,
    part_id: entry.part_id,
    kind: entry.kind,
    // An unsent one will have the next version when its turn comes.
    version: entry.unsent ? entry.version + 1 : entry.version,
    where: null,
    place: entry.place,
    values: { ...entry.typed },
    state: entry.state,
    deferred_to: entry.deferred_to,
    note: entry.note,
    photos: entry.photos.map(({ photo_id, caption, mm_per_pixel }) => ({ photo_id, caption, mm_per_pixel })),
  };
}

/** The outline an entry has, to be drawn on from; null for none. */
export function keptOutline(entry: LocalEntry): Where | null {
  if (entry.drawn !== null) return structuredClone(entry.drawn);
  const { outline } = entry;
  if (outline === null) return null;
  return { skin: outline.skin, face: outline.face, shapes: [{ op: "add", type: "kept", entry: entry.id }] };
}

/** What sort of region some shapes make. A line with a width is an area. */
export function sort(shapes: Shape[]): "area" | "line" | "point" | "kept" {
  for (const shape of shapes) {
    if (shape.type === "point") return "point";
    if (shape.type === "tape") return shape.radius === null ? "point" : "area";
    if (shape.type === "line") return shape.width === null ? "line" : "area";
    if (shape.type !== "kept" && shape.type !== "mirror") return "area";
  }
  return "kept";
}

/** A place on the map that the view can turn to, from what was drawn. */
export function middleOf(where: Where | null): Flat | null {
  for (const shape of where?.shapes ?? []) {
    if (shape.type === "point" || shape.type === "disc") return shape.at;
    if (shape.type === "stroke" || shape.type === "line") return shape.points[0] ?? null;
    if (shape.type === "polygon") return shape.ring[0] ?? null;
  }
  return null;
}
