// The rail: builds a picture into an svg, and moves what moves on it: a stone falls in, a settling place glides, courses
// thin at the measured rate, pairs swell at the measured beat. Nothing else.

import type { Picture, Stone } from "../picture.ts";
import { drawAim } from "./aim.ts";
import { groundOf, type Ground } from "./ground.ts";
import { drawNames, drawPosts } from "./posts.ts";
import { drawStone, type Drawn } from "./stone.ts";
import { add, hatch, idsFor, textScale } from "./svg.ts";
import { drawTether, type Tied } from "./tether.ts";

/** How long a stone takes to fall in, and a settling place to glide, in ms. */
const FALL = 120;
const GLIDE = 180;
/** How much a stone of a beating pair grows and shrinks, as a share of its size. */
const SWELL = 0.16;

export class Rail {
  private W = 0;
  private H = 0;
  private picture: Picture | null = null;
  private onset = 0; // ms since 1970
  private mark = ".";
  private drawn: Drawn[] = [];
  private tied: Tied[] = [];
  private glides = new Map<string, { from: number; since: number }>(); // px beside the place, by stone
  private fell = new Map<string, number>(); // when each stone came

  constructor(
    private readonly svg: SVGSVGElement,
    changed: () => void,
  ) {
    new ResizeObserver(() => {
      this.measure();
      this.build();
      changed();
    }).observe(svg);
    this.measure();
  }

  private measure(): void {
    this.W = this.svg.clientWidth;
    this.H = this.svg.clientHeight;
  }

  /** Shows another picture. onset is when its strike began, now the time, both in ms since 1970. */
  show(p: Picture, onset: number, now: number, mark: string): void {
    const before = new Map(this.drawn.map((d) => [d.stone.key, d.x + this.beside(d.stone.key, now)]));
    this.picture = p;
    this.onset = onset;
    this.mark = mark;
    this.build();
    const glides = new Map<string, { from: number; since: number }>();
    const fell = new Map<string, number>();
    for (const d of this.drawn) {
      const was = before.get(d.stone.key);
      if (was !== undefined && Math.abs(was - d.x) > 0.5) glides.set(d.stone.key, { from: was - d.x, since: now });
      fell.set(d.stone.key, this.fell.get(d.stone.key) ?? now);
    }
    this.glides = glides;
    this.fell = fell;
  }

  private build(): void {
    const p = this.picture;
    this.svg.replaceChildren();
    this.drawn = [];
    this.tied = [];
    if (!p || !this.W || !this.H) return;
    const ids = idsFor("rail");
    const g = groundOf(p.span, this.W, this.H, textScale());
    drawPosts(this.svg, g, p.posts);
    drawNames(this.svg, g, p.posts);
    add(this.svg, "line", { x1: 0, x2: g.W, y1: g.y, y2: g.y, class: p.deaf ? "r-line deaf" : "r-line" });
    if (p.aim) drawAim(this.svg, ids, g, p.aim, this.mark);
    const base = hatch(this.svg, ids, "r-stem", 6, -45);
    const lying = p.stones.filter((s) => s.at > g.scale.lo - 40 && s.at < g.scale.hi + 40).sort((a, b) => b.loud - a.loud || order(a) - order(b));
    this.drawn = lying.map((s) => drawStone(this.svg, ids, g, s, base));
    this.words(g, p);
    for (const t of p.tethers) {
      const to = this.drawn.find((d) => d.stone.key === t.stone);
      const tied = to && drawTether(this.svg, g, t, to, t.dashed && g.W < 420 * g.text, p.aim?.bend ? p.aim.post : null);
      if (tied) this.tied.push(tied);
    }
  }

  /** What is written beside stones, and what lies off the edges. */
  private words(g: Ground, p: Picture): void {
    const size = Math.max(16, Math.min(22, g.W * 0.0125)) * g.text;
    const said: number[] = [];
    for (const d of this.drawn) {
      const { say, pair } = d.stone;
      if (!say || !pair) continue;
      const y = g.y - size * 0.5;
      if (said.some((x) => Math.abs(x - g.X(pair.at)) < say.length * size * 0.5)) continue;
      said.push(g.X(pair.at));
      // Beside the pair, away from what is aimed at, unless the edge is near.
      const mates = this.drawn.filter((o) => o.stone.pair?.at === pair.at);
      const reach = Math.max(...mates.map((o) => Math.abs(o.x - g.X(pair.at)) + o.half * (1 + SWELL))) + 10;
      const away = p.aim && p.aim.at > pair.at ? -1 : 1;
      const wide = say.length * size * 0.5;
      const fits = (side: number) => (side > 0 ? g.X(pair.at) + reach + wide < g.W : g.X(pair.at) - reach - wide > 0);
      const side = fits(away) ? away : -away;
      if (!fits(side)) {
        add(this.svg, "text", { x: 12, y: size * (p.lower ? 2.4 : 1.1), class: "r-note halo", "font-size": size }, say);
        continue;
      }
      add(this.svg, "text", { x: g.X(pair.at) + side * reach, y, class: "r-note halo", "text-anchor": side > 0 ? "start" : "end", "font-size": size }, say);
    }
    const edge = Math.max(12, g.W * 0.026);
    if (p.lower) add(this.svg, "text", { x: edge, y: size * 1.1, class: "r-note halo", "font-size": size }, `← ${p.lower}`);
    if (p.higher) add(this.svg, "text", { x: g.W - edge, y: size * 1.1, class: "r-note halo", "text-anchor": "end", "font-size": size }, `${p.higher} →`);
  }

  private beside(key: string, now: number): number {
    const glide = this.glides.get(key);
    return glide ? glide.from * (1 - eased((now - glide.since) / GLIDE)) : 0;
  }

  /** Moves everything to where it is at now; still: reduced motion. Returns how long it may rest, in ms; Infinity: for good. */
  frame(now: number, still: boolean): number {
    let rest = Infinity;
    const y = this.H;
    for (const d of this.drawn) {
      const since = now - (this.fell.get(d.stone.key) ?? 0);
      const dx = still ? 0 : this.beside(d.stone.key, now);
      const dy = still || since > FALL ? 0 : -y * 0.3 * (1 - eased(since / FALL));
      const age = (now - this.onset) / 1000;
      const left = leftOf(d.stone, still ? Math.floor(age) : age);
      const beats = d.stone.pair !== null && left > 0;
      const swell = beats && !still ? 1 + SWELL * d.stone.pair!.side * Math.cos(2 * Math.PI * d.stone.pair!.beat * age) : 1;
      d.place(dx, dy, left, swell);
      for (const t of this.tied) if (t.key === d.stone.key) t.follow(dx);
      if (!still && (dx !== 0 || since <= FALL || beats)) rest = 0;
      if (left > 0 && d.stone.t60 !== null) rest = Math.min(rest, still ? 1000 : 0);
    }
    return rest;
  }
}

/** How much of a stone still rings, 0..1: it has rung out after its own time. Unknown times do not thin. */
export const leftOf = (s: Stone, seconds: number): number => (s.t60 === null ? 1 : Math.min(1, Math.max(0, 1 - seconds / s.t60)));

const order = (s: Stone): number => (s.role === "heard" ? 0 : 1);
const eased = (t: number): number => (t >= 1 ? 1 : t <= 0 ? 0 : 1 - (1 - t) ** 3);
