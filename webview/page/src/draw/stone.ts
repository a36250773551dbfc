// A stone on the rail. It is built once for a telling; while it rings only its courses and its swell are touched.

import type { Stone } from "../picture.ts";
import { radius, type Ground } from "./ground.ts";
import { lean, pebble } from "./pebble.ts";
import { add, set, type Ids } from "./svg.ts";

/** A stone that has been drawn. */
export interface Drawn {
  readonly stone: Stone;
  readonly x: number; // where it stands
  readonly half: number; // half its width
  readonly crown: number; // y of its top
  readonly known: boolean; // its foot is no wider than itself
  /** Puts it where it is to be now: dx, dy px beside its place, left 0..1 of it still ringing, swell times its size. */
  place(dx: number, dy: number, left: number, swell: number): void;
}

/** A stone wider than this many radii of its foot has no known place. */
const WIDE = 2.3;

export function drawStone(svg: Element, ids: Ids, g: Ground, s: Stone, baseFill: string): Drawn {
  const r = radius(g.R, s.pair ? s.loud * 0.55 : s.loud);
  const foot = (s.sigma ?? 0) * g.px;
  const wide = foot * 2 > WIDE * r;
  const apart = s.pair ? Math.max(Math.abs(g.X(s.at) - g.X(s.pair.at)), r * 1.15) * s.pair.side : 0;
  const x = s.pair ? g.X(s.pair.at) + apart : g.X(s.at);
  const skew = s.pair ? -0.14 * s.pair.side : lean(s.key);
  const heard = s.role === "heard";
  const gap = Math.max(r * 0.17, 3.5);

  const outer = add(svg, "g", { class: `stone ${s.role}` });
  const body = add(outer, "g");
  if (heard) add(body, "path", { d: pebble(r + gap * 1.25, foot + gap, skew), class: "r-out" });
  add(body, "path", { d: pebble(r, foot, skew), class: "r-out" });
  const courses = s.hollow || s.role === "second" || s.role === "wanting" ? null : new Courses(body, ids, r, pebble(r - 1, foot, skew));
  if (wide && s.role !== "wanting") {
    add(outer, "rect", { x: -foot, y: 1, width: 2 * foot, height: 13, fill: baseFill });
    add(outer, "path", { d: `M${-foot} -8V15M${foot} -8V15`, class: "r-end" });
  }
  return {
    stone: s, x, half: r * 1.15 + (heard ? gap * 1.5 : 0), crown: g.y - r * 1.55 - (heard ? gap * 1.6 : 0), known: !wide,
    place(dx, dy, left, swell) {
      set(outer, { transform: `translate(${(x + dx).toFixed(2)} ${(g.y + dy).toFixed(2)})` });
      set(body, { transform: swell === 1 ? undefined : `scale(${swell.toFixed(4)})` });
      courses?.show(left);
    },
  };
}

/**
 * What is inside a stone: level courses, one every .26 r, whose thickness is the part that still rings. All of it is a
 * solid stone, nothing of it an outline.
 */
class Courses {
  private readonly step: number;
  private readonly pattern: SVGPatternElement;
  private readonly course: SVGRectElement;
  private readonly core: SVGPathElement;
  private readonly url: string;
  private shown = NaN;

  constructor(parent: Element, ids: Ids, r: number, outline: string) {
    this.step = Math.min(Math.max(r * 0.26, 3.6), 11);
    const id = ids("courses");
    this.url = `url(#${id})`;
    this.pattern = add(add(parent, "defs"), "pattern", { id, width: 40, height: this.step, patternUnits: "userSpaceOnUse" });
    this.course = add(this.pattern, "rect", { width: 40, height: this.step, class: "r-core" });
    this.core = add(parent, "path", { d: outline });
  }

  show(left: number): void {
    const thick = Math.round(left * this.step * 20) / 20;
    if (thick === this.shown) return;
    this.shown = thick;
    const full = thick >= this.step * 0.97;
    set(this.core, { class: full ? "r-core" : "r-ringing", fill: full || thick <= 0 ? undefined : this.url, visibility: thick <= 0 ? "hidden" : undefined });
    set(this.course, { height: thick });
    set(this.pattern, { y: -thick / 2 });
  }
}
