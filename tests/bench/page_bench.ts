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
    bounds: [0, 0, WIDE, high], sheet: [[rim]], panels: [], bays: [], openings: [], lines: [],
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
const median = (times: number[]) => times.slice().sort((a, b) => a - b)[times.length >> 1]!;

class PageBench {
  shape!: LoadedShape;
  views!: PartViews;
  private count = 0;

  async ours(across: number, up: number, width: number, height: number): Promise<void> {
    this.views?.dispose();
    const host = document.getElementById("host")!;
    Object.assign(host.style, { position: "absolute", width: `${2 * width + 6}px`, height: `${height}px`, inset: "auto", left: "0", top: "0" });
    this.shape = sheet(across, up);
    this.views = new PartViews(host, {
      onUnder: () => undefined, onTap: () => undefined, onFace: () => undefined,
      onDrawn: () => { this.count++; this.views.setDrawn([]); },
    });
    this.views.show(this.shape, 0, "outer");
    this.views.setTool({ type: "brush", radius: 25, wipe: false });
    this.views.flush();
    await new Promise((done) => setTimeout(done, 300));
    await frame();
  }

  /** Way of a stroke over the part, CSS px of the 3D view. */
  private way(steps: number): [number, number][] {
    const a = this.views.space.toView([900, 500])!, b = this.views.space.toView([2600, 700])!;
    return Array.from({ length: steps }, (_, i): [number, number] => {
      const t = i / (steps - 1);
      return [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]) + 6 * Math.sin(9 * t)];
    });
  }

  /** Event to pixel, ms: the event is handled, everything it asks for is drawn, and is there. */
  async stroke(steps: number): Promise<{ median: number; p95: number; strokes: number }> {
    const { views } = this;
    const pane = document.querySelector(".view-3d")!;
    const box = pane.getBoundingClientRect();
    const send = (type: string, x: number, y: number) =>
      pane.dispatchEvent(new PointerEvent(type, {
        pointerId: 5, pointerType: "mouse", button: type === "pointermove" ? -1 : 0, buttons: 1, bubbles: true,
        cancelable: true, clientX: box.left + x, clientY: box.top + y,
      }));
    const way = this.way(steps);
    send("pointerdown", ...way[0]!);
    views.flush();
    const times: number[] = [];
    for (const at of way.slice(1)) {
      const begun = performance.now();
      send("pointermove", ...at);
      views.flush();
      views.space.picture.settle();
      times.push(performance.now() - begun);
      await frame();
    }
    send("pointerup", ...way[way.length - 1]!);
    times.sort((a, b) => a - b);
    return { median: median(times), p95: times[Math.floor(times.length * 0.95)]!, strokes: this.count };
  }

  /** The same with a scene library as one would write it: ray, texture, render. */
  async theirs(width: number, height: number, ratio: number, steps: number): Promise<Record<string, number>> {
    const canvas = document.createElement("canvas");
    const renderer = new THREE.WebGLRenderer({ canvas, antialias: false });
    renderer.setPixelRatio(ratio);
    renderer.setSize(width, height, false);
    const skin = this.shape.skins[0]!;
    const geometry = new THREE.BufferGeometry();
    geometry.setAttribute("position", new THREE.BufferAttribute(skin.points, 3));
    const uv = new Float32Array(skin.flat.length);
    const high = skin.header.bounds[3];
    for (let i = 0; i < uv.length; i += 2) {
      uv[i] = skin.flat[i]! / WIDE;
      uv[i + 1] = skin.flat[i + 1]! / high;
    }
    geometry.setAttribute("uv", new THREE.BufferAttribute(uv, 2));
    geometry.setIndex(new THREE.BufferAttribute(skin.triangles, 1));
    geometry.computeVertexNormals();
    const paper = document.createElement("canvas");
    paper.width = 2048;
    paper.height = Math.round((2048 * high) / WIDE);
    const pen = paper.getContext("2d", { willReadFrequently: true })!;
    pen.fillStyle = "#eeeeec";
    pen.fillRect(0, 0, paper.width, paper.height);
    const texture = new THREE.CanvasTexture(paper);
    texture.generateMipmaps = false;
    texture.minFilter = THREE.LinearFilter;
    const mesh = new THREE.Mesh(geometry, new THREE.MeshLambertMaterial({ map: texture, side: THREE.DoubleSide }));
    mesh.raycast = acceleratedRaycast;
    const treeBegun = performance.now();
    geometry.boundsTree = new MeshBVH(geometry);
    const tree = performance.now() - treeBegun;
    const scene = new THREE.Scene();
    scene.add(mesh, new THREE.HemisphereLight(0xffffff, 0x888888, 2));
    const own = this.views.space.picture.camera;
    const camera = new THREE.PerspectiveCamera(28, width / height, 10, 100000);
    camera.up.set(0, 0, 1);
    camera.position.set(...own.eye);
    camera.lookAt(...own.target);
    camera.updateMatrixWorld();
    const gl = renderer.getContext();
    renderer.render(scene, camera);
    gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4));
    const ray = new THREE.Raycaster();
    (ray as unknown as { firstHitOnly: boolean }).firstHitOnly = true;
    const pick = (x: number, y: number) => {
      ray.setFromCamera(new THREE.Vector2((2 * x) / width - 1, 1 - (2 * y) / height), camera);
      return ray.intersectObject(mesh)[0];
    };
    pen.strokeStyle = "#337adb";
    pen.lineWidth = (50 * 2048) / WIDE;
    pen.lineCap = "round";
    let before: THREE.Vector2 | undefined;
    const times: number[] = [];
    for (const [x, y] of this.way(steps)) {
      const begun = performance.now();
      const at = pick(x, y)?.uv;
      if (at) {
        pen.beginPath();
        pen.moveTo((before ?? at).x * paper.width, (1 - (before ?? at).y) * paper.height);
        pen.lineTo(at.x * paper.width, (1 - at.y) * paper.height);
        pen.stroke();
        before = at.clone();
        texture.needsUpdate = true;
      }
      renderer.render(scene, camera);
      gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4));
      times.push(performance.now() - begun);
      await frame();
    }
    // Picks: the same places, asked of both.
    const places = Array.from({ length: 4000 }, (_, i): [number, number] => [
      width * (0.15 + 0.7 * ((i * 0.618034) % 1)), height * (0.2 + 0.6 * ((i * 0.754878) % 1)),
    ]);
    let hits = 0, ours = 0;
    let begun = performance.now();
    for (const [x, y] of places) if (pick(x, y)) hits++;
    const rays = performance.now() - begun;
    const { picks } = this.views.space.picture;
    begun = performance.now();
    for (let k = 0; k < 25; k++) for (const [x, y] of places) if (picks!.at(x, y)) ours++;
    const image = (performance.now() - begun) / 25;
    // What the stored image costs, once for each rest of the camera.
    this.views.space.picture.show([...this.views.space.all()], 0, 0);
    begun = performance.now();
    this.views.space.redraw();
    this.views.space.picture.settle();
    const rest = performance.now() - begun;
    renderer.dispose();
    renderer.forceContextLoss();
    return {
      median: median(times), tree, rest, rays: (1000 * rays) / places.length, image: (1000 * image) / places.length,
      hits, ours: ours / 25,
    };
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
