// The tether from a post to a stone: level, so that its length is the distance, with the distance beside it.

import type { Tether } from "../picture.ts";
import type { Ground } from "./ground.ts";
import type { Drawn } from "./stone.ts";
import { add, set } from "./svg.ts";

/** A tether that has been drawn. */
export interface Tied {
  readonly key: string; // of its stone
  /** Draws it to where its stone is now, dx px beside its place. */
  follow(dx: number): void;
}

/** Null where the stone's place is not known well enough to be tied. */
export function drawTether(svg: Element, g: Ground, t: Tether, to: Drawn, quiet: boolean, post: number | null): Tied | null {
  if (!to.known) return null;
  const x0 = g.X(t.from);
  const height = t.short ? 0.4 : t.dashed && to.stone.role === "second" ? (g.near ? 0.47 : 0.36) : g.near ? 0.64 : 0.6;
  const y = Math.min(g.y - g.y * height, to.crown - 14);
  const end = to.stone.pair ? g.X(t.at) : to.x; // two stones that touch are tied where they do
  const stem = add(svg, "line", { y1: y, y2: to.stone.pair ? g.y - (g.y - to.crown) * 0.45 : to.crown, class: "r-stem" });
  const line = add(svg, "path", { class: t.dashed ? "r-tether dash" : "r-tether" });
  add(svg, "circle", { cx: x0, cy: y, r: g.near ? 7 : 5, class: "r-knot" });
  const size = Math.min(Math.max(18, g.y * 0.17, g.W * 0.02), 46) * g.text * (to.stone.role === "second" ? 0.75 : 1);
  const word = quiet ? null : add(svg, "text", { class: "r-say halo", "font-size": size }, t.tell);
  const wide = t.tell.length * size * 0.52;
  return {
    key: t.stone,
    follow(dx) {
      const x1 = end + dx;
      const right = x1 >= x0;
      set(stem, { x1, x2: x1 });
      set(line, { d: `M${x0.toFixed(2)} ${y.toFixed(2)}Q${((x0 + x1) / 2).toFixed(2)} ${(y + Math.min(9, Math.abs(x1 - x0) * 0.12)).toFixed(2)} ${x1.toFixed(2)} ${y.toFixed(2)}` });
      if (!word) return;
      const after = right ? x1 + 12 + wide < g.W : x1 - 12 - wide < 0;
      const crossing = right !== after; // turned back over its own tether: a line lower, clear of it
      let x = x1 + (after ? 12 : -12);
      const aimed = post === null ? null : g.X(post); // the words step clear of the post that is aimed at
      if (aimed !== null && !crossing && (after ? aimed > x - 8 && aimed < x + wide + 8 : aimed < x + 8 && aimed > x - wide - 8)) x = aimed + (after ? 14 : -14);
      set(word, { x, y: y + size * (crossing ? 1.25 : 0.34), "text-anchor": after ? "start" : "end" });
    },
  };
}
