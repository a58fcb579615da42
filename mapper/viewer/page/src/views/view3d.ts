// The part in 3D in its view: the picture (WebGL), and over it the vectors on the shared canvas.

import type { Flat } from "../wire.ts";
import { boxOf, circle, EMPTY_BOX, grown, isEmpty, type Box } from "../lib/plane.ts";
import { ballOf } from "../lib/shape.ts";
import type { Vec3 } from "./camera.ts";
import type { Port } from "./flatdraw.ts";
import { isSmall } from "./furniture.ts";
import { tokenOf } from "./items.ts";
import { SheetLayer } from "./layer.ts";
import { pathOf, type SkinModel } from "./model.ts";
import { Orbit } from "./orbit.ts";
import { drawOver, Over, sagOf, standingLines, type Standing } from "./over.ts";
import { paintShapes, paintStroke, waysOf } from "./paint.ts";
import type { Drawing, PaneView } from "./pane.ts";
import { Picture, type PixelBox } from "./picture.ts";
import type { Hit } from "./strokes.ts";

type Pen = CanvasRenderingContext2D;

export class SpaceView implements PaneView {
  readonly port: Port = { left: 0, top: 0, width: 1, height: 1 };
  readonly picture: Picture;
  ratio = 1;
  private readonly rough = new SheetLayer(1024);
  private readonly fine = new SheetLayer(2048);
  private roughStale = true;
  private window: Box = [0, 0, 1, 1];
  private readonly orbit: Orbit;
  private standing: { model: SkinModel; lines: Standing[] } | null = null;
  private dirty: PixelBox | null = null;

  constructor(
    canvas: HTMLCanvasElement,
    private readonly vectors: Pen,
    private readonly model: () => SkinModel | null,
    private readonly drawing: () => Drawing | null,
    /** Something is to be drawn with the next frame; the whole view, or only paint. */
    private readonly soon: (what: "view" | "paint") => void,
  ) {
    this.picture = new Picture(canvas);
    const depthAt = (x: number, y: number) => this.picture.picks?.at(x, y)?.depth ?? null;
    this.orbit = new Orbit(this.picture.camera, depthAt, () => this.soon("view"));
  }

  private get face(): number {
    const drawing = this.drawing();
    return drawing && drawing.scene.model.header.faces.indexOf(drawing.scene.face) === 1 ? 1 : 0;
  }

  place(port: Port, ratio: number): void {
    const other = port.width !== this.port.width || port.height !== this.port.height;
    Object.assign(this.port, port);
    this.ratio = ratio;
    this.picture.resize(port.width, port.height, ratio);
    // The scale bar and the arrows are at the foot.
    this.picture.camera.room = isSmall(port) ? [6, 6, 34, 6] : [16, 16, 52, 16];
    if (other && port.width) this.orbit.reshaped(() => this.fit());
  }

  show(models: readonly SkinModel[], active: number, face: number): void {
    this.picture.show(models, active, face);
    this.roughStale = true;
  }

  fit(): void {
    const model = this.model();
    if (!model) return;
    const { camera } = this.picture;
    const skins = this.all().map((one) => one.skin);
    const own = ballOf([model.skin]), whole = ballOf(skins);
    // The small fittings of a long part are in sight with it; a fitting is shown alone.
    const alone = own.radius < 0.5 * whole.radius;
    camera.fit(whole.middle, whole.radius);
    camera.fitPoints(alone ? model.skin.points : joinedPoints(skins.map((skin) => skin.points)));
    this.orbit.fitted();
  }

  /** Looks at the face in view from where most of it is turned to the eye; `kept`: only if little of
   * it is so now. */
  lookAtFace(kept: boolean): void {
    const model = this.model();
    if (!model) return;
    const { camera } = this.picture;
    const { points, triangles } = model.skin;
    const facing = (): number => {
      let sum = 0;
      const step = 3 * Math.max(1, Math.floor(triangles.length / 3 / 4000));
      for (let t = 0; t < triangles.length; t += step) {
        const [i, j, k] = [triangles[t]! * 3, triangles[t + 1]! * 3, triangles[t + 2]! * 3];
        const u = [0, 1, 2].map((a) => points[j + a]! - points[i + a]!), v = [0, 1, 2].map((a) => points[k + a]! - points[i + a]!);
        const n = [u[1]! * v[2]! - u[2]! * v[1]!, u[2]! * v[0]! - u[0]! * v[2]!, u[0]! * v[1]! - u[1]! * v[0]!];
        const d = n.reduce((s, value, a) => s + value * (camera.eye[a]! - points[i + a]!), 0) * model.hand * (this.face ? -1 : 1);
        sum += d > 0 ? Math.hypot(...n) : 0;
      }
      return sum;
    };
    const ways: [number, number][] = [[215, 32], [325, 32], [215, -32], [35, 32], [145, 32], [35, -32]];
    const now = facing();
    const before = [camera.azimuth, camera.elevation] as const;
    let best: [number, number] = ways[0]!;
    let most = -1;
    for (const way of ways) {
      camera.azimuth = (way[0] * Math.PI) / 180;
      camera.elevation = (way[1] * Math.PI) / 180;
      camera.update();
      const seen = facing();
      // The first ways are the usual ones: another must show clearly more.
      if (seen > most * 1.15) [most, best] = [seen, way];
    }
    camera.azimuth = (best[0] * Math.PI) / 180;
    camera.elevation = (best[1] * Math.PI) / 180;
    camera.update();
    if (kept && now > 0.5 * most) {
      [camera.azimuth, camera.elevation] = before;
      camera.update();
      this.soon("view");
    } else this.fit();
  }

  /** The stored picture and its picks, as the camera stands. */
  rest(): void {
    if (this.picture.picks && this.picture.fresh) return;
    this.orbit.rest();
    this.redraw();
  }

  redraw(): void {
    const model = this.model();
    const drawing = this.drawing();
    const { left, top, width, height } = this.port;
    this.vectors.setTransform(this.ratio, 0, 0, this.ratio, 0, 0);
    this.vectors.clearRect(left, top, width, height);
    if (!model || !drawing || !this.picture.works) return;
    if (!this.orbit.resting) {
      if (this.roughStale) this.fill(this.rough, grown(model.header.bounds, 1), 1e9);
      this.roughStale = false;
      this.picture.render(this.rough);
    } else {
      if (!this.picture.fresh) this.picture.render(this.rough);
      this.picture.rest();
      this.sharpen(model);
      this.picture.compose(this.fine, null);
      this.dirty = null;
    }
    if (this.standing?.model !== model) this.standing = { model, lines: standingLines(model) };
    drawOver(
      this.vectors, this.ratio, this.port, this.picture.camera, this.orbit.resting ? this.picture.picks : null,
      drawing.scene, this.standing.lines, this.orbit.resting ? this.window : model.header.bounds,
    );
  }

  /** What of the map is in sight, in texels as fine as its pixels. */
  private sharpen(model: SkinModel): void {
    const { picks, camera } = this.picture;
    let [x0, y0, x1, y1] = EMPTY_BOX;
    let nearest = Infinity;
    picks?.each(model.skin.index, this.face, 3, (x, y, depth) => {
      if (x < x0) x0 = x;
      if (x > x1) x1 = x;
      if (y < y0) y0 = y;
      if (y > y1) y1 = y;
      if (depth < nearest) nearest = depth;
    });
    const [ox, oy] = model.header.flat_origin;
    const seen: Box = [x0 + ox, y0 + oy, x1 + ox, y1 + oy];
    if (isEmpty(seen)) {
      this.fill(this.fine, grown(model.header.bounds, 1), 1e-3);
      return;
    }
    const size = camera.perPixel(nearest);
    this.window = grown(seen, 6 * size);
    this.fill(this.fine, this.window, Math.min(this.ratio, 1.5) / size);
  }

  private fill(layer: SheetLayer, window: Box, scale: number): void {
    const model = this.model();
    const drawing = this.drawing();
    layer.begin(window, scale);
    if (!model || !drawing) return;
    const { scene, shapes, kept } = drawing;
    const { ground, live } = layer;
    if (scene.looked) {
      const token = tokenOf(scene.style, "not looked at");
      layer.hasGround = true;
      ground.globalAlpha = token.opacity ?? 1;
      ground.fillStyle = token.fill ?? "#d9d9d9";
      // A little beyond the rim, which then shows no light edge.
      ground.fillRect(layer.window[0], layer.window[1], layer.window[2] - layer.window[0], layer.window[3] - layer.window[1]);
      ground.globalAlpha = 1;
      ground.globalCompositeOperation = "destination-out";
      for (const polygon of scene.looked) ground.fill(pathOf([polygon]), "evenodd");
      ground.globalCompositeOperation = "source-over";
    }
    for (const item of scene.items) {
      if (!item.polygons.length || !item.token.fill) continue;
      layer.hasGround = true;
      ground.globalAlpha = item.token.opacity ?? 1;
      ground.fillStyle = item.token.fill;
      ground.fill(pathOf(item.polygons), "evenodd");
    }
    ground.globalAlpha = 1;
    live.fillStyle = live.strokeStyle = "#fff";
    if (shapes.length) {
      layer.hasLive = true;
      paintShapes(live, shapes, model, kept);
    }
  }

  any(x: number, y: number): { skin: number; face: number; hit: Hit } | null {
    const pick = this.picture.picks?.at(x, y);
    if (!pick) return null;
    const origin = this.all()[pick.skin]?.header.flat_origin ?? [0, 0];
    const flat: Flat = [pick.x + origin[0], pick.y + origin[1]];
    return { skin: pick.skin, face: pick.face, hit: { flat, perPixel: pick.perPixel } };
  }

  /** Every skin of the part; set by their owner. */
  all: () => readonly SkinModel[] = () => [];

  hit(x: number, y: number): Hit | null {
    const model = this.model();
    const pick = this.picture.picks?.at(x, y);
    if (!model || !pick || pick.skin !== model.skin.index || pick.face !== this.face) return null;
    const [ox, oy] = model.header.flat_origin;
    return { flat: [pick.x + ox, pick.y + oy], perPixel: pick.perPixel };
  }

  private over(): Over {
    return new Over(this.vectors, this.picture.camera, this.orbit.resting ? this.picture.picks : null, this.face);
  }

  toView(flat: Flat): readonly [number, number] | null {
    const model = this.model();
    return model ? this.over().place(model, flat) : null;
  }

  trace(path: readonly Flat[]): { path: Path2D; box: Box } {
    const out = new Path2D();
    const model = this.model();
    if (!model || !this.picture.works) return { path: out, box: EMPTY_BOX };
    const box = boxOf([path]);
    const { sag } = sagOf(model);
    const long = Math.max(box[2] - box[0], box[3] - box[1], 1e-3);
    const lifted = model.lift(path, Math.min(sag, long / 50), long / 4);
    const over = this.over();
    over.trace(lifted, out);
    return { path: out, box: over.boxOf(lifted) };
  }

  paint(pieces: readonly Flat[][], radius: number, wipe: boolean): void {
    const model = this.model();
    if (!model || !this.picture.works) return;
    this.roughStale = true;
    const { live } = this.fine;
    live.globalCompositeOperation = wipe ? "destination-out" : "source-over";
    live.fillStyle = live.strokeStyle = "#fff";
    for (const piece of pieces) {
      paintStroke(live, piece, radius, model);
      for (const { box } of waysOf(piece, radius, model)) this.fine.touch(box);
      for (const at of [piece[0]!, piece[piece.length - 1]!]) this.touch(model, at, radius);
    }
    live.globalCompositeOperation = "source-over";
    this.soon("paint");
  }

  /** The box of the screen that a dab of the brush can change. */
  private touch(model: SkinModel, at: Flat, radius: number): void {
    const { camera } = this.picture;
    const v = [0, 0, 0];
    const out = [0, 0, 0];
    let [x0, y0, x1, y1] = this.dirty
      ? [this.dirty[0], this.dirty[1], this.dirty[0] + this.dirty[2], this.dirty[1] + this.dirty[3]]
      : EMPTY_BOX;
    const put = (flat: Flat, more: number): void => {
      if (!model.locator.find(...flat)) return;
      model.locator.space(v);
      camera.project(v[0]!, v[1]!, v[2]!, out);
      if (out[2]! <= 0) return;
      const reach = more / camera.perPixel(out[2]!) + 3;
      x0 = Math.min(x0, out[0]! - reach);
      x1 = Math.max(x1, out[0]! + reach);
      y0 = Math.min(y0, out[1]! - reach);
      y1 = Math.max(y1, out[1]! + reach);
    };
    // Nothing on a sheet is further off in space than on its map (but for stretch: a tenth more).
    put(at, 1.1 * radius);
    for (const p of circle(at, 1.1 * model.flatRadius(at, radius), 8)) put(p, 0);
    if (x1 > x0) this.dirty = [x0, y0, x1 - x0, y1 - y0];
  }

  /** Lays fresh paint over the stored picture, in the boxes it touched. */
  flush(): void {
    if (!this.dirty) return;
    if (this.picture.fresh) this.picture.compose(this.fine, this.dirty);
    this.dirty = null;
  }

  repaint(): void {
    this.roughStale = true;
    if (!this.orbit.resting || !this.picture.works) return;
    const model = this.model();
    if (model) this.sharpen(model);
    this.picture.compose(this.fine, null);
    this.dirty = null;
  }

  /** Items, hatches or styles changed. */
  stale(): void {
    this.roughStale = true;
  }

  steer(begins: boolean, x: number, y: number): void {
    this.orbit.steer(begins, x, y);
  }

  turn(dx: number, dy: number): void {
    this.orbit.turn(dx, dy);
  }

  pan(dx: number, dy: number): void {
    this.orbit.pan(dx, dy);
  }

  zoom(factor: number, x: number, y: number): void {
    this.orbit.zoom(factor, x, y);
  }

  /** Whether something else than all of it is in sight. */
  get away(): boolean {
    return this.orbit.away;
  }

  turnTo(flat: Flat): void {
    const model = this.model();
    if (!model?.locator.find(...flat)) return;
    const point: Vec3 = [0, 0, 0], normal: Vec3 = [0, 0, 0];
    model.locator.space(point);
    model.locator.normal(normal);
    const sign = model.hand * (this.face ? -1 : 1);
    this.picture.camera.face(point, normal.map((v) => v * sign) as Vec3);
    this.orbit.chosen();
  }

  dispose(): void {
    this.orbit.dispose();
    this.picture.dispose();
  }
}

function joinedPoints(parts: readonly Float32Array[]): Float32Array {
  const out = new Float32Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    out.set(part, at);
    at += part.length;
  }
  return out;
}
