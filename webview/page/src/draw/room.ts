// The background of the room, in third-octave bands: a low wall along the same line of pitch.

import type { Room } from "../message.ts";
import { add } from "./svg.ts";

/** How many dB the height of the drawing stands for. */
const RANGE = 60;

/** Draws the bands into svg, W by H px, against the strongest. */
export function drawRoom(svg: Element, room: Room, W: number, H: number): void {
  svg.replaceChildren();
  add(svg, "line", { x1: 0, x2: W, y1: H - 1, y2: H - 1, class: "r-thin" });
  const top = Math.max(...room.bands.map((b) => b.level_db));
  const step = W / Math.max(1, room.bands.length);
  for (const [i, b] of room.bands.entries()) {
    const h = Math.max(1, (1 - (top - b.level_db) / RANGE) * (H - 4));
    add(svg, "rect", { x: i * step + 1, y: H - 1 - h, width: Math.max(1, step - 2), height: h, class: "r-core" });
  }
}
