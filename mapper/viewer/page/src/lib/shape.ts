// Reads the binary of one geometry version (the layout stands at the end of wire.ts).

import type { ArrayAt, ShapeHeader, SkinHeader } from "../wire.ts";

const MAGIC = "AFMSHAPE";
/** Part of a shape's address: the bytes at an address never change. */
export const SHAPE_FORMAT: ShapeHeader["format"] = 2;
/** A larger header is a mistake, and would only fill the memory of a tablet. */
const MOST_HEADER = 64 * 1024 * 1024;

export interface LoadedSkin {
  header: SkinHeader;
  index: number;
  /** x, y, z mm in the aircraft's frame minus the shape's origin. */
  points: Float32Array;
  /** x, y mm minus header.flat_origin. */
  flat: Float32Array;
  station: Float32Array;
  /** % chord, negative on the lower side; degrees round a closed body. */
  chord: Float32Array;
  /** Corners of triangles, counter-clockwise on the flat map. */
  triangles: Uint32Array;
  /** True area over flat area of each triangle. */
  stretch: Float32Array;
}

export interface LoadedShape {
  header: ShapeHeader;
  skins: LoadedSkin[];
  /** Size of the binary, to know what is held in memory. */
  bytes: number;
}

/** What was given is no shape that this page can read. */
export class ShapeUnread extends Error {
  override name = "ShapeUnread";
}

export function parseShape(data: ArrayBuffer): LoadedShape {
  const view = new DataView(data);
  const magic = data.byteLength >= 12 ? String.fromCharCode(...new Uint8Array(data, 0, 8)) : "";
  if (magic !== MAGIC) {
    throw new ShapeUnread(`This is no shape: it begins with "${magic}" instead of "${MAGIC}".`);
  }
  const length = view.getUint32(8, true);
  if (length > MOST_HEADER || 12 + length > data.byteLength) {
    throw new ShapeUnread(
      `The shape is cut short: ${data.byteLength} bytes, its header alone has ${length}.`,
    );
  }
  const header = JSON.parse(
    new TextDecoder().decode(new Uint8Array(data, 12, length)),
  ) as ShapeHeader;
  if (header.format !== SHAPE_FORMAT) {
    throw new ShapeUnread(`The shape has format ${String(header.format)}; this page reads ${SHAPE_FORMAT}.`);
  }
  const first = Math.ceil((12 + length) / 4) * 4;
  const floats = (a: ArrayAt) => new Float32Array(data, offset(first, a, data), a.count);
  const numbers = (a: ArrayAt) => new Uint32Array(data, offset(first, a, data), a.count);
  const skins = header.skins.map((skin, index): LoadedSkin => {
    const loaded = {
      header: skin,
      index,
      points: floats(skin.points),
      flat: floats(skin.flat),
      station: floats(skin.station),
      chord: floats(skin.chord),
      triangles: numbers(skin.triangles),
      stretch: floats(skin.stretch),
    };
    check(loaded);
    return loaded;
  });
  return { header, skins, bytes: data.byteLength };
}

function offset(first: number, array: ArrayAt, data: ArrayBuffer): number {
  const at = first + array.at;
  if (at % 4 !== 0 || at < 0 || at + array.count * 4 > data.byteLength) {
    throw new ShapeUnread(
      `The shape is cut short: an array of ${array.count} numbers ends after its ${data.byteLength} bytes.`,
    );
  }
  return at;
}

function check(skin: LoadedSkin): void {
  const count = skin.points.length / 3;
  const name = skin.header.name;
  if (skin.flat.length !== count * 2 || skin.station.length !== count) {
    throw new ShapeUnread(`The skin ${name} has ${count} points, and another number on the map.`);
  }
  if (skin.chord.length !== count || skin.stretch.length !== skin.triangles.length / 3) {
    throw new ShapeUnread(`The skin ${name} has arrays of lengths that do not go together.`);
  }
  // A triangle beyond the points would draw nothing, or crash a driver.
  for (const corner of skin.triangles) {
    if (corner >= count) {
      throw new ShapeUnread(`A triangle of ${name} names point ${corner} of ${count}.`);
    }
  }
}

/** The middle and the radius of a ball round the points of some skins, mm. */
export function ballOf(skins: readonly LoadedSkin[]): { middle: [number, number, number]; radius: number } {
  const low = [Infinity, Infinity, Infinity];
  const high = [-Infinity, -Infinity, -Infinity];
  for (const { points } of skins) {
    for (let i = 0; i < points.length; i++) {
      const value = points[i]!;
      const axis = i % 3;
      if (value < low[axis]!) low[axis] = value;
      if (value > high[axis]!) high[axis] = value;
    }
  }
  if (!(low[0]! <= high[0]!)) return { middle: [0, 0, 0], radius: 1 };
  const middle: [number, number, number] = [0, 0, 0];
  let square = 0;
  for (let axis = 0; axis < 3; axis++) {
    middle[axis] = (low[axis]! + high[axis]!) / 2;
    square += ((high[axis]! - low[axis]!) / 2) ** 2;
  }
  return { middle, radius: Math.max(Math.sqrt(square), 1e-3) };
}
