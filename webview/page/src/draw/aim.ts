// What is aimed at: the tolerance at the foot of the place, the flag of a bend, and the foot of the post itself, which
// goes on below the line so that no stone can hide it.

import type { AimMark } from "../picture.ts";
import { signed } from "../number.ts";
import type { Ground } from "./ground.ts";
import { add, hatch, type Ids } from "./svg.ts";

export function drawAim(svg: Element, ids: Ids, g: Ground, aim: AimMark, mark: string): void {
  const x = g.X(aim.at);
  if (aim.tolerance > 0) {
    const w = Math.max(2 * aim.tolerance * g.px, g.near ? 9 : 18);
    add(svg, "rect", { x: x - w / 2, y: g.y + 2, width: w, height: g.under, fill: hatch(svg, ids, "r-tol", 7, 45) });
    if (g.near) add(svg, "path", { d: `M${x - w / 2} ${g.y}v${g.under + 2}M${x + w / 2} ${g.y}v${g.under + 2}`, class: "r-tol" });
  }
  add(svg, "line", { x1: x, x2: x, y1: g.y, y2: g.y + g.under + 2, class: "r-aim", "stroke-width": g.near ? 5 : 3 });
  if (aim.bend) drawFlag(svg, g, aim, mark);
}

function drawFlag(svg: Element, g: Ground, aim: AimMark, mark: string): void {
  const x = g.X(aim.at);
  const top = g.y - g.natural * 0.93;
  const away = aim.bend < 0 ? -1 : 1;
  const s = g.near ? 30 : Math.max(13, Math.min(22, g.W * 0.016));
  add(svg, "line", { x1: x, x2: x, y1: g.y, y2: top, class: "r-pole" });
  add(svg, "path", { d: `M${x} ${top}l${away * s} ${s * 0.34}l${-away * s} ${s * 0.34}z`, class: "r-flag" });
  if (g.near)
    add(svg, "text", { x: x + away * (s + 6), y: top + s * 0.5, class: "r-name aim", "text-anchor": away > 0 ? "start" : "end", "font-size": Math.max(16, g.nameSize * 0.7) }, signed(aim.bend, mark));
}
