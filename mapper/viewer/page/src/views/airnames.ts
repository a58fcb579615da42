// Names of parts on the airframe: each on its own metal where it fits there, else beside the aeroplane
// with a line to it. What is small on the screen has none until it is pointed at, or nearer.

import type { AirframePicture, Spot } from "./airpicture.ts";
import { label, widthOf, write, type Colours, type LabelLook, type Placer, type Rect } from "./labels.ts";

type Pen = CanvasRenderingContext2D;
type Place = readonly [number, number];

/** A name as it was written, and the box of its words, CSS px. */
export interface Written {
  words: string;
  rect: Rect;
}

export interface Named {
  /** The part's number in the picture. */
  number: number;
  words: string;
  off: boolean;
}

/** So few parts are all named, however small. */
const FEW = 12;
/** A part smaller than this on the screen (CSS px each way) is not named by itself. */
const SMALLEST = 22;
/** One line to a name for so many px of the view. */
const PX_A_LINE = 26_000;
/** How far from its part a name may stand, CSS px. */
const RINGS = [34, 52, 76, 104, 140];
const DIRECTIONS = 16;

/** Writes names, the pointed-at part's first and larger, then from the largest part down. */
export function nameParts(
  pen: Pen, placer: Placer, picture: AirframePicture, parts: readonly Named[], chosen: number, colours: Colours,
): Written[] {
  const written: Written[] = [];
  const spots = picture.spots();
  const { width, height } = picture.camera;
  const order = parts
    .flatMap((part) => {
      const spot = spots.get(part.number);
      return part.words && spot ? [{ ...part, spot }] : [];
    })
    .sort((a, b) => Number(b.number === chosen) - Number(a.number === chosen) || b.spot.size - a.spot.size);
  const lines: [Place, Place][] = [];
  let left = Math.max(4, Math.round((width * height) / PX_A_LINE));
  for (const { number, words, off, spot } of order) {
    const first = number === chosen;
    if (!first && order.length > FEW && spot.size < SMALLEST ** 2) break;
    const look = { size: first ? 14 : 12, bold: first };
    // A lattice is mostly the ground behind it.
    const on = off ? { ...look, ink: colours.ink, halo: colours.ground } : { ...look, ink: colours.onSheet, halo: colours.sheet };
    const half = widthOf(pen, words, look) / 2;
    // On itself: most of what lies under the words must be this part.
    const fits = ([x, y]: Place): boolean => share(picture, number, x, y, half, look.size / 2) > (off ? 0.3 : 0.9);
    const own = label(pen, placer, words, inside(spot).filter(fits), on);
    if (own) {
      written.push({ words, rect: own });
      continue;
    }
    if (left-- <= 0 && !first) continue;
    const beside = besideIt(placer, picture, spot, half + 3, look.size * 0.62 + 1, lines);
    if (beside) {
      const end = lineTo(pen, spot, beside, colours);
      lines.push([[spot.x, spot.y], end]);
      write(pen, words, (beside[0] + beside[2]) / 2, (beside[1] + beside[3]) / 2, { ...look, ink: colours.ink, halo: colours.ground } satisfies LabelLook);
      placer.take(beside);
      written.push({ words, rect: beside });
    } else if (first) {
      const near = label(pen, placer, words, [[spot.x, spot.y], [spot.x, spot.y - 20], [spot.x, spot.y + 20]], on);
      if (near) written.push({ words, rect: near });
    }
  }
  return written;
}

function inside({ x, y, box }: Spot): Place[] {
  const places: Place[] = [[x, y]];
  for (const fy of [0.5, 0.35, 0.65]) {
    for (const fx of [0.5, 0.35, 0.65]) places.push([box[0] + fx * (box[2] - box[0]), box[1] + fy * (box[3] - box[1])]);
  }
  return places;
}

/** Share of a box of words that shows the part. */
function share(picture: AirframePicture, number: number, x: number, y: number, half: number, tall: number): number {
  let own = 0, all = 0;
  for (const fy of [-1, 0, 1]) {
    for (let i = -4; i <= 4; i++) {
      all++;
      // A lattice lets through what is behind it: a few px beside count too.
      for (const d of [0, 1, 2]) {
        if (picture.numberAt(x + (half * i) / 4 + d, y + tall * fy) === number) {
          own++;
          break;
        }
      }
    }
  }
  return own / all;
}

/** A box of words on the ground near the part, to which a line can be drawn; null for none. */
function besideIt(
  placer: Placer, picture: AirframePicture, spot: Spot, half: number, tall: number, lines: readonly [Place, Place][],
): Rect | null {
  for (const ring of RINGS) {
    for (let i = 0; i < DIRECTIONS; i++) {
      const turn = -Math.PI / 2 + ((i % 2 ? 1 : -1) * Math.ceil(i / 2) * 2 * Math.PI) / DIRECTIONS;
      // Words are wide: aside they stand further off.
      const x = spot.x + (ring + half * 0.9) * Math.cos(turn), y = spot.y + ring * Math.sin(turn);
      const rect: Rect = [x - half, y - tall, x + half, y + tall];
      if (!placer.free(rect) || !onGround(picture, rect)) continue;
      const line: [Place, Place] = [[spot.x, spot.y], endOf(spot, rect)];
      if (!lines.some(([a, b]) => meet(a, b, ...line)) && placer.clear(...line)) return rect;
    }
  }
  return null;
}

function onGround(picture: AirframePicture, [x0, y0, x1, y1]: Rect): boolean {
  for (let i = 0; i <= 8; i++) {
    for (const y of [y0, (y0 + y1) / 2, y1]) if (picture.numberAt(x0 + ((x1 - x0) * i) / 8, y) > 0) return false;
  }
  return true;
}

/** Where a line from the part meets the box of its words. */
function endOf(spot: Spot, [x0, y0, x1, y1]: Rect): Place {
  return [Math.min(x1, Math.max(x0, spot.x)), Math.min(y1, Math.max(y0, spot.y))];
}

function meet(a: Place, b: Place, c: Place, d: Place): boolean {
  const turn = (p: Place, q: Place, r: Place) => (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]);
  return turn(a, b, c) * turn(a, b, d) < 0 && turn(c, d, a) * turn(c, d, b) < 0;
}

function lineTo(pen: Pen, spot: Spot, rect: Rect, colours: Colours): Place {
  const end = endOf(spot, rect);
  pen.setLineDash([]);
  pen.lineCap = "round";
  for (const [width, colour] of [[4, colours.sheet], [1.5, colours.onSheet]] as const) {
    pen.strokeStyle = pen.fillStyle = colour;
    pen.lineWidth = width;
    pen.beginPath();
    pen.moveTo(spot.x, spot.y);
    pen.lineTo(...end);
    pen.stroke();
    pen.beginPath();
    pen.arc(spot.x, spot.y, width > 2 ? 4 : 2.5, 0, 2 * Math.PI);
    pen.fill();
  }
  return end;
}
