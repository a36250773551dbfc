// The path at the bench: sounds as stones over the fill, the predicted curve with its band, the aim with its tolerance.

import { add, hatch, idsFor, textScale } from "./svg.ts";

export interface Curve {
  readonly holds: number; // ml
  readonly path: readonly { fill_ml: number; cents: number; low: number; high: number }[];
  readonly sounds: readonly { fill_ml: number; cents: number }[];
  readonly aimFill: { low: number; high: number } | null; // ml, where it will be
  readonly now: number; // ml in it
  readonly tolerance: number;
  readonly aim: string; // its name
  readonly ml: (n: string) => string;
}

/** A step for about n marks over a range: 1, 2 or 5 times a power of ten. */
export function niceStep(range: number, n: number): number {
  const raw = Math.max(range, 1e-9) / n;
  const ten = 10 ** Math.floor(Math.log10(raw));
  return (raw / ten < 1.5 ? 1 : raw / ten < 3.5 ? 2 : raw / ten < 7.5 ? 5 : 10) * ten;
}

/** The cents that must be seen: sounds and aim, and the curve as far as it stays near them. */
export function reach(c: Pick<Curve, "path" | "sounds" | "tolerance">): { lo: number; hi: number } {
  const all = [0, ...c.sounds.map((s) => s.cents), ...c.path.map((p) => p.cents)];
  const lo = Math.min(...all, -c.tolerance * 2);
  const hi = Math.max(...all, c.tolerance * 2);
  return { lo: lo - (hi - lo) * 0.06, hi: hi + (hi - lo) * 0.06 };
}

/** Draws it into svg, W by H px. */
export function drawCurve(svg: Element, c: Curve, W: number, H: number): void {
  svg.replaceChildren();
  if (W < 10 || H < 10) return;
  set(svg, W, H);
  const k = textScale();
  const size = 15 * k;
  const { lo, hi } = reach(c);
  const [left, right, top, foot] = [20, 20, 8, size * 1.7];
  const X = (ml: number) => left + (ml / c.holds) * (W - left - right);
  const Y = (cents: number) => top + ((hi - cents) / (hi - lo)) * (H - top - foot);
  const clamp = (cents: number) => Math.min(H - foot, Math.max(top, Y(cents)));
  const ids = idsFor("curve");

  if (c.path.length > 1) {
    const upper = c.path.map((p) => `${X(p.fill_ml).toFixed(1)},${clamp(p.high).toFixed(1)}`);
    const lower = c.path.map((p) => `${X(p.fill_ml).toFixed(1)},${clamp(p.low).toFixed(1)}`).reverse();
    add(svg, "polygon", { points: [...upper, ...lower].join(" "), class: "c-band" });
    add(svg, "polyline", { points: c.path.map((p) => `${X(p.fill_ml).toFixed(1)},${clamp(p.cents).toFixed(1)}`).join(" "), class: "c-line" });
  }
  const strip = Math.max(6, Y(-c.tolerance) - Y(c.tolerance));
  add(svg, "rect", { x: left, y: Y(0) - strip / 2, width: W - left - right, height: strip, fill: hatch(svg, ids, "r-tol", 9, 45), class: "c-tol" });
  add(svg, "line", { x1: left, x2: W - right, y1: Y(0), y2: Y(0), class: "r-aim", "stroke-width": 2 });
  if (c.aimFill) {
    const [a, b] = [X(Math.max(0, c.aimFill.low)), X(Math.min(c.holds, c.aimFill.high))];
    add(svg, "line", { x1: a, x2: Math.max(b, a + 3), y1: Y(0), y2: Y(0), class: "r-aim", "stroke-width": 9 });
  }
  add(svg, "line", { x1: left, x2: W - right, y1: H - foot, y2: H - foot, class: "r-thin" });
  const step = niceStep(c.holds, Math.max(2, Math.min(8, W / (110 * k))));
  for (let ml = 0; ml <= c.holds * 1.001; ml += step) {
    add(svg, "line", { x1: X(ml), x2: X(ml), y1: H - foot, y2: H - foot + 6, class: "r-thin" });
    const last = ml + step > c.holds * 1.001;
    add(svg, "text", { x: X(ml), y: H - 3, class: "r-note", "font-size": size, "text-anchor": ml === 0 ? "start" : last && X(ml) > W - 60 ? "end" : "middle" }, last ? c.ml(String(Math.round(ml))) : String(Math.round(ml)));
  }
  add(svg, "line", { x1: X(c.now), x2: X(c.now), y1: top, y2: H - foot, class: "c-now" });
  const nameRight = c.aimFill ? c.aimFill.high < c.holds * 0.7 : true;
  add(svg, "text", { x: nameRight ? W - right : left, y: Y(0) - strip / 2 - 6, class: "r-name aim halo", "font-size": size * 1.25, "text-anchor": nameRight ? "end" : "start" }, c.aim);
  for (const [i, s] of c.sounds.entries()) {
    const last = i === c.sounds.length - 1;
    add(svg, "circle", { cx: X(s.fill_ml), cy: clamp(s.cents), r: last ? 9 : 6, class: last ? "c-last" : "c-sound" });
    add(svg, "text", { x: X(s.fill_ml) + (X(s.fill_ml) > W - 60 ? -14 : 14), y: clamp(s.cents) + (clamp(s.cents) < 30 ? size : -6), class: "r-note halo", "font-size": size, "text-anchor": X(s.fill_ml) > W - 60 ? "end" : "start" }, String(i + 1));
  }
}

function set(svg: Element, W: number, H: number): void {
  svg.setAttribute("viewBox", `0 0 ${W} ${H}`);
}
