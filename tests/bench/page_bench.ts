// Painting on a large part: our views against an ordinary redraw of the same triangles, in one run.

import * as THREE from "three";
import { acceleratedRaycast, MeshBVH } from "three-mesh-bvh";
import { PartViews } from "../../mapper/viewer/page/src/views/partviews.ts";
import type { LoadedShape, LoadedSkin } from "../../mapper/viewer/page/src/lib/shape.ts";
import type { Flat, SkinHeader } from "../../mapper/viewer/page/src/wire.ts";

const WIDE = 3600, DEEP = 1400, DEEPEST = 190;

/** A curved sheet of exactly so many triangles, 2 for each of across x up cells. */
function sheet(across: number, up: number): LoadedShape {
  const points: number[] = [], flat: number[] = [], corners: number[] = [], station: number[] = [];
  // Length along the curve, so that the flat map is a true one.
  const bow = (v: number): [number, number] => [v * DEEP, DEEPEST * Math.sin(Math.PI * Math.sqrt(v))];
  const lengths = [0];
  const FINE = 20000;
  for (let i = 1; i <= FINE; i++) {
    const [a, b] = [bow((i - 1) / FINE), bow(i / FINE)];
    lengths.push(lengths[i - 1]! + Math.hypot(a[0] - b[0], a[1] - b[1]));
  }
  for (let j = 0; j <= up; j++) {
    const v = j / up;
    const [y, z] = bow(v);
    const along = lengths[Math.round(v * FINE)]!;
    for (let i = 0; i <= across; i++) {
      const x = (i / across) * WIDE;
      points.push(y - DEEP / 2, x - WIDE / 2, z);
      flat.push(x, along);
      station.push(x);
    }
  }
  for (let j = 0; j < up; j++) {
    for (let i = 0; i < across; i++) {
      const a = j * (across + 1) + i, b = a + across + 1;
      corners.push(a, a + 1, b + 1, a, b + 1, b);
    }
  }
  const high = lengths[FINE]!;
  const rim: Flat[] = [[0, 0], [WIDE, 0], [WIDE, high], [0, high], [0, 0]];
  const none = { at: 0, count: 0 };
  const header: SkinHeader = {
    name: "skin", faces: ["outer", "inner"], points: none, flat: none, flat_origin: [0, 0], station: none,
    chord: none, triangles: none, stretch: none, round: false, has_chord: false,
    bounds: [0, 0, WIDE, high], sheet: [[rim]], panels: [], bays: [], openings: [], glue: [], lines: [],
    grid: { stations: [], chord: [] }, outboard: [1, 0], forward: [0, -1], view: [1, -1], area_mm2: WIDE * high,
  };
  const skin: LoadedSkin = {
    header, index: 0, points: Float32Array.from(points), flat: Float32Array.from(flat),
    station: Float32Array.from(station), chord: new Float32Array(station.length).fill(NaN),
    triangles: Uint32Array.from(corners), stretch: new Float32Array(corners.length / 3).fill(1),
  };
  return { header: { format: 1, part: "sheet", origin: [0, 0, 0], skins: [header] }, skins: [skin], bytes: 0 };
}

const frame = () => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));

/** The same with a scene library as one would write it: ray, texture, render. */
class Ordinary {
  readonly canvas = document.createElement("canvas");
  readonly tree: number;
  private readonly renderer: THREE.WebGLRenderer;
  private readonly scene = new THREE.Scene();
  private readonly camera: THREE.PerspectiveCamera;
  private readonly mesh: THREE.Mesh;
  private readonly paper = document.createElement("canvas");
  private readonly pen: CanvasRenderingContext2D;
  private readonly texture: THREE.CanvasTexture;
  private readonly ray = new THREE.Raycaster();
  private before: THREE.Vector2 | null = null;

  constructor(skin: LoadedSkin, eye: number[], target: number[], private readonly size: [number, number]) {
    const [width, height] = size;
    this.renderer = new THREE.WebGLRenderer({ canvas: this.canvas, antialias: false });
    this.renderer.setPixelRatio(devicePixelRatio);
    this.renderer.setSize(width, height, false);
    const geometry = new THREE.BufferGeometry();
    geometry.setAttribute("position", new THREE.BufferAttribute(skin.points, 3));
    const high = skin.header.bounds[3];
    const uv = skin.flat.map((value, i) => value / (i % 2 ? high : WIDE));
    geometry.setAttribute("uv", new THREE.BufferAttribute(uv, 2));
    geometry.setIndex(new THREE.BufferAttribute(skin.triangles.slice(), 1)); // the tree sorts it
    geometry.computeVertexNormals();
    this.paper.width = 2048;
    this.paper.height = Math.round((2048 * high) / WIDE);
    this.pen = this.paper.getContext("2d", { willReadFrequently: true })!;
    this.pen.fillStyle = "#eeeeec";
    this.pen.fillRect(0, 0, this.paper.width, this.paper.height);
    this.pen.strokeStyle = "#337adb";
    this.pen.lineWidth = (50 * 2048) / WIDE;
    this.pen.lineCap = "round";
    this.texture = new THREE.CanvasTexture(this.paper);
    this.texture.generateMipmaps = false;
    this.texture.minFilter = THREE.LinearFilter;
    const material = new THREE.MeshLambertMaterial({ map: this.texture, side: THREE.DoubleSide });
    this.mesh = new THREE.Mesh(geometry, material);
    this.mesh.raycast = acceleratedRaycast;
    const begun = performance.now();
    geometry.boundsTree = new MeshBVH(geometry);
    this.tree = performance.now() - begun;
    this.scene.add(this.mesh, new THREE.HemisphereLight(0xffffff, 0x888888, 2));
    this.camera = new THREE.PerspectiveCamera(28, width / height, 10, 100000);
    this.camera.up.set(0, 0, 1);
    this.camera.position.fromArray(eye);
    this.camera.lookAt(...(target as [number, number, number]));
    this.camera.updateMatrixWorld();
    (this.ray as unknown as { firstHitOnly: boolean }).firstHitOnly = true;
  }

  pick(x: number, y: number): THREE.Intersection | undefined {
    const [width, height] = this.size;
    this.ray.setFromCamera(new THREE.Vector2((2 * x) / width - 1, 1 - (2 * y) / height), this.camera);
    return this.ray.intersectObject(this.mesh)[0];
  }

  lift(): void {
    this.before = null;
  }

  event(x: number, y: number): void {
    const at = this.pick(x, y)?.uv;
    if (at) {
      const from = this.before ?? at;
      this.pen.beginPath();
      this.pen.moveTo(from.x * this.paper.width, (1 - from.y) * this.paper.height);
      this.pen.lineTo(at.x * this.paper.width, (1 - at.y) * this.paper.height);
      this.pen.stroke();
      this.before = at.clone();
      this.texture.needsUpdate = true;
    }
    this.renderer.render(this.scene, this.camera);
  }

  settle(): void {
    const gl = this.renderer.getContext();
    gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4));
  }
}

class Pair {
  readonly host = document.createElement("div");
  readonly views: PartViews;
  readonly ordinary: Ordinary;
  strokes = 0;

  constructor(readonly shape: LoadedShape, private readonly width: number, private readonly height: number) {
    Object.assign(this.host.style, { position: "absolute", width: `${2 * width + 6}px`, height: `${height}px`, left: "0", top: "0" });
    document.body.append(this.host);
    this.views = new PartViews(this.host, {
      onUnder: () => undefined,
      onTap: () => undefined,
      onFace: () => undefined,
      onDrawn: () => {
        this.strokes++;
        this.views.setDrawn([]);
      },
    });
    this.views.show(shape, 0, "outer");
    this.views.setTool({ type: "brush", radius: 25, wipe: false });
    this.views.flush();
    const { camera } = this.views.space.picture;
    this.ordinary = new Ordinary(shape.skins[0]!, [...camera.eye], [...camera.target], [width, height]);
    Object.assign(this.ordinary.canvas.style, { position: "absolute", left: "0", top: "0", width: `${width}px`, height: `${height}px` });
    document.body.append(this.ordinary.canvas);
    this.see(null);
  }

  /** Which of the two is on the screen. */
  see(which: "ours" | "theirs" | null): void {
    this.host.style.visibility = which === "ours" ? "visible" : "hidden";
    this.ordinary.canvas.style.visibility = which === "theirs" ? "visible" : "hidden";
  }

  /** Way of a stroke over the part, CSS px of the 3D view. */
  way(steps: number): [number, number][] {
    const a = this.views.space.toView([900, 500])!, b = this.views.space.toView([2600, 700])!;
    return Array.from({ length: steps }, (_, i): [number, number] => {
      const t = i / (steps - 1);
      return [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]) + 6 * Math.sin(9 * t)];
    });
  }

  async ours(steps: number, shown: boolean): Promise<number[]> {
    const { views } = this;
    const pane = this.host.querySelector(".view-3d")!;
    const box = pane.getBoundingClientRect();
    const send = (type: string, x: number, y: number) =>
      pane.dispatchEvent(new PointerEvent(type, {
        pointerId: 5, pointerType: "mouse", button: type === "pointermove" ? -1 : 0, buttons: 1, bubbles: true,
        cancelable: true, clientX: box.left + x, clientY: box.top + y,
      }));
    const way = this.way(steps + 1);
    send("pointerdown", ...way[0]!);
    views.flush();
    views.space.picture.settle();
    const times: number[] = [];
    for (const at of way.slice(1)) {
      const begun = performance.now();
      send("pointermove", ...at);
      views.flush();
      views.space.picture.settle();
      times.push(performance.now() - begun);
      if (shown) await frame();
    }
    send("pointerup", ...way[steps]!);
    views.flush();
    views.space.picture.settle();
    return times;
  }

  async theirs(steps: number, shown: boolean): Promise<number[]> {
    const times: number[] = [];
    this.ordinary.lift();
    const way = this.way(steps + 1);
    this.ordinary.event(...way[0]!);
    this.ordinary.settle();
    for (const [x, y] of way.slice(1)) {
      const begun = performance.now();
      this.ordinary.event(x, y);
      this.ordinary.settle();
      times.push(performance.now() - begun);
      if (shown) await frame();
    }
    return times;
  }
}

class PageBench {
  pairs: Pair[] = [];

  prepare(across: number, up: number, width: number, height: number): void {
    this.pairs.push(new Pair(sheet(across, up), width, height));
  }

  /** Event to pixel, ms, of each event of a stroke: the event is handled, all it asks for is drawn and
   * is in the picture. shown: with a frame on the screen after each, which software draws as well. */
  async round(index: number, steps: number, shown: boolean): Promise<{ ours: number[]; theirs: number[] }> {
    const pair = this.pairs[index]!;
    if (shown) pair.see("ours");
    if (shown) await frame();
    const ours = await pair.ours(steps, shown);
    if (shown) pair.see("theirs");
    if (shown) await frame();
    const theirs = await pair.theirs(Math.min(steps, 4), shown);
    pair.see(null);
    return { ours, theirs };
  }

  /** Picks, us each: the stored image and a tree of boxes at the same places; what either costs, ms. */
  picks(index: number): Record<string, number> {
    const { views, ordinary } = this.pairs[index]!;
    const { width, height } = views.space.port;
    const places = Array.from({ length: 4000 }, (_, i): [number, number] => [
      width * (0.15 + 0.7 * ((i * 0.618034) % 1)), height * (0.2 + 0.6 * ((i * 0.754878) % 1)),
    ]);
    const { picks } = views.space.picture;
    let image = Infinity, rays = Infinity, hits = 0, ours = 0;
    for (let round = 0; round < 5; round++) {
      let begun = performance.now();
      hits = places.filter(([x, y]) => ordinary.pick(x, y)).length;
      rays = Math.min(rays, performance.now() - begun);
      begun = performance.now();
      for (let k = 0; k < 25; k++) ours = places.filter(([x, y]) => picks!.at(x, y)).length;
      image = Math.min(image, (performance.now() - begun) / 25);
    }
    views.space.picture.show([...views.space.all()], 0, 0);
    const begun = performance.now();
    views.space.redraw();
    views.space.picture.settle();
    const rest = performance.now() - begun;
    const each = (ms: number) => (1000 * ms) / places.length;
    return { image: each(image), rays: each(rays), hits, ours, rest, tree: ordinary.tree };
  }
}

declare global {
  interface Window {
    page: PageBench;
  }
}
declare module "three" {
  interface BufferGeometry {
    boundsTree?: MeshBVH;
  }
}

window.page = new PageBench();
