// The integer image of what lies at each pixel: asked between pixel centres, with a seam check.

import type { Camera } from "./camera.ts";

export interface Pick {
  /** Number of the skin, and 0 for its first face, 1 for the other. */
  skin: number;
  face: number;
  /** mm on the flat map minus the skin's flat_origin. */
  x: number;
  y: number;
  /** Along the line of sight, mm. */
  depth: number;
  /** mm on the map for a CSS px here, the larger of the two ways. */
  perPixel: number;
}

/** Neighbours on the map that lie this many times further apart than in space are no neighbours. */
const SEAM = 1.6;

export class PickImage {
  private readonly floats: Float32Array;
  /** Pixels of the image for a CSS px; not alike both ways where sizes were rounded. */
  private readonly across: number;
  private readonly up: number;
  private readonly result: Pick = { skin: 0, face: 0, x: 0, y: 0, depth: 0, perPixel: 0 };

  constructor(
    private readonly numbers: Uint32Array,
    readonly width: number,
    readonly height: number,
    private readonly camera: Camera,
  ) {
    this.floats = new Float32Array(numbers.buffer, numbers.byteOffset, numbers.length);
    this.across = width / camera.width;
    this.up = height / camera.height;
  }

  /** What lies at CSS px x, y of the view; null for nothing. The same object is given each time. */
  at(cssX: number, cssY: number): Pick | null {
    const { width, height, numbers, floats } = this;
    const px = cssX * this.across, py = height - cssY * this.up;
    const i = Math.floor(px), j = Math.floor(py);
    if (i < 0 || j < 0 || i >= width || j >= height) return null;
    const centre = 4 * (j * width + i);
    const id = numbers[centre + 2]!;
    if (id === 0) return null;
    const result = this.result;
    result.skin = (id >>> 1) - 1;
    result.face = id & 1;
    const x = floats[centre]!, y = floats[centre + 1]!, depth = floats[centre + 3]!;
    // Slopes to the neighbours on the side of the point, where these are neighbours on the sheet.
    const fx = px - i - 0.5, fy = py - j - 0.5;
    const sx = this.slope(centre, i, fx < 0 ? -1 : 1, width, 4);
    const sy = this.slope(centre, j, fy < 0 ? -1 : 1, height, 4 * width);
    result.x = x;
    result.y = y;
    result.depth = depth;
    let across = 0;
    if (sx) {
      result.x += fx * sx[0];
      result.y += fx * sx[1];
      result.depth += fx * sx[2];
      across = Math.hypot(sx[0], sx[1]);
    }
    if (sy) {
      result.x += fy * sy[0];
      result.y += fy * sy[1];
      result.depth += fy * sy[2];
      across = Math.max(across, Math.hypot(sy[0], sy[1]));
    }
    result.perPixel = Math.max(across * this.up, this.camera.perPixel(depth));
    return result;
  }

  /** Change of flat x, flat y and depth for a step to the neighbour; null across a seam. */
  private slope(
    centre: number, at: number, step: number, size: number, stride: number,
  ): [number, number, number] | null {
    for (const way of [step, -step]) {
      if (at + way < 0 || at + way >= size) continue;
      const other = centre + way * stride;
      if (this.joined(centre, other)) {
        const f = this.floats;
        return [
          way * (f[other]! - f[centre]!),
          way * (f[other + 1]! - f[centre + 1]!),
          way * (f[other + 3]! - f[centre + 3]!),
        ];
      }
    }
    return null;
  }

  /** Whether two neighbouring pixels show neighbouring places of one sheet. */
  private joined(a: number, b: number): boolean {
    const { numbers, floats } = this;
    if (numbers[a + 2] !== numbers[b + 2]) return false;
    const onMap = Math.hypot(floats[a]! - floats[b]!, floats[a + 1]! - floats[b + 1]!);
    const depth = floats[a + 3]!;
    const aside = this.camera.perPixel(depth) / this.up;
    const inSpace = Math.hypot(aside * 1.3, depth - floats[b + 3]!);
    return onMap <= SEAM * inSpace;
  }

  /** The deepest of the nine pixels round a place: Infinity where nothing is there. */
  deepest(cssX: number, cssY: number): number {
    const { width, height, numbers, floats } = this;
    const i = Math.floor(cssX * this.across), j = Math.floor(height - cssY * this.up);
    if (i < 1 || j < 1 || i >= width - 1 || j >= height - 1) {
      return i < -1 || j < -1 || i > width || j > height ? -Infinity : Infinity;
    }
    let most = 0;
    for (let y = j - 1; y <= j + 1; y++) {
      for (let x = i - 1; x <= i + 1; x++) {
        const at = 4 * (y * width + x);
        if (numbers[at + 2] === 0) return Infinity;
        if (floats[at + 3]! > most) most = floats[at + 3]!;
      }
    }
    return most;
  }

  /** Visits every n-th pixel that shows a face of a skin: flat x, flat y, depth, CSS px x, y. */
  each(
    skin: number, face: number, every: number,
    visit: (x: number, y: number, depth: number, cssX: number, cssY: number) => void,
  ): void {
    const id = ((skin + 1) << 1) | face;
    const { width, height, numbers, floats } = this;
    for (let j = every >> 1; j < height; j += every) {
      for (let i = every >> 1; i < width; i += every) {
        const at = 4 * (j * width + i);
        if (numbers[at + 2] !== id) continue;
        visit(
          floats[at]!, floats[at + 1]!, floats[at + 3]!,
          (i + 0.5) / this.across, (height - j - 0.5) / this.up,
        );
      }
    }
  }
}
