// The keyboard on a view: everything a pointer does, at the cross-hair in the view's middle.

import type { DrawTools } from "./drawtools.ts";
import type { PaneView } from "./pane.ts";

export interface KeyHands {
  tools: DrawTools;
  /** Something moved: what lies under the cross-hair is told anew. */
  moved(view: PaneView): void;
  tap(view: PaneView): void;
  turnFace(): void;
}

const STEP = 24; // CSS px an arrow moves or turns; with Alt a quarter

export const KEY_HELP =
  "Arrows turn (flat map: move), Shift and arrows move, Alt makes small steps, plus and minus zoom, " +
  "0 shows all, space places at the cross-hair, Shift and space joins to the dab before, Enter finishes, " +
  "Backspace takes a corner back, Escape stops, F shows the other face.";

/** Handles a key on a view; true when it was one of ours. */
export function onKey(event: KeyboardEvent, view: PaneView, turns: boolean, hands: KeyHands): boolean {
  if (event.ctrlKey || event.metaKey) return false;
  const { width, height } = view.port;
  const [x, y] = [width / 2, height / 2];
  const step = STEP * (event.altKey ? 0.25 : 1);
  const arrows: Record<string, [number, number]> = {
    ArrowLeft: [step, 0], ArrowRight: [-step, 0], ArrowUp: [0, step], ArrowDown: [0, -step],
  };
  const arrow = arrows[event.key];
  if (arrow) {
    if (turns && !event.shiftKey) view.turn(-arrow[0], -arrow[1]);
    else view.pan(...arrow);
    hands.moved(view);
    return true;
  }
  switch (event.key) {
    case "+":
    case "=":
    case "-":
    case "_":
      view.zoom(event.key === "+" || event.key === "=" ? 1.2 : 1 / 1.2, x, y);
      hands.moved(view);
      return true;
    case "0":
    case "Home":
      view.fit();
      hands.moved(view);
      return true;
    case " ":
      if (event.repeat) return true;
      if (hands.tools.draws) hands.tools.place(view, x, y, event.shiftKey);
      else hands.tap(view);
      return true;
    case "Enter":
      if (hands.tools.corners.length) hands.tools.finish();
      else hands.tap(view);
      return true;
    case "Backspace":
    case "Delete":
      return hands.tools.back();
    case "Escape":
      return hands.tools.cancel();
    case "f":
    case "F":
      hands.turnFace();
      return true;
  }
  return false;
}
