// Our own small signs, 24 by 24, drawn with the colour of the words beside them.

import { svg } from "./el.ts";

const PATHS = {
  back: "M14 5l-7 7 7 7M8 12h12",
  look: "M3 12c3-5 6-7 9-7s6 2 9 7c-3 5-6 7-9 7s-6-2-9-7zM12 9.2a2.8 2.8 0 1 0 0 5.6 2.8 2.8 0 0 0 0-5.6z",
  brush: "M12 3.5a8.5 8.5 0 1 0 0 17 8.5 8.5 0 0 0 0-17zM12 11v2M11 12h2M6 17.5c4 1 8-1 11-6",
  polygon: "M4 17L8 5l11 3 1 9-9 3z",
  line: "M4 19c4-1 3-8 8-8s4-6 8-7M4 19h.01M20 4h.01",
  point: "M12 3v6M12 15v6M3 12h6M15 12h6M12 12h.01",
  numbers: "M3 16L16 3l5 5L8 21zM7 12l2 2M10 9l3 3M13 6l2 2",
  undo: "M8 5L4 9l4 4M4 9h9a6 6 0 0 1 0 12H9",
  redo: "M16 5l4 4-4 4M20 9h-9a6 6 0 0 0 0 12h4",
  list: "M4 6h.01M8 6h12M4 12h.01M8 12h12M4 18h.01M8 18h12",
  show: "M4 7h9M17 7h3M15 4.5v5M4 17h3M11 17h9M9 14.5v5",
  photo: "M4 8h4l2-3h4l2 3h4v11H4zM12 10a3.4 3.4 0 1 0 0 6.8 3.4 3.4 0 0 0 0-6.8z",
  file: "M6 3h8l4 4v14H6zM14 3v4h4M9 13h6M9 17h6",
  unsent: "M12 20V9M7.5 13L12 8.5l4.5 4.5M5 4h14",
  sent: "M4 12.5l5 5L20 6.5",
  who: "M12 4a4 4 0 1 0 0 8 4 4 0 0 0 0-8zM4 21c1-5 4-7 8-7s7 2 8 7",
  scan: "M4 8V4h4M16 4h4v4M20 16v4h-4M8 20H4v-4M8 8v8M11 8v8M13.5 8v8M16 8v8",
  more: "M5 12h.01M12 12h.01M19 12h.01",
  warn: "M12 4l9 16H3zM12 10v5M12 17.5h.01",
  inside: "M3 7l9-4 9 4-9 4zM3 12l9 4 9-4M3 17l9 4 9-4",
  mirror: "M12 3v18M9 7l-6 10h6zM15 7l6 10h-6z",
  pen: "M5 19l1-4L16 5l3 3L9 18z",
  wipe: "M4 15L13 6l6 6-7 7H8zM9 10l6 6M4 21h16",
} as const;

export type Icon = keyof typeof PATHS;

/** A sign beside words that say the same: hidden from readers of the screen. */
export function icon(name: Icon): SVGElement {
  return svg(
    "svg",
    { class: "icon", viewBox: "0 0 24 24", "aria-hidden": "true", focusable: "false" },
    svg("path", { d: PATHS[name] }),
  );
}
