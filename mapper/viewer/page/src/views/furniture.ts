// Scale bar and arrows: how large, and which way is forward, outboard and up.

import type { Colours, Placer } from "./labels.ts";
import { widthOf, write } from "./labels.ts";
import type { LengthUnits } from "./types.ts";

type Pen = CanvasRenderingContext2D;

const MM_PER_INCH = 25.4;

/** The largest of 1, 2, 5 times a power of ten that is at most this. */
export function roundBelow(most: number): number {
  const power = 10 ** Math.floor(Math.log10(most));
  for (const factor of [5, 2, 1]) if (factor * power <= most * (1 + 1e-9)) return factor * power;
  return power;
}

export function lengthWords(mm: number, units: LengthUnits): string {
  const plain = (value: number) => String(Number(value.toPrecision(4)));
  if (units === "inch") return `${plain(mm / MM_PER_INCH)} in`;
  return mm >= 1000 ? `${plain(mm / 1000)} m` : `${plain(mm)} mm`;
}

/** A bar about `wanted` CSS px long with its length; left end at x, the line at y. */
export function scaleBar(
  pen: Pen, placer: Placer, x: number, y: number, wanted: number, perPixel: number,
  units: LengthUnits, colours: Colours,
): void {
  const unit = units === "inch" ? MM_PER_INCH : 1;
  const mm = roundBelow((wanted * perPixel) / unit) * unit;
  const long = mm / perPixel;
  if (!(long > 4 && long < 2000)) return;
  for (const [width, colour] of [[6, colours.ground], [2, colours.ink]] as const) {
    pen.setLineDash([]);
    pen.lineCap = "butt";
    pen.lineWidth = width;
    pen.strokeStyle = colour;
    pen.beginPath();
    const beyond = width > 2 ? 2 : 0;
    for (const end of [x, x + long / 2, x + long]) {
      pen.moveTo(end, y - (end === x + long / 2 ? 4 : 7) - beyond);
      pen.lineTo(end, y + beyond);
    }
    pen.moveTo(x - beyond - 1, y);
    pen.lineTo(x + long + beyond + 1, y);
    pen.stroke();
  }
  const words = lengthWords(mm, units);
  write(pen, words, x + long / 2, y - 16, { size: 12, ink: colours.ink, halo: colours.ground });
  placer.take([x - 6, y - 26, x + long + 6, y + 6]);
}

export interface Arrow {
  word: string;
  /** On the screen: x right, y down; shorter than 1 where it points into the picture. */
  to: readonly [number, number];
}

/** Whether a view has room for small furniture only. */
export function isSmall({ width, height }: { width: number; height: number }): boolean {
  return width < 460 || height < 300;
}

/** Where in a view its arrows stand: in a corner at the right, at the foot or above. */
export function cornerOf(
  { width, height }: { width: number; height: number }, above = false,
): { x: number; y: number; reach: number } {
  const reach = isSmall({ width, height }) ? 19 : 30;
  const [aside, up] = reach < 30 ? [86, 40] : [104, 52];
  return { x: width - aside, y: above ? up : height - up, reach };
}

/** Arrows from one foot with their words; title above. `reach`: length of an arrow, CSS px. */
export function compass(
  pen: Pen, placer: Placer, { x, y, reach }: { x: number; y: number; reach: number }, arrows: readonly Arrow[],
  title: string, colours: Colours,
): void {
  const drawn = arrows.filter(({ to }) => Math.hypot(...to) > 0.25);
  for (const [width, colour] of [[5, colours.ground], [2, colours.ink]] as const) {
    for (const { to } of drawn) {
      const [ex, ey] = [x + reach * to[0], y + reach * to[1]];
      const size = Math.hypot(...to);
      const [ux, uy] = [to[0] / size, to[1] / size];
      pen.setLineDash([]);
      pen.lineCap = pen.lineJoin = "round";
      pen.lineWidth = width;
      pen.strokeStyle = colour;
      pen.beginPath();
      pen.moveTo(x, y);
      pen.lineTo(ex, ey);
      pen.moveTo(ex - 7 * ux + 4 * uy, ey - 7 * uy - 4 * ux);
      pen.lineTo(ex, ey);
      pen.lineTo(ex - 7 * ux - 4 * uy, ey - 7 * uy + 4 * ux);
      pen.stroke();
    }
  }
  const look = { size: reach < 30 ? 11 : 12, ink: colours.ink, halo: colours.ground };
  for (const { word, to } of drawn) {
    const size = Math.hypot(...to);
    const half = widthOf(pen, word, look) / 2;
    const beyond = reach * size + 9;
    write(
      pen, word,
      x + (to[0] / size) * (beyond + half * Math.abs(to[0] / size)), y + (to[1] / size) * (beyond + 1), look,
    );
  }
  if (title) write(pen, title, x, y + (drawn.some(({ to }) => to[1] > 0.3) ? -14 : 15), { ...look, bold: true });
  placer.take([x - 2.8 * reach, y - 1.7 * reach, x + 2.8 * reach, y + 1.7 * reach]);
}
