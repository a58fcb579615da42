// Words on the picture: none covers another, and each has an edge of the ground's colour, so that it
// can be read on metal, on paint and in the dark alike.

export interface Colours {
  /** Round the sheet. */
  ground: string;
  ink: string;
  quiet: string;
  /** On the sheet, which is light in the dark too. */
  sheet: string;
  onSheet: string;
  focus: string;
}

/** Colours of words and ground as this device wants them: light, dark, or its own system colours. */
export function coloursOf(host: Element): Colours {
  const asks = (query: string) => host.ownerDocument.defaultView?.matchMedia(query).matches ?? false;
  if (asks("(forced-colors: active)")) {
    return {
      ground: "Canvas", ink: "CanvasText", quiet: "CanvasText", sheet: "#fbfbf8", onSheet: "#111111", focus: "Highlight",
    };
  }
  const scheme = getComputedStyle(host).colorScheme;
  const dark = scheme === "dark" || (scheme !== "light" && asks("(prefers-color-scheme: dark)"));
  return dark
    ? { ground: "#1b1e22", ink: "#f1f1ee", quiet: "#c3c7cb", sheet: "#fbfbf8", onSheet: "#111111", focus: "#8ec5ff" }
    : { ground: "#eceef0", ink: "#1a1a1a", quiet: "#4a4a4a", sheet: "#fbfbf8", onSheet: "#111111", focus: "#0b57b7" };
}

export type Rect = [number, number, number, number];

export class Placer {
  private taken: Rect[] = [];

  constructor(private readonly bounds: Rect) {}

  take(rect: Rect): void {
    this.taken.push(rect);
  }

  free(r: Rect): boolean {
    const b = this.bounds;
    if (r[0] < b[0] || r[1] < b[1] || r[2] > b[2] || r[3] > b[3]) return false;
    return !this.taken.some((t) => t[0] < r[2] && t[2] > r[0] && t[1] < r[3] && t[3] > r[1]);
  }

  /** Whether a line would run over no words. */
  clear(a: readonly [number, number], b: readonly [number, number]): boolean {
    const count = Math.ceil(Math.hypot(b[0] - a[0], b[1] - a[1]) / 4);
    for (let i = 0; i <= count; i++) {
      const x = a[0] + ((b[0] - a[0]) * i) / Math.max(count, 1), y = a[1] + ((b[1] - a[1]) * i) / Math.max(count, 1);
      if (this.taken.some((t) => x > t[0] && x < t[2] && y > t[1] && y < t[3])) return false;
    }
    return true;
  }
}

const FONT = "system-ui, 'DejaVu Sans', sans-serif";

export interface LabelLook {
  size: number;
  bold?: boolean;
  ink: string;
  halo: string;
  /** CSS px kept free at either end. */
  apart?: number;
}

function fontOf(look: Pick<LabelLook, "size" | "bold">): string {
  return `${look.bold ? "600 " : ""}${look.size}px ${FONT}`;
}

/** CSS px that the text takes. */
export function widthOf(pen: CanvasRenderingContext2D, text: string, look: Pick<LabelLook, "size" | "bold">): number {
  pen.font = fontOf(look);
  return pen.measureText(text).width;
}

/** Writes the text at the first of the places (its middle) where it fits; its box, null where at none. */
export function label(
  pen: CanvasRenderingContext2D,
  placer: Placer,
  text: string,
  places: Iterable<readonly [number, number]>,
  look: LabelLook,
): Rect | null {
  const half = widthOf(pen, text, look) / 2 + (look.apart ?? 3), tall = look.size * 0.62 + 1;
  for (const [x, y] of places) {
    const rect: Rect = [x - half, y - tall, x + half, y + tall];
    if (!placer.free(rect)) continue;
    placer.take(rect);
    write(pen, text, x, y, look);
    return rect;
  }
  return null;
}

/** Writes a name where it lies on what it names, smaller if need be; where that is too small on the
 * screen it has no name, and the words under the pointer tell it. */
export function labelWithin(
  pen: CanvasRenderingContext2D, placer: Placer, text: string, places: readonly (readonly [number, number])[],
  on: Pick<LabelLook, "ink" | "halo">, isOn: (x: number, y: number) => boolean,
): boolean {
  for (const size of [13, 11]) {
    const look = { size, bold: true, ...on };
    const half = widthOf(pen, text, look) / 2;
    const fits = ([x, y]: readonly [number, number]): boolean =>
      [-0.9, 0, 0.9].every((fx) => [-0.4, 0.4].every((fy) => isOn(x + fx * half, y + fy * size)));
    if (label(pen, placer, text, places.filter(fits), look)) return true;
  }
  return false;
}

export function write(
  pen: CanvasRenderingContext2D, text: string, x: number, y: number, look: LabelLook,
): void {
  pen.font = fontOf(look);
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.lineJoin = "round";
  pen.setLineDash([]);
  pen.lineWidth = 3.5;
  pen.strokeStyle = look.halo;
  pen.strokeText(text, x, y);
  pen.fillStyle = look.ink;
  pen.fillText(text, x, y);
}

/** Places round a point: at it, then on growing rings. */
export function* around(x: number, y: number, steps: readonly number[]): Generator<[number, number]> {
  for (const r of steps) {
    if (r === 0) {
      yield [x, y];
      continue;
    }
    for (let i = 0; i < 8; i++) {
      const turn = -Math.PI / 4 + (i % 2 ? 1 : -1) * Math.ceil(i / 2) * (Math.PI / 4);
      yield [x + r * 1.5 * Math.cos(turn), y + r * Math.sin(turn)];
    }
  }
}

/** A marker of an entry without an extent, by the file of looks; size CSS px. */
export function mark(
  pen: CanvasRenderingContext2D, kind: string, x: number, y: number, size: number, line: string, fill: string,
): void {
  const r = size / 2;
  const shape = new Path2D();
  if (kind === "cross") {
    shape.moveTo(x - r, y - r);
    shape.lineTo(x + r, y + r);
    shape.moveTo(x - r, y + r);
    shape.lineTo(x + r, y - r);
  } else if (kind === "square") shape.rect(x - r, y - r, size, size);
  else if (kind === "diamond" || kind === "triangle") {
    const corners = kind === "diamond" ? 4 : 3;
    for (let i = 0; i < corners; i++) {
      const turn = -Math.PI / 2 + (2 * Math.PI * i) / corners;
      const p = [x + r * 1.25 * Math.cos(turn), y + r * 1.25 * Math.sin(turn)] as const;
      if (i) shape.lineTo(...p);
      else shape.moveTo(...p);
    }
    shape.closePath();
  } else shape.arc(x, y, kind === "dot" ? r * 0.5 : r, 0, 2 * Math.PI);
  pen.setLineDash([]);
  pen.lineCap = "round";
  pen.strokeStyle = "#ffffff";
  pen.lineWidth = 5;
  pen.stroke(shape);
  if (kind !== "cross") {
    pen.fillStyle = kind === "dot" ? line : fill;
    pen.fill(shape);
  }
  pen.strokeStyle = line;
  pen.lineWidth = 2;
  pen.stroke(shape);
}
