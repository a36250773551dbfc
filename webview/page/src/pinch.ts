// Two fingers on the rail, or a trackpad's pinch, change the zoom; let go near a natural stop, it falls there.

import { pinched, stopNear, type Span } from "./scale.ts";

/** What a pinch reads and changes. */
export interface Zoomed {
  zoom(): number;
  stops(): [Span, Span];
  to(zoom: number): void;
}

export function pinches(rail: SVGSVGElement, z: Zoomed): void {
  const fingers = new Map<number, number>(); // x of each
  let apart = 0;
  let from = 0;
  const distance = () => {
    const [a, b] = [...fingers.values()];
    return a === undefined || b === undefined ? 0 : Math.max(20, Math.abs(a - b));
  };
  rail.addEventListener("pointerdown", (e) => {
    if (e.pointerType !== "touch") return;
    fingers.set(e.pointerId, e.clientX);
    if (fingers.size === 2) [apart, from] = [distance(), z.zoom()];
  });
  rail.addEventListener("pointermove", (e) => {
    if (!fingers.has(e.pointerId)) return;
    fingers.set(e.pointerId, e.clientX);
    if (fingers.size === 2 && apart > 0) z.to(pinched(from, distance() / apart, ...z.stops()));
  });
  const lift = (e: PointerEvent) => {
    if (fingers.delete(e.pointerId) && fingers.size === 1) z.to(stopNear(z.zoom()));
  };
  rail.addEventListener("pointerup", lift);
  rail.addEventListener("pointercancel", lift);
  let settle = 0;
  rail.addEventListener(
    "wheel",
    (e) => {
      if (!e.ctrlKey) return; // how browsers tell a trackpad's pinch
      e.preventDefault();
      z.to(pinched(z.zoom(), Math.exp(-e.deltaY / 100), ...z.stops()));
      clearTimeout(settle);
      settle = setTimeout(() => z.to(stopNear(z.zoom())), 200);
    },
    { passive: false },
  );
}
