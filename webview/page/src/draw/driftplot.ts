// Pitch against temperature: readings as stones, those that lie apart in dashes, the fitted line and its band.

import type { DriftVoice } from "../benchmessage.ts";
import { niceStep } from "./curve.ts";
import { add, textScale } from "./svg.ts";

/** Where the readings lie in cents above the line's mean pitch, and what the line says over a run of temperatures. */
export function driftCurve(v: DriftVoice): { readings: { c: number; cents: number; off: boolean }[]; lo: number; hi: number; at(c: number): { cents: number; low: number; high: number } } {
  const line = v.line;
  const base = line?.pitch_hz ?? v.readings[0]?.hz ?? 440;
  const off = new Set(line?.outliers ?? []);
  const readings = v.readings.map((r, i) => ({ c: r.celsius, cents: 1200 * Math.log2(r.hz / base), off: off.has(i) }));
  const stage = line?.stage ? [line.stage.here_celsius, line.stage.there_celsius] : [];
  const all = [...readings.map((r) => r.c), ...stage];
  const [a, b] = all.length ? [Math.min(...all), Math.max(...all)] : [20, 20];
  const room = Math.max(0.5, (b - a) * 0.06);
  const mean = line ? line.scatter_cents / Math.sqrt(Math.max(1, line.readings)) : 0;
  return {
    readings, lo: a - room, hi: b + room,
    at: (c) => {
      if (!line) return { cents: 0, low: 0, high: 0 };
      const d = c - line.at_celsius;
      const s = line.cents_per_degree;
      const half = Math.hypot(1.96 * mean, ((s.high - s.low) / 2) * d);
      return { cents: s.value * d, low: s.value * d - half, high: s.value * d + half };
    },
  };
}

export function drawDrift(svg: Element, v: DriftVoice, unit: (n: string) => string, W: number, H: number): void {
  svg.replaceChildren();
  if (W < 10 || H < 10) return;
  svg.setAttribute("viewBox", `0 0 ${W} ${H}`);
  const size = 15 * textScale();
  const { readings, lo, hi, at } = driftCurve(v);
  const steps = Array.from({ length: 41 }, (_, i) => lo + ((hi - lo) * i) / 40);
  const ends = [...readings.map((r) => r.cents), ...steps.map((c) => at(c).cents), 1, -1];
  const room = (Math.max(...ends) - Math.min(...ends)) * 0.4; // for the band; a wider one runs off the picture
  const band = v.line ? steps.flatMap((c) => [at(c).low, at(c).high]) : [0];
  const y0 = Math.max(Math.min(...ends, ...band), Math.min(...ends) - room);
  const y1 = Math.min(Math.max(...ends, ...band), Math.max(...ends) + room);
  const [left, right, top, foot] = [size * 3.4, 20, 12, size * 1.8];
  const X = (c: number) => left + ((c - lo) / (hi - lo)) * (W - left - right);
  const Y = (cents: number) => top + ((y1 - Math.min(y1, Math.max(y0, cents))) / (y1 - y0)) * (H - top - foot);
  const point = (c: number, cents: number) => `${X(c).toFixed(1)},${Y(cents).toFixed(1)}`;
  if (v.line) {
    add(svg, "polygon", { points: [...steps.map((c) => point(c, at(c).high)), ...steps.map((c) => point(c, at(c).low)).reverse()].join(" "), class: "c-band" });
    add(svg, "polyline", { points: steps.map((c) => point(c, at(c).cents)).join(" "), class: "c-line" });
  }
  add(svg, "line", { x1: left, x2: W - right, y1: H - foot, y2: H - foot, class: "r-thin" });
  const dx = niceStep(hi - lo, Math.max(2, W / 130));
  for (let c = Math.ceil(lo / dx) * dx; c <= hi; c += dx) {
    add(svg, "line", { x1: X(c), x2: X(c), y1: H - foot, y2: H - foot + 6, class: "r-thin" });
    add(svg, "text", { x: X(c), y: H - 3, class: "r-note", "font-size": size, "text-anchor": "middle" }, c + dx > hi ? unit(String(Math.round(c * 10) / 10)) : String(Math.round(c * 10) / 10));
  }
  const dy = niceStep(y1 - y0, 4);
  for (let y = Math.ceil(y0 / dy) * dy; y <= y1; y += dy) {
    const n = Math.round(y * 10) / 10;
    add(svg, "text", { x: left - 8, y: Y(y) + size / 3, class: "r-note", "font-size": size, "text-anchor": "end" }, `${n > 0 ? "+" : n < 0 ? "−" : ""}${Math.abs(n)} c`);
  }
  const stage = v.line?.stage;
  if (stage) add(svg, "line", { x1: X(stage.there_celsius), x2: X(stage.there_celsius), y1: top, y2: H - foot, class: "c-now" });
  for (const r of readings) add(svg, "circle", { cx: X(r.c), cy: Y(r.cents), r: 6, class: r.off ? "c-off" : "c-sound" });
}
