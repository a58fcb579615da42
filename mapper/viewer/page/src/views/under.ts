// What lies under the pointer, in the words of the trade: station, % chord, panel, rib, rivet row.

import type { Flat } from "../wire.ts";
import { toPath } from "../lib/plane.ts";
import type { Item } from "./items.ts";
import type { SkinModel } from "./model.ts";
import type { Under } from "./types.ts";

const CROSSWISE = new Set(["rib", "frame"]);

/** reach: mm of the map within which thin things are met (a fingertip, or a few pixels). */
export function underAt(
  model: SkinModel, face: string, flat: Flat, items: readonly Item[], reach: number,
): Under {
  const { header, locator, skin } = model;
  const there = locator.find(...flat);
  const number = (value: number): number | null => (there && Number.isFinite(value) ? value : null);
  const station = number(locator.spot.triangle >= 0 ? locator.value(skin.station) : NaN);
  const chord = number(locator.spot.triangle >= 0 ? locator.value(skin.chord) : NaN);
  const signed = chord !== null && header.has_chord && !header.round;
  return {
    skin: header.name,
    face,
    flat,
    station,
    chord: signed ? Math.abs(chord) : chord,
    round: header.round,
    upper: signed ? chord >= 0 : null,
    panel: model.nameAt("panels", flat),
    bay: model.nameAt("bays", flat),
    rib: nearest(model, flat, CROSSWISE),
    row: nearest(model, flat, new Set(["rivet row"])),
    entries: items.filter((item) => item.isAt(flat, reach)).map((item) => item.item.id).reverse(),
  };
}

/** Name and distance of the nearest line of some kinds; lines of other charts are beyond a gap. */
function nearest(model: SkinModel, [x, y]: Flat, kinds: Set<string>): { name: string; distance: number } | null {
  const chart = model.sheet.indexAt(x, y);
  let best: { name: string; distance: number } | null = null;
  for (const line of model.header.lines) {
    if (!kinds.has(line.kind)) continue;
    for (const path of line.paths) {
      const middle = path[Math.floor(path.length / 2)]!;
      const d = toPath(path, x, y);
      if (best && d >= best.distance) continue;
      if (chart >= 0 && model.sheet.polygons.length > 1 && onOther(model, chart, middle)) continue;
      best = { name: line.name, distance: d };
    }
  }
  return best;
}

function onOther(model: SkinModel, chart: number, at: Flat): boolean {
  const other = model.sheet.indexAt(...at);
  return other >= 0 && other !== chart;
}
