// The rail: builds a picture into an svg, and moves what moves on it: a stone falls in, a settling place glides, courses
// thin at the measured rate, pairs swell at the measured beat. Nothing else.

import type { Picture, Stone } from "../picture.ts";
import { drawAim } from "./aim.ts";
import { Boxes, textBox } from "./boxes.ts";
import { drawFlags } from "./flags.ts";
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
    if (p.flags) drawFlags(this.svg, ids, g, p.flags, this.mark);
    const base = hatch(this.svg, ids, "r-stem", 6, -45);
    const lying = p.stones.filter((s) => s.at > g.scale.lo - 40 && s.at < g.scale.hi + 40).sort((a, b) => b.loud - a.loud || order(a) - order(b));
    this.drawn = lying.map((s) => drawStone(this.svg, ids, g, s, base));
    const boxes = new Boxes(g.W);
    this.edges(g, p, boxes);
    for (const d of this.drawn) boxes.take({ x: d.x - d.half, y: d.crown, w: 2 * d.half, h: g.y - d.crown });
    for (const t of p.tethers) {
      const to = this.drawn.find((d) => d.stone.key === t.stone);
      const tied = to && drawTether(this.svg, g, t, to, boxes, p.aim?.bend ? p.aim.post : null);
      if (tied) this.tied.push(tied);
    }
    this.beats(g, p, boxes);
  }

  /** What lies off the edges, told at the top. */
  private edges(g: Ground, p: Picture, boxes: Boxes): void {
    const size = smallText(g);
    const edge = Math.max(12, g.W * 0.026);
    const tell = (text: string, x: number, anchor: "start" | "end") => {
      if (!text) return;
      add(this.svg, "text", { x, y: size * 1.1, class: "r-note halo", "text-anchor": anchor, "font-size": size }, text);
      boxes.take(textBox(text, size, x, size * 1.1, anchor));
    };
    tell(p.lower && `← ${p.lower}`, edge, "start");
    tell(p.higher && `${p.higher} →`, g.W - edge, "end");
  }

  /** The beat of a pair, beside it, away from what is aimed at; above it where that is taken; of the heard one at the top at last; else the table alone tells. */
  private beats(g: Ground, p: Picture, boxes: Boxes): void {
    const size = smallText(g);
    for (const { stone } of [...this.drawn].sort((a, b) => order(a.stone) - order(b.stone))) {
      const { say, pair } = stone;
      if (!say || !pair) continue;
      const mates = this.drawn.filter((o) => o.stone.pair?.at === pair.at);
      const middle = g.X(pair.at);
      const reach = Math.max(...mates.map((o) => Math.abs(o.x - middle) + o.half * (1 + SWELL))) + 10;
      const away = p.aim && p.aim.at > pair.at ? -1 : 1;
      const beside = (side: number) => ({ x: middle + side * reach, y: g.y - size * 0.5, anchor: side > 0 ? ("start" as const) : ("end" as const) });
      const above = { x: middle, y: Math.min(...mates.map((o) => o.crown)) - 8, anchor: "middle" as const };
      const top = { x: Math.max(12, g.W * 0.026), y: size * 1.1, anchor: "start" as const };
      const heard = mates.some((o) => o.stone.role === "heard");
      const free = [beside(away), beside(-away), above, ...(heard ? [top] : [])].find((at) => boxes.free(textBox(say, size, at.x, at.y, at.anchor)));
      if (!free) continue;
      boxes.take(textBox(say, size, free.x, free.y, free.anchor));
      add(this.svg, "text", { x: free.x, y: free.y, class: "r-note halo", "text-anchor": free.anchor, "font-size": size }, say);
    }
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

const smallText = (g: Ground): number => Math.max(16, Math.min(22, g.W * 0.0125)) * g.text;
const order = (s: Stone): number => (s.role === "heard" ? 0 : 1);
const eased = (t: number): number => (t >= 1 ? 1 : t <= 0 ? 0 : 1 - (1 - t) ** 3);
