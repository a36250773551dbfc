// A row of the trail: a thin rail on the same scale, with the strike's stones at rest and the aim as a dotted line.

import type { Picture, Stone } from "../picture.ts";
import { scaleOf, perCent, pxOf } from "../scale.ts";
import { lean, pebble } from "./pebble.ts";
import { add, hatch, idsFor } from "./svg.ts";

/** The radius of the loudest stone, in px. */
const R = 12;
/** Where the line lies above the lower edge, in px: room for the tolerance. */
const FOOT = 14;

/** What a row shows; the scale is the rail's. */
export interface Row {
  readonly id: string;
  readonly stones: readonly Stone[];
  readonly picture: Pick<Picture, "span" | "aim">;
}

/** Draws a row into svg, W by H px. */
export function drawRow(svg: Element, row: Row, W: number, H: number): void {
  svg.replaceChildren();
  if (!W || !H) return;
  const ids = idsFor(`row-${row.id}`);
  const scale = scaleOf(row.picture.span, W);
  const px = perCent(scale);
  const y = H - FOOT;
  const aim = row.picture.aim;
  if (aim) {
    const x = pxOf(scale, aim.at);
    const w = Math.max(2 * aim.tolerance * px, 9);
    add(svg, "line", { x1: x, x2: x, y1: 0, y2: H, class: "r-hair" });
    if (aim.tolerance > 0) add(svg, "rect", { x: x - w / 2, y: y + 2, width: w, height: 9, fill: hatch(svg, ids, "r-tol", 5, 45) });
  }
  add(svg, "line", { x1: 0, x2: W, y1: y, y2: y, class: "r-thin" });
  const base = hatch(svg, ids, "r-stem", 6, -45);
  const heard = row.stones.find((s) => s.role === "heard");
  if (heard && heard.at < scale.lo) add(svg, "path", { d: `M22 ${y - 18}L8 ${y - 11}L22 ${y - 4}z`, class: "r-off" });
  if (heard && heard.at > scale.hi) add(svg, "path", { d: `M${W - 22} ${y - 18}L${W - 8} ${y - 11}L${W - 22} ${y - 4}z`, class: "r-off" });
  for (const s of [...row.stones].sort((a, b) => Number(a.role === "heard") - Number(b.role === "heard") || b.loud - a.loud)) drawResting(svg, s, pxOf(scale, s.at), y, px, base);
}

/** A stone that has rung out, but for the heard one, which stays solid so that rows compare by eye. */
function drawResting(svg: Element, s: Stone, x: number, y: number, px: number, base: string): void {
  const r = Math.max(R * Math.sqrt(s.loud), 4);
  const foot = (s.sigma ?? 0) * px;
  const g = add(svg, "g", { transform: `translate(${x.toFixed(2)} ${y})`, class: `stone ${s.role}` });
  const solid = s.role === "heard" && !s.hollow;
  add(g, "path", { d: pebble(r, foot, lean(s.key)), class: solid ? "r-core" : "r-out" });
  if (foot * 2 <= 2.3 * r || s.role === "wanting") return;
  add(g, "rect", { x: -foot, y: 1, width: 2 * foot, height: 9, fill: base });
  add(g, "path", { d: `M${-foot} -6V11M${foot} -6V11`, class: "r-end" });
}
