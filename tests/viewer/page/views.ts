// The views alone on a page, for their tests: what a test does is told in `window.bench`.

import { AirframeView } from "../../../mapper/viewer/page/src/views/airframe.ts";
import { PartViews, type DrawnItem, type Under } from "../../../mapper/viewer/page/src/views/partviews.ts";
import { parseShape, type LoadedShape } from "../../../mapper/viewer/page/src/lib/shape.ts";
import { ringsBeyond } from "../../../mapper/viewer/page/src/views/sketch.ts";
import type { Flat, Shape } from "../../../mapper/viewer/page/src/wire.ts";

class Bench {
  views: PartViews;
  airframe: AirframeView | null = null;
  shape: LoadedShape | null = null;
  items: DrawnItem[] = [];
  draft: Shape[] = [];
  drawn: Shape[][] = [];
  areas: number[] = [];
  unders: (Under | null)[] = [];
  taps: Under[] = [];
  faces: string[] = [];
  parts: string[] = [];
  notes: string[] = [];

  constructor(host: HTMLElement) {
    this.views = new PartViews(host, {
      onUnder: (under) => this.unders.push(under),
      onTap: (under) => this.taps.push(under),
      onFace: (face) => {
        this.faces.push(face);
        this.views.show(this.shape!, 0, face);
      },
      onNote: (words) => this.notes.push(words),
      onDrawn: (shapes, area) => {
        this.drawn.push(shapes);
        this.areas.push(area);
        this.draft.push(...shapes);
        this.draw();
      },
    });
  }

  draw(): void {
    const draft: DrawnItem = {
      id: "draft", style: "finding", title: "", shapes: this.draft, outline: null, unsent: true, selected: true,
    };
    this.views.setDrawn(this.draft.length ? [...this.items, draft] : this.items);
  }

  clear(): void {
    this.draft = [];
    this.drawn = [];
    this.areas = [];
    this.draw();
  }

  async load(name: string, skin = 0, face = 0): Promise<void> {
    const answer = await fetch(`/shapes/${name}`);
    this.shape = parseShape(await answer.arrayBuffer());
    this.views.setStyle(await (await fetch("/style.json")).json());
    this.views.show(this.shape, skin, this.shape.skins[skin]!.header.faces[face]!);
  }

  async showAirframe(names: string[], host: HTMLElement): Promise<void> {
    this.airframe = new AirframeView(host, { onPart: (id) => this.parts.push(id) });
    const states = ["untouched", "open", "inspected", "stripped"] as const;
    const parts = [];
    for (const [i, name] of names.entries()) {
      const shape = parseShape(await (await fetch(`/shapes/${name}`)).arrayBuffer());
      parts.push({ id: name, name, shape, state: states[i % 4]!, off: i === 3 });
    }
    this.airframe.setParts(parts);
  }

  readonly parse = parseShape;

  /** The brush's ring on charts beyond the one that holds the place. */
  ringsBeyond(at: Flat, radius: number): Flat[][] {
    return ringsBeyond(this.views["model"]!, at, radius);
  }

  /** Colour of the 3D picture at CSS px of the page. */
  pixel(x: number, y: number): number[] {
    const { glCanvas } = this.views["stage"];
    const { ratio } = this.views.space.picture;
    const gl = glCanvas.getContext("webgl2")!;
    const out = new Uint8Array(4);
    gl.readPixels(Math.floor(x * ratio), Math.floor(glCanvas.height - y * ratio), 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, out);
    return [...out];
  }

  /** When everything asked for is drawn and the camera rests. */
  async settled(): Promise<void> {
    await new Promise((done) => setTimeout(done, 180));
    await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  }
}

declare global {
  interface Window {
    bench: Bench;
  }
}

window.bench = new Bench(document.getElementById("host")!);
