// The posts of the instrument's notes, and their names.

import type { Post } from "../picture.ts";
import type { Ground } from "./ground.ts";
import { add } from "./svg.ts";

/** Draws the posts within the span. Behind the stones. */
export function drawPosts(svg: Element, g: Ground, posts: readonly Post[]): void {
  const dense = g.px * 100 < 16;
  for (const p of inView(g, posts)) {
    const width = p.aimed ? (g.near ? 7 : 5) : g.near ? 3 : dense ? 1.25 : 2;
    add(svg, "line", { x1: g.X(p.at), x2: g.X(p.at), y1: g.y, y2: g.y - (p.natural ? g.natural : g.accidental), class: p.aimed ? "r-aim" : "r-post", "stroke-width": width });
  }
}

/** Writes the names: the aimed one, then every C and both ends, then naturals, then the rest, as long as they fit. */
export function drawNames(svg: Element, g: Ground, posts: readonly Post[]): void {
  const taken: { x: number; half: number }[] = [];
  const rank = (p: Post) => (p.aimed || p.flagged ? 0 : p.c ? 1 : p.end ? 2 : p.natural ? 3 : 4);
  for (const p of [...inView(g, posts)].sort((a, b) => rank(a) - rank(b) || a.at - b.at)) {
    if (!g.near && rank(p) === 4) continue; // a natural tells where its neighbours are
    const full = g.near || rank(p) < 3;
    const size = p.aimed && g.near ? g.nameSize * 1.25 : g.nameSize;
    const name = full ? p.name : p.letter;
    const half = size * name.length * 0.29 + 4;
    const x = Math.min(Math.max(g.X(p.at), half), g.W - half);
    if (taken.some((t) => Math.abs(t.x - x) < t.half + half)) continue;
    taken.push({ x, half });
    add(svg, "text", { x, y: g.y + g.under + g.nameSize * 1.12, class: p.aimed || p.flagged ? "r-name aim" : "r-name", "text-anchor": "middle", "font-size": size }, name);
  }
}

const inView = (g: Ground, posts: readonly Post[]): Post[] => posts.filter((p) => p.at >= g.scale.lo && p.at <= g.scale.hi);
