// The ground a rail is drawn on: what lies where, in px. Pure.

import { perCent, pxOf, scaleOf, type Scale, type Span } from "../scale.ts";

export interface Ground {
  readonly W: number;
  readonly H: number;
  readonly scale: Scale;
  readonly near: boolean; // wide enough apart that every post is named in full
  readonly y: number; // the line
  readonly R: number; // radius of the loudest stone
  readonly natural: number; // height of the posts
  readonly accidental: number;
  readonly nameSize: number;
  readonly under: number; // depth of the strip under the line that tells the tolerance
  readonly text: number; // scale of text
  readonly X: (place: number) => number;
  readonly px: number; // a cent
}

/** Lays out a rail of W by H px that shows span, with text times its usual size. */
export function groundOf(span: Span, W: number, H: number, text: number): Ground {
  const near = span.hi - span.lo < 1300;
  const scale = scaleOf(span, W);
  const px = perCent(scale);
  const closeUp = Math.min(1, (px * 100) / 90); // posts nearer than 90 px leave less room for a name
  const nameSize = Math.min(Math.max(15, Math.min(H * 0.1, W * 0.035)), near ? 18 + 16 * closeUp : 22) * text;
  const under = Math.max(14, H * 0.065);
  const y = Math.round(H - nameSize * 1.55 - under - 6);
  return {
    W, H, scale, near, y, nameSize, under, text, px,
    R: Math.min(y * (near ? 0.15 : 0.105), W * (near ? 0.075 : 0.032)),
    natural: y * 0.84, accidental: y * 0.47,
    X: (place) => pxOf(scale, place),
  };
}

/** The radius of a stone of a loudness, never too small to see. */
export const radius = (R: number, loud: number): number => Math.max(R * Math.sqrt(loud), 4.5);
