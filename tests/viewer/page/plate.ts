// Flat plates with a grid, as shapes for the stage: two skins of 600 by 400 mm, in the layout that
// the server sends.

import { parseShape, type LoadedShape } from "../../../mapper/viewer/page/src/lib/shape.ts";
import type { ArrayAt, Flat, ShapeHeader, SkinHeader } from "../../../mapper/viewer/page/src/wire.ts";

const [WIDE, HIGH, NX, NY] = [600, 400, 24, 16];

export function plate(digest: string): LoadedShape {
  const arrays: (Float32Array | Uint32Array)[] = [];
  let at = 0;
  const put = (array: Float32Array | Uint32Array, width: number): ArrayAt => {
    const place = { at, count: array.length };
    arrays.push(array);
    at += array.byteLength;
    return place;
  };
  // Plates of one airframe lie beside each other, by the last digits of their digest.
  const shift = Number.parseInt(digest.slice(-2), 16) * (WIDE + 60);
  const skins = ["skin", "nose skin"].map((name, i): SkinHeader => {
    const points: number[] = [];
    const flat: number[] = [];
    const station: number[] = [];
    const chord: number[] = [];
    for (let iy = 0; iy <= NY; iy += 1) {
      for (let ix = 0; ix <= NX; ix += 1) {
        const [x, y] = [(WIDE * ix) / NX, (HIGH * iy) / NY];
        points.push(-y - i * (HIGH + 20), x + shift, 40 * Math.sin((Math.PI * y) / HIGH));
        flat.push(x, y);
        station.push(x);
        chord.push((100 * (HIGH - y)) / HIGH);
      }
    }
    const corners: number[] = [];
    for (let iy = 0; iy < NY; iy += 1) {
      for (let ix = 0; ix < NX; ix += 1) {
        const a = iy * (NX + 1) + ix;
        corners.push(a, a + 1, a + NX + 2, a, a + NX + 2, a + NX + 1);
      }
    }
    const ring: Flat[] = [[0, 0], [WIDE, 0], [WIDE, HIGH], [0, HIGH]];
    const half: Flat[] = [[0, 0], [WIDE / 2, 0], [WIDE / 2, HIGH], [0, HIGH]];
    const rest: Flat[] = [[WIDE / 2, 0], [WIDE, 0], [WIDE, HIGH], [WIDE / 2, HIGH]];
    return {
      name,
      faces: ["outer", "inner"],
      points: put(new Float32Array(points), 3),
      flat: put(new Float32Array(flat), 2),
      flat_origin: [0, 0],
      station: put(new Float32Array(station), 1),
      chord: put(new Float32Array(chord), 1),
      triangles: put(new Uint32Array(corners), 3),
      stretch: put(new Float32Array(corners.length / 3).fill(1), 1),
      round: false,
      has_chord: true,
      bounds: [0, 0, WIDE, HIGH],
      sheet: [[ring]],
      panels: [{ name: "inboard sheet", polygons: [[half]] }, { name: "outboard sheet", polygons: [[rest]] }],
      bays: [{ name: "bay 1", polygons: [[half]] }],
      openings: [], glue: [],
      lines: [
        { kind: "rib", name: "rib 1", paths: [[[300, 0], [300, HIGH]]] },
        { kind: "spar", name: "front spar", paths: [[[0, 280], [WIDE, 280]]] },
        { kind: "rivet row", name: "row A", paths: [[[310, 0], [310, HIGH]]] },
      ],
      grid: {
        stations: [0, 200, 400, 600].map((s) => ({ label: `${s}`, paths: [[[s, 0], [s, HIGH]]] })),
        chord: [0, 50, 100].map((c) => ({
          label: `${c} %`,
          paths: [[[0, HIGH - (c * HIGH) / 100], [WIDE, HIGH - (c * HIGH) / 100]]],
        })),
      },
      outboard: [1, 0],
      forward: [0, 1],
      view: [1, 1],
      area_mm2: WIDE * HIGH,
    };
  });
  const header: ShapeHeader = { format: 2, part: "plate", origin: [0, 0, 0], skins };
  return parseShape(packed(header, arrays));
}

function packed(header: ShapeHeader, arrays: (Float32Array | Uint32Array)[]): ArrayBuffer {
  const words = new TextEncoder().encode(JSON.stringify(header));
  const first = Math.ceil((12 + words.length) / 4) * 4;
  const size = arrays.reduce((sum, a) => sum + a.byteLength, 0);
  const data = new Uint8Array(first + size);
  data.set(new TextEncoder().encode("AFMSHAPE"), 0);
  new DataView(data.buffer).setUint32(8, words.length, true);
  data.set(words, 12);
  let at = first;
  for (const array of arrays) {
    data.set(new Uint8Array(array.buffer), at);
    at += array.byteLength;
  }
  return data.buffer;
}
