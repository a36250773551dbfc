// The tether from a post to a stone: level, so that its length is the distance, with the distance beside it.

import type { Tether } from "../picture.ts";
import { textBox, type Boxes } from "./boxes.ts";
import type { Ground } from "./ground.ts";
import type { Drawn } from "./stone.ts";
import { add, set } from "./svg.ts";

/** A tether that has been drawn. */
export interface Tied {
  readonly key: string; // of its stone
  /** Draws it to where its stone is now, dx px beside its place. */
  follow(dx: number): void;
}

/** How far words stand from what they belong to, in px. */
const GAP = 12;

/**
 * Null where the stone's place is not known well enough to be tied. post is the place of a post that is aimed at beside
 * a bend: words step clear of it. The words of a second candidate are left out where they would lie over others.
 */
export function drawTether(svg: Element, g: Ground, t: Tether, to: Drawn, boxes: Boxes, post: number | null): Tied | null {
  if (!to.known) return null;
  const x0 = g.X(t.from);
  const end = to.stone.pair ? g.X(t.at) : to.x; // two stones that touch are tied where they do
  const low = t.dashed && to.stone.role === "second";
  const height = t.short ? 0.4 : low ? (g.near ? 0.47 : 0.36) : g.near ? 0.64 : 0.6;
  const y = Math.min(g.y - g.y * height, to.crown - 14);
  const foot = to.stone.pair ? g.y - (g.y - to.crown) * 0.45 : to.crown;
  const stem = add(svg, "line", { y1: y, y2: foot, class: "r-stem" });
  const line = add(svg, "path", { class: t.dashed ? "r-tether dash" : "r-tether" });
  add(svg, "circle", { cx: x0, cy: y, r: g.near ? 7 : 5, class: "r-knot" });
  boxes.take({ x: end - 4, y, w: 8, h: foot - y });

  const size = Math.min(Math.max(18, g.y * 0.17, g.W * 0.02), 46) * g.text * (low ? 0.75 : 1);
  const wide = t.tell.length * size * 0.52;
  const at = wordsAt(g, x0, end, y, size, wide, post);
  const box = textBox(t.tell, size, at.x, at.y, at.anchor);
  const word = t.dashed && !boxes.free(box) ? null : add(svg, "text", { class: "r-say halo", "font-size": size, "text-anchor": at.anchor, y: at.y }, t.tell);
  if (word) boxes.take(box);
  return {
    key: t.stone,
    follow(dx) {
      const x1 = end + dx;
      set(stem, { x1, x2: x1 });
      set(line, { d: `M${x0.toFixed(2)} ${y.toFixed(2)}Q${((x0 + x1) / 2).toFixed(2)} ${(y + Math.min(9, Math.abs(x1 - x0) * 0.12)).toFixed(2)} ${x1.toFixed(2)} ${y.toFixed(2)}` });
      if (word) set(word, { x: at.x + dx });
    },
  };
}

/** Where the distance is written: beyond the stone, away from the post; a line lower and back over the tether where the edge is near. */
function wordsAt(g: Ground, x0: number, x1: number, y: number, size: number, wide: number, post: number | null): { x: number; y: number; anchor: "start" | "end" } {
  const right = x1 >= x0;
  const after = right ? x1 + GAP + wide < g.W : x1 - GAP - wide < 0;
  const back = right !== after;
  let x = x1 + (after ? GAP : -GAP);
  const p = post === null || back ? null : g.X(post);
  if (p !== null && (after ? p > x - 8 && p < x + wide + 8 : p < x + 8 && p > x - wide - 8)) x = p + (after ? GAP + 2 : -GAP - 2);
  return { x, y: y + size * (back ? 1.25 : 0.34), anchor: after ? "start" : "end" };
}
