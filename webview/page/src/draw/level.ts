// The level is one stone on a short rail: its area is how loud the ear hears it.

import { lean, pebble } from "./pebble.ts";
import { add } from "./svg.ts";

/** The steps of size that are drawn, so that the strip changes only when the eye could see it. */
export const STEPS = 12;

/** The step for a root mean square, full scale 1: silence 0, from -60 dB up in equal steps. */
export function levelStep(rms: number): number {
  if (!(rms > 0)) return 0;
  return Math.min(STEPS, Math.max(0, Math.round((1 + (20 * Math.log10(rms)) / 60) * STEPS)));
}

/** Draws a step into svg, 28 by 19 px. */
export function drawLevel(svg: Element, step: number): void {
  svg.replaceChildren();
  add(svg, "line", { x1: 0, x2: 28, y1: 18, y2: 18, class: "r-thin" });
  if (step > 0) add(add(svg, "g", { transform: "translate(14 18)" }), "path", { d: pebble(11 * Math.sqrt(step / STEPS), 0, lean("level")), class: "r-core" });
}
