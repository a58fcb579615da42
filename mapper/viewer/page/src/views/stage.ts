// The canvases of the two views on their host, and where each view lies: side by side or one above
// the other, whichever shows the part larger.

import type { Port } from "./flatdraw.ts";
import { Tiles } from "./tiles.ts";

/** Device pixels for a CSS px beyond this are not seen on thin lines. */
const MOST_RATIO = 3;
/** CSS px between the views. */
export const GAP = 6;
/** Round a map stand the numbers of its grid, CSS px both ways. */
const MARGINS = 90;

export class Stage {
  readonly root: HTMLDivElement;
  readonly glCanvas: HTMLCanvasElement;
  readonly vectors: CanvasRenderingContext2D;
  /** Paint on the flat map. */
  readonly live: Tiles;
  /** What moves with the pointer, in 3D and on the flat map. */
  readonly spaceTop: Tiles;
  readonly flatTop: Tiles;
  readonly spacePane: HTMLDivElement;
  readonly flatPane: HTMLDivElement;
  /** Buttons that bring all of it into sight again; there while something else is. */
  readonly spaceAll: HTMLButtonElement;
  readonly flatAll: HTMLButtonElement;
  ratio = 1;
  width = 0;
  height = 0;
  stacked = false;
  private readonly sizes: ResizeObserver;
  private readonly stop = new AbortController();

  constructor(host: HTMLElement, resized: () => void, all: (view: "3d" | "flat") => void) {
    const doc = host.ownerDocument;
    this.root = doc.createElement("div");
    this.root.className = "views-stage";
    fill(this.root);
    this.root.style.overflow = "hidden";
    if (getComputedStyle(host).position === "static") host.style.position = "relative";
    this.glCanvas = doc.createElement("canvas");
    this.vectors = context(doc);
    for (const canvas of [this.glCanvas, this.vectors.canvas]) {
      fill(canvas);
      this.root.append(quiet(canvas));
    }
    const layer = (opacity: string): Tiles => {
      const over = doc.createElement("div");
      over.style.position = "absolute";
      over.style.overflow = "hidden";
      this.root.append(quiet(over));
      return new Tiles(over, opacity);
    };
    // What lies under the paint should still be seen.
    this.live = layer("0.55");
    this.spaceTop = layer("1");
    this.flatTop = layer("1");
    this.spacePane = this.pane(doc, "view-3d", "Part in 3D");
    this.flatPane = this.pane(doc, "view-flat", "Flat map of the part");
    this.spaceAll = showAll(doc, () => all("3d"));
    this.flatAll = showAll(doc, () => all("flat"));
    this.root.append(this.spaceAll, this.flatAll);
    host.append(this.root);
    this.sizes = new ResizeObserver(() => resized());
    this.sizes.observe(this.root);
    this.watchRatio(resized);
  }

  private pane(doc: Document, name: string, label: string): HTMLDivElement {
    const pane = doc.createElement("div");
    pane.className = `view-pane ${name}`;
    pane.tabIndex = 0;
    // Keys are taken here: arrows turn, + and - zoom, space places.
    pane.setAttribute("role", "application");
    pane.setAttribute("aria-label", label);
    pane.style.position = "absolute";
    pane.style.touchAction = "none";
    pane.style.userSelect = "none";
    pane.style.outlineOffset = "-3px";
    this.root.append(pane);
    return pane;
  }

  /** A window moved to another screen has other pixels, at the same size. */
  private watchRatio(resized: () => void): void {
    const query = matchMedia(`(resolution: ${devicePixelRatio}dppx)`);
    query.addEventListener(
      "change",
      () => {
        resized();
        this.watchRatio(resized);
      },
      { once: true, signal: this.stop.signal },
    );
  }

  /** Sizes everything to the host; the places of both views. three: whether there is a 3D view; long:
   * how many times longer than high the part's map is. */
  layout(three: boolean, long: number): { space: Port; flat: Port } {
    const { clientWidth: width, clientHeight: height } = this.root;
    this.width = width;
    this.height = height;
    this.ratio = Math.min(MOST_RATIO, devicePixelRatio || 1);
    // How high the map is in a view of such a size.
    const size = (w: number, h: number): number => Math.max(10, Math.min((w - MARGINS) / long, h - MARGINS));
    this.stacked = size(width, height / 2) > 1.1 * size(width / 2, height);
    let space: Port, flat: Port;
    if (!three) {
      space = { left: 0, top: 0, width: 0, height: 0 };
      flat = { left: 0, top: 0, width, height };
    } else if (this.stacked) {
      const half = Math.floor((height - GAP) / 2);
      space = { left: 0, top: 0, width, height: half };
      flat = { left: 0, top: half + GAP, width, height: height - half - GAP };
    } else {
      const half = Math.floor((width - GAP) / 2);
      space = { left: 0, top: 0, width: half, height };
      flat = { left: half + GAP, top: 0, width: width - half - GAP, height };
    }
    this.vectors.canvas.width = Math.max(1, Math.round(width * this.ratio));
    this.vectors.canvas.height = Math.max(1, Math.round(height * this.ratio));
    put(this.glCanvas, space);
    put(this.spacePane, space);
    this.live.place(flat, this.ratio);
    this.spaceTop.place(space, this.ratio);
    this.flatTop.place(flat, this.ratio);
    put(this.flatPane, flat);
    for (const [button, port] of [[this.spaceAll, space], [this.flatAll, flat]] as const) {
      Object.assign(button.style, { left: `${port.left + 8}px`, top: `${port.top + 8}px` });
    }
    this.spacePane.hidden = !three;
    return { space, flat };
  }

  dispose(): void {
    this.stop.abort();
    this.sizes.disconnect();
    this.root.remove();
  }
}

/** The way back for who has no keyboard, and for who cannot pinch in gloves. */
export function showAll(doc: Document, work: () => void): HTMLButtonElement {
  const button = doc.createElement("button");
  button.type = "button";
  button.className = "view-all";
  button.textContent = "Show all";
  button.hidden = true;
  button.addEventListener("click", work);
  return button;
}

/** For the eye alone: pointers and screen readers meet the panes. */
function quiet<E extends HTMLElement>(element: E): E {
  element.style.pointerEvents = "none";
  element.setAttribute("aria-hidden", "true");
  return element;
}

function fill(element: HTMLElement): void {
  Object.assign(element.style, { position: "absolute", left: "0", top: "0", width: "100%", height: "100%" });
}

function put(element: HTMLElement, port: Port): void {
  Object.assign(element.style, {
    left: `${port.left}px`, top: `${port.top}px`, width: `${port.width}px`, height: `${port.height}px`,
  });
}

function context(doc: Document): CanvasRenderingContext2D {
  const made = doc.createElement("canvas").getContext("2d");
  if (!made) throw new Error("This browser cannot draw on a canvas.");
  return made;
}
