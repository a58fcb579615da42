// A small sample of how a kind is drawn: its line and hatch, so that it is told without colour.

import type { App } from "../state.ts";
import { ownId, svg } from "./el.ts";

interface Family {
  angle: number;
  gap: number;
  width: number;
  dash: number[];
  shift?: number;
}

interface Token {
  line?: string;
  width?: number;
  fill?: string;
  opacity?: number;
  dash?: number[];
  hatch?: Family[];
}

const SCALE = 3.2; // user units to the mm on paper
const WIDE = 28;
const HIGH = 20;

export function swatch(app: App, style: string): SVGElement {
  const tokens = (app.style["tokens"] ?? {}) as Record<string, Token>;
  const token = tokens[style] ?? tokens["other"] ?? {};
  const line = token.line ?? "#303030";
  const id = ownId("clip");
  const box = { x: 1, y: 1, width: WIDE - 2, height: HIGH - 2 };
  const hatch = (token.hatch ?? []).flatMap((family) => strokes(family, line));
  return svg(
    "svg",
    { class: "swatch", viewBox: `0 0 ${WIDE} ${HIGH}`, "aria-hidden": "true", focusable: "false" },
    svg("clipPath", { id }, svg("rect", box)),
    // The drawing's colours are made for white paper, in the dark too.
    svg("rect", { ...box, fill: "#ffffff" }),
    svg("rect", { ...box, fill: token.fill ?? "none", "fill-opacity": token.opacity ?? 1 }),
    svg("g", { "clip-path": `url(#${id})` }, hatch),
    svg("rect", {
      ...box,
      fill: "none",
      stroke: line,
      "stroke-width": Math.max((token.width ?? 0.3) * SCALE, 1),
      "stroke-dasharray": (token.dash ?? []).map((d) => d * SCALE).join(" ") || null,
    }),
  );
}

function strokes(family: Family, line: string): SVGElement[] {
  const turn = (-family.angle * Math.PI) / 180;
  const along: [number, number] = [Math.cos(turn), Math.sin(turn)];
  const across: [number, number] = [-along[1], along[0]];
  const gap = Math.max(family.gap * SCALE, 2);
  const reach = WIDE;
  const count = Math.ceil(reach / gap);
  const made: SVGElement[] = [];
  for (let i = -count; i <= count; i += 1) {
    const off = i * gap + (family.shift ?? 0) * SCALE;
    const [x, y] = [WIDE / 2 + across[0] * off, HIGH / 2 + across[1] * off];
    made.push(
      svg("line", {
        x1: (x - along[0] * reach).toFixed(2),
        y1: (y - along[1] * reach).toFixed(2),
        x2: (x + along[0] * reach).toFixed(2),
        y2: (y + along[1] * reach).toFixed(2),
        stroke: line,
        "stroke-width": Math.max(family.width * SCALE, 0.8),
        "stroke-dasharray": family.dash.map((d) => Math.max(d * SCALE, 0.8)).join(" ") || null,
      }),
    );
  }
  return made;
}
