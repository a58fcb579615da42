// Joins pointer and keyboard of a view to the tools.

import type { DrawTools } from "./drawtools.ts";
import type { Hands } from "./gestures.ts";
import { onKey } from "./keys.ts";
import type { PaneView } from "./pane.ts";

export interface Wired {
  tools: DrawTools;
  hover(view: PaneView, x: number, y: number): void;
  leave(): void;
  tap(view: PaneView, x: number, y: number, reach: number): void;
  /** What is needed to know what lies under the pointer is there after this. */
  ready(view: PaneView): void;
  /** The view that has the keyboard's cross-hair. */
  cross(view: PaneView | null): void;
  turnFace(): void;
}

export function handsOf(view: PaneView, wired: Wired): Hands {
  const { tools } = wired;
  return {
    draws: () => tools.draws,
    begin: (x, y, eraser) => {
      wired.ready(view);
      wired.hover(view, x, y);
      tools.begin(view, x, y, eraser);
    },
    move: (points) => {
      const [x, y] = points[points.length - 1]!;
      tools.move(points);
      wired.hover(view, x, y);
    },
    end: () => tools.end(performance.now()),
    takeBack: () => tools.takeBack(),
    tap: (x, y, reach) => wired.tap(view, x, y, reach),
    hover: (x, y) => wired.hover(view, x, y),
    leave: () => wired.leave(),
    turn: (dx, dy) => view.turn(dx, dy),
    pan: (dx, dy) => view.pan(dx, dy),
    zoom: (factor, x, y) => view.zoom(factor, x, y),
    steer: (begins, x, y) => view.steer(begins, x, y),
  };
}

export function keysOf(
  pane: HTMLElement, view: PaneView, turns: boolean, wired: Wired, signal: AbortSignal,
): void {
  const middle = (): [number, number] => [view.port.width / 2, view.port.height / 2];
  pane.addEventListener("keydown", (event) => {
    if (event.key === " " || event.key === "Enter") wired.ready(view);
    const ours = onKey(event, view, turns, {
      tools: wired.tools,
      moved: () => wired.hover(view, ...middle()),
      tap: () => wired.tap(view, ...middle(), 12),
      turnFace: () => wired.turnFace(),
    });
    if (ours) event.preventDefault();
    wired.cross(view);
  }, { signal });
  // Only who came by keyboard needs the cross-hair.
  pane.addEventListener("focus", () => wired.cross(pane.matches(":focus-visible") ? view : null), { signal });
  pane.addEventListener("blur", () => wired.cross(null), { signal });
  pane.addEventListener("pointerdown", () => wired.cross(null), { signal });
}
