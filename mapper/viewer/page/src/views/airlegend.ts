// What the patterns on the airframe's parts say, in the corner of the view.

import { write, type Colours, type Placer } from "./labels.ts";
import type { PartState } from "./types.ts";

type Pen = CanvasRenderingContext2D;

const LEGEND: [PartState, string][] = [
  ["open", "findings open"], ["inspected", "inspected"], ["stripped", "stripped"], ["untouched", "other"],
];
const FILLS: Record<PartState, string> = {
  untouched: "#c9c3b4", open: "#e39a92", inspected: "#a9d3b4", stripped: "#dfe4e8",
};

/** The states that are seen, and what a lattice means if some part is off. */
export function legend(pen: Pen, placer: Placer, states: ReadonlySet<PartState>, off: boolean, colours: Colours): void {
  const rows = LEGEND.filter(([state]) => states.has(state)).map(([state, words]) => ({
    words, fill: FILLS[state], draw: () => pattern(pen, state, 14, 0, 26, 16),
  }));
  if (off) rows.push({ words: "taken off", fill: colours.ground, draw: () => lattice(pen, 14, 0, 26, 16) });
  rows.forEach(({ words, fill, draw }, i) => {
    const y = 18 + 24 * i;
    pen.save();
    pen.translate(0, y - 8);
    pen.fillStyle = fill;
    pen.fillRect(14, 0, 26, 16);
    draw();
    pen.setLineDash([]);
    pen.strokeStyle = colours.ink;
    pen.lineWidth = 1.5;
    pen.strokeRect(14, 0, 26, 16);
    pen.restore();
    pen.font = "12px system-ui, 'DejaVu Sans', sans-serif";
    const half = pen.measureText(words).width / 2;
    write(pen, words, 48 + half, y, { size: 12, ink: colours.ink, halo: colours.ground });
    placer.take([8, y - 12, 56 + 2 * half, y + 12]);
  });
}

/** The pattern of a state, as on the parts. */
function pattern(pen: Pen, state: PartState, x: number, y: number, w: number, h: number): void {
  pen.save();
  pen.beginPath();
  pen.rect(x, y, w, h);
  pen.clip();
  pen.beginPath();
  pen.setLineDash([]);
  pen.lineWidth = 1.3;
  pen.strokeStyle = pen.fillStyle = "#333333";
  if (state === "open") {
    for (let k = -h; k < w + h; k += 8) {
      pen.moveTo(x + k, y);
      pen.lineTo(x + k + h, y + h);
      pen.moveTo(x + k + h, y);
      pen.lineTo(x + k, y + h);
    }
    pen.stroke();
  } else if (state === "inspected") {
    for (let i = 4; i < w; i += 6) for (let j = 4; j < h; j += 6) pen.rect(x + i - 1, y + j - 1, 2, 2);
    pen.fill();
  } else if (state === "stripped") {
    for (let j = 3; j < h; j += 5) {
      pen.moveTo(x, y + j);
      pen.lineTo(x + w, y + j);
    }
    pen.stroke();
  }
  pen.restore();
}

/** As a part that was taken off is drawn: to look through. */
function lattice(pen: Pen, x: number, y: number, w: number, h: number): void {
  pen.fillStyle = FILLS.untouched;
  for (let j = 0; j < h; j += 4) for (let i = (j / 4) % 2 ? 2 : 0; i < w; i += 4) pen.fillRect(x + i, y + j, 2, 2);
}
