// The eye that looks at a part in 3D: it turns about a point, upright, and never rolls.
// Lengths mm in the shape's own frame (aircraft's minus origin: x aft, y right, z up).

export type Vec3 = [number, number, number];

const FIELD = (28 * Math.PI) / 180; // of view, up and down; narrow, so that little is foreshortened
const STEEPEST = (89.5 * Math.PI) / 180;

export class Camera {
  target: Vec3 = [0, 0, 0];
  /** Direction from the target to the eye: degrees would be for people, these are radians. */
  azimuth = (215 * Math.PI) / 180;
  elevation = (32 * Math.PI) / 180;
  distance = 1000;
  /** Ball round everything that is shown: for near, far and the limits of zooming. */
  middle: Vec3 = [0, 0, 0];
  radius = 1;
  /** Size of the view, CSS px. */
  width = 1;
  height = 1;
  /** CSS px at top, right, bottom and left that what is fitted leaves free. */
  room: [number, number, number, number] = [0, 0, 0, 0];
  /** Column by column, as WebGL takes it. */
  readonly matrix = new Float32Array(16);
  private readonly m = new Float64Array(16);
  private right: Vec3 = [1, 0, 0];
  private up: Vec3 = [0, 0, 1];
  private back: Vec3 = [0, -1, 0];
  readonly eye: Vec3 = [0, 0, 0];

  /** Half of what is in sight about the target, mm: aside, up. */
  get sight(): [number, number] {
    const up = Math.tan(FIELD / 2) * this.distance;
    return [(up * this.width) / Math.max(this.height, 1), up];
  }

  /** As near as shows this much about the target again, whatever shape the view has now. */
  keep([aside, up]: [number, number]): void {
    const narrow = this.width / Math.max(this.height, 1);
    this.distance = Math.max(up, aside / narrow) / Math.tan(FIELD / 2);
    this.update();
  }

  /** Everything in sight from the present direction. */
  fit(middle: Vec3, radius: number): void {
    this.middle = [...middle];
    this.radius = radius;
    this.target = [...middle];
    const narrow = Math.min(1, this.width / Math.max(this.height, 1));
    this.distance = (radius / Math.sin(FIELD / 2) / narrow) * 0.98;
    this.update();
  }

  /** Everything of these points in sight, as close as the view allows. */
  fitPoints(points: Float32Array): void {
    this.update();
    const slope = Math.tan(FIELD / 2);
    const aspect = this.width / Math.max(this.height, 1);
    const [top, right, bottom, left] = this.room;
    // Of a small view some must stay for the part itself.
    const across = Math.max(0.4, 1 - (left + right) / this.width), up = Math.max(0.4, 1 - (top + bottom) / this.height);
    const [asideX, asideY] = [((left - right) / this.width) * slope * aspect, ((bottom - top) / this.height) * slope];
    // Six rounds of moving the target to the middle of what is seen, and as near as fits.
    for (let round = 0; round < 6; round++) {
      let l = Infinity, r = -Infinity, b = Infinity, t = -Infinity;
      let reach = 0;
      const step = Math.max(3, Math.floor(points.length / 3 / 20000) * 3);
      for (let i = 0; i < points.length; i += step) {
        const dx = points[i]! - this.target[0], dy = points[i + 1]! - this.target[1], dz = points[i + 2]! - this.target[2];
        const x = dx * this.right[0] + dy * this.right[1] + dz * this.right[2];
        const y = dx * this.up[0] + dy * this.up[1] + dz * this.up[2];
        const z = dx * this.back[0] + dy * this.back[1] + dz * this.back[2];
        const w = Math.max(this.distance - z, 1e-6);
        l = Math.min(l, x / w); r = Math.max(r, x / w);
        b = Math.min(b, y / w); t = Math.max(t, y / w);
        const wide = Math.abs(x - asideX * w) / (slope * aspect * across), tall = Math.abs(y - asideY * w) / (slope * up);
        reach = Math.max(reach, wide + z, tall + z);
      }
      if (!(r >= l)) return;
      const cx = ((l + r) / 2 - asideX) * this.distance, cy = ((b + t) / 2 - asideY) * this.distance;
      for (let axis = 0; axis < 3; axis++) this.target[axis]! += cx * this.right[axis]! + cy * this.up[axis]!;
      if (round > 0) this.distance = Math.max(reach * 1.08, this.radius * 1e-3);
      this.update();
    }
  }

  update(): void {
    this.elevation = Math.min(STEEPEST, Math.max(-STEEPEST, this.elevation));
    this.distance = Math.min(this.radius * 40, Math.max(this.radius * 2e-3, 5, this.distance));
    const ce = Math.cos(this.elevation), se = Math.sin(this.elevation);
    const ca = Math.cos(this.azimuth), sa = Math.sin(this.azimuth);
    this.back = [ce * ca, ce * sa, se];
    this.right = [-sa, ca, 0];
    this.up = [-se * ca, -se * sa, ce];
    for (let i = 0; i < 3; i++) this.eye[i] = this.target[i]! + this.distance * this.back[i]!;
    const away = Math.hypot(
      this.eye[0] - this.middle[0], this.eye[1] - this.middle[1], this.eye[2] - this.middle[2],
    );
    const far = away + this.radius * 1.02;
    const near = Math.max(away - this.radius * 1.02, this.distance * 0.05, far * 1e-4);
    const f = 1 / Math.tan(FIELD / 2);
    const aspect = this.width / Math.max(this.height, 1);
    const rows = [this.right, this.up, this.back];
    const scale = [f / aspect, f, (far + near) / (near - far)];
    const m = this.m;
    for (let i = 0; i < 3; i++) {
      const row = rows[i]!;
      const shift = -(row[0] * this.eye[0] + row[1] * this.eye[1] + row[2] * this.eye[2]);
      for (let j = 0; j < 3; j++) m[4 * j + i] = scale[i]! * row[j]!;
      m[12 + i] = scale[i]! * shift;
      if (i === 2) {
        for (let j = 0; j < 3; j++) m[4 * j + 3] = -row[j]!;
        m[15] = -shift;
      }
    }
    m[14]! += (2 * far * near) / (near - far);
    this.matrix.set(m);
  }

  /** x, y CSS px from the top left of the view, and the depth along the line of sight, mm. */
  project(x: number, y: number, z: number, out: Float64Array | number[], at = 0): void {
    const m = this.m;
    const w = m[3]! * x + m[7]! * y + m[11]! * z + m[15]!;
    out[at] = (((m[0]! * x + m[4]! * y + m[8]! * z + m[12]!) / w + 1) / 2) * this.width;
    out[at + 1] = ((1 - (m[1]! * x + m[5]! * y + m[9]! * z + m[13]!) / w) / 2) * this.height;
    out[at + 2] = w;
  }

  /** The place in space at a pixel (CSS px) and a depth. */
  unproject(x: number, y: number, depth: number): Vec3 {
    const slope = Math.tan(FIELD / 2) * depth;
    const dx = ((2 * x) / this.width - 1) * slope * (this.width / this.height);
    const dy = (1 - (2 * y) / this.height) * slope;
    return [0, 1, 2].map(
      (i) => this.eye[i]! + dx * this.right[i]! + dy * this.up[i]! - depth * this.back[i]!,
    ) as Vec3;
  }

  /** mm in space that one CSS px covers at a depth, square to the line of sight. */
  perPixel(depth: number): number {
    return (2 * Math.tan(FIELD / 2) * depth) / this.height;
  }

  turn(dx: number, dy: number): void {
    this.azimuth -= dx * 0.008;
    this.elevation += dy * 0.008;
    this.update();
  }

  /** Turns so that a point keeps its place on the screen. */
  turnAbout(dx: number, dy: number, pivot: Vec3): void {
    const before = this.inView(pivot);
    this.turn(dx, dy);
    const after = this.inView(pivot);
    for (let axis = 0; axis < 3; axis++) {
      this.target[axis]! +=
        (after[0] - before[0]) * this.right[axis]! +
        (after[1] - before[1]) * this.up[axis]! +
        (after[2] - before[2]) * this.back[axis]!;
    }
    this.update();
  }

  private inView(p: Vec3): Vec3 {
    const d = [0, 1, 2].map((i) => p[i]! - this.target[i]!);
    const dot = (v: Vec3) => v[0] * d[0]! + v[1] * d[1]! + v[2] * d[2]!;
    return [dot(this.right), dot(this.up), dot(this.back)];
  }

  /** Moves the part under the pointer by CSS px, as far as at `depth`. */
  pan(dx: number, dy: number, depth: number): void {
    const size = this.perPixel(depth);
    for (let axis = 0; axis < 3; axis++) {
      this.target[axis]! += size * (-dx * this.right[axis]! + dy * this.up[axis]!);
    }
    this.update();
  }

  /** Nearer by a factor above 1, towards the point that is to keep its place. */
  zoom(factor: number, about: Vec3 = this.target): void {
    const before = this.distance;
    this.distance /= factor;
    this.update();
    const share = 1 - this.distance / before;
    for (let axis = 0; axis < 3; axis++) {
      this.target[axis]! += share * (about[axis]! - this.target[axis]!);
    }
    this.update();
  }

  /** Looks at a point square to the sheet there, from the side its normal points to. */
  face(point: Vec3, normal: Vec3): void {
    this.target = [...point];
    this.elevation = Math.asin(Math.min(1, Math.max(-1, normal[2])));
    if (Math.hypot(normal[0], normal[1]) > 0.05) this.azimuth = Math.atan2(normal[1], normal[0]);
    this.update();
  }

  /** Where an axis of the aircraft points on the screen: x right, y down, share of its length. */
  axis(v: Vec3): [number, number] {
    const dot = (a: Vec3) => a[0] * v[0] + a[1] * v[1] + a[2] * v[2];
    return [dot(this.right), -dot(this.up)];
  }

  /** Unit direction from the target to the eye, turned aside and up by these shares: of a light. */
  towards(aside: number, up: number): Vec3 {
    const v = [0, 1, 2].map((i) => this.back[i]! + aside * this.right[i]! + up * this.up[i]!);
    const size = Math.hypot(...v);
    return v.map((one) => one / size) as Vec3;
  }

  key(): string {
    return [...this.target, this.azimuth, this.elevation, this.distance, this.width, this.height].join();
  }
}
