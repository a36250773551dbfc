// A flag at each wanted place: open while it is wanted, filled when it is found. The pennant points away from the post.

import type { Flag } from "../picture.ts";
import { signed } from "../number.ts";
import type { Ground } from "./ground.ts";
import { add, hatch, type Ids } from "./svg.ts";

export function drawFlags(svg: Element, ids: Ids, g: Ground, flags: readonly Flag[], mark: string): void {
  const top = g.y - g.natural * 0.93;
  const s = g.near ? 30 : Math.max(13, Math.min(22, g.W * 0.016));
  for (const f of flags) {
    const x = g.X(f.at);
    const away = f.bend < 0 ? -1 : 1;
    if (f.tolerance > 0) {
      const w = Math.max(2 * f.tolerance * g.px, g.near ? 9 : 18);
      add(svg, "rect", { x: x - w / 2, y: g.y + 2, width: w, height: g.under, fill: hatch(svg, ids, "r-tol", 7, 45) });
    }
    add(svg, "line", { x1: x, x2: x, y1: g.y, y2: top, class: "r-pole" });
    add(svg, "path", { d: `M${x} ${top}l${away * s} ${s * 0.34}l${-away * s} ${s * 0.34}z`, class: f.found ? "r-flag" : "r-flag open" });
    if (g.near && f.bend) add(svg, "text", { x: x + away * (s + 6), y: top + s * 0.5, class: "r-name aim", "text-anchor": away > 0 ? "start" : "end", "font-size": Math.max(16, g.nameSize * 0.7) }, signed(f.bend, mark));
  }
}
