// How hands move the camera of a 3D view: about what lies under them; and when it rests again.

import type { Camera, Vec3 } from "./camera.ts";

/** The camera rests when it has not moved for so long. */
const REST_MS = 130;

export class Orbit {
  resting = true;
  /** mm about the target that somebody brought into sight by hand; null while all is shown. */
  private sight: [number, number] | null = null;
  private pivot: Vec3 | null = null;
  private timer = 0;

  constructor(
    private readonly camera: Camera,
    /** How deep the metal lies at CSS px of the view, null for none. */
    private readonly depthAt: (x: number, y: number) => number | null,
    private readonly redraw: () => void,
  ) {}

  /** Whether something else than all is in sight. */
  get away(): boolean {
    return this.sight !== null;
  }

  steer(begins: boolean, x: number, y: number): void {
    this.pivot = null;
    const depth = begins && this.resting ? this.depthAt(x, y) : null;
    if (depth !== null) this.pivot = this.camera.unproject(x, y, depth);
  }

  turn(dx: number, dy: number): void {
    this.camera.turnAbout(dx, dy, this.pivot ?? this.camera.target);
    this.moved();
  }

  pan(dx: number, dy: number): void {
    this.camera.pan(dx, dy, this.camera.distance);
    this.chosen();
  }

  zoom(factor: number, x: number, y: number): void {
    if (!this.pivot && this.resting) this.steer(true, x, y);
    this.camera.zoom(factor, this.pivot ?? this.camera.unproject(x, y, this.camera.distance));
    this.chosen();
  }

  /** What is in sight now is what somebody wants to see. */
  chosen(): void {
    this.sight = this.camera.sight;
    this.moved();
  }

  /** All is in sight now. */
  fitted(): void {
    this.sight = null;
    this.moved();
  }

  /** The view has another shape: what was in sight still is, or `fit` shows all. A form that opens
   * beside it, or a screen that is turned, takes nothing out of sight. */
  reshaped(fit: () => void): void {
    if (!this.sight) fit();
    else {
      this.camera.keep(this.sight);
      this.moved();
    }
  }

  moved(): void {
    this.resting = false;
    clearTimeout(this.timer);
    this.timer = window.setTimeout(() => {
      this.resting = true;
      this.pivot = null;
      this.redraw();
    }, REST_MS);
    this.redraw();
  }

  rest(): void {
    clearTimeout(this.timer);
    this.resting = true;
  }

  dispose(): void {
    clearTimeout(this.timer);
  }
}
