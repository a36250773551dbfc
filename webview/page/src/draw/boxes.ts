// Where words may stand without lying over stones or other words. Pure.

/** A rectangle in px, y downwards. */
export interface Box {
  readonly x: number;
  readonly y: number;
  readonly w: number;
  readonly h: number;
}

/** What has been taken of a drawing W px wide. */
export class Boxes {
  private readonly taken: Box[] = [];

  constructor(private readonly W: number) {}

  take(b: Box): void {
    this.taken.push(b);
  }

  /** Whether a box lies within the drawing and over nothing that has been taken. */
  free(b: Box): boolean {
    return b.x >= 0 && b.x + b.w <= this.W && b.y >= 0 && !this.taken.some((t) => t.x < b.x + b.w && b.x < t.x + t.w && t.y < b.y + b.h && b.y < t.y + t.h);
  }
}

/** About the box of a line of text of a size whose foot stands at (x, y). */
export function textBox(text: string, size: number, x: number, y: number, anchor: "start" | "middle" | "end"): Box {
  const w = text.length * size * 0.5;
  return { x: anchor === "start" ? x : anchor === "end" ? x - w : x - w / 2, y: y - size * 0.8, w, h: size };
}
