// The scale of the rail: where a pitch stands, in px from the left edge.
//
// A place is a pitch in cents above C of octave -1 in equal temperament on the session's reference, so that A4 is 6900
// and a key of MIDI number k stands near 100 k. Equal distance is equal cents.

/** A run of places laid over a width in px, with pad px free at both ends. */
export interface Scale {
  readonly lo: number;
  readonly hi: number;
  readonly width: number;
  readonly pad: number;
}

/** A run of places, before it is known how wide it is drawn. */
export interface Span {
  readonly lo: number;
  readonly hi: number;
}

/** Half of the natural stop "near": about three semitones round the aim. */
export const NEAR_HALF = 170;
/** How far the near stop reaches on to what is worth seeing beside the aim: a little over an octave. */
export const NEAR_REACH = 1500;
/** What the natural stop "whole" shows beyond the outermost notes. */
export const WHOLE_EDGE = 60;

/** The place of a frequency in Hz where A4 lies at reference Hz. */
export const placeOf = (hz: number, reference: number): number => 6900 + 1200 * Math.log2(hz / reference);

/** The frequency in Hz of a place. */
export const hzOf = (place: number, reference: number): number => reference * 2 ** ((place - 6900) / 1200);

/** Lays a span over width px. */
export function scaleOf(span: Span, width: number, pad = Math.max(40, width * 0.03)): Scale {
  return { lo: span.lo, hi: span.hi, width, pad: Math.min(pad, width / 4) };
}

/** Px a cent. */
export const perCent = (s: Scale): number => (s.width - 2 * s.pad) / (s.hi - s.lo);

/** The px at which a place stands. */
export const pxOf = (s: Scale, place: number): number => s.pad + (place - s.lo) * perCent(s);

/** The place that stands at a px. */
export const placeAt = (s: Scale, px: number): number => s.lo + (px - s.pad) / perCent(s);

/** The near stop round a centre; it reaches on to the places in also, as far as they are worth a closer look. */
export function near(centre: number, also: readonly number[] = []): Span {
  const reach = also.filter((p) => Math.abs(p - centre) <= NEAR_REACH);
  return {
    lo: Math.min(centre - NEAR_HALF, ...reach.map((p) => p - 60)),
    hi: Math.max(centre + NEAR_HALF, ...reach.map((p) => p + 60)),
  };
}

/** The whole stop: the instrument from its lowest to its highest place, and on to the places in also. */
export function whole(lowest: number, highest: number, also: readonly number[] = []): Span {
  return {
    lo: Math.min(lowest - WHOLE_EDGE, ...also.map((p) => p - WHOLE_EDGE)),
    hi: Math.max(highest + WHOLE_EDGE, ...also.map((p) => p + WHOLE_EDGE)),
  };
}

/**
 * The span at zoom z between two stops: 0 is near, 1 is whole. Its width grows by equal factors, so that one step of
 * a key feels the same everywhere; its ends move in step, so that what is aimed at never leaves the screen.
 */
export function between(a: Span, b: Span, z: number): Span {
  const wa = a.hi - a.lo;
  const wb = b.hi - b.lo;
  if (z <= 0 || wa <= 0) return a;
  if (z >= 1 || wb <= 0) return b;
  const w = wa * (wb / wa) ** z;
  const t = Math.abs(wb - wa) < 1e-9 ? z : (w - wa) / (wb - wa);
  const lo = a.lo + (b.lo - a.lo) * t;
  return { lo, hi: lo + w };
}

/** The zoom after a pinch that moved two fingers apart by factor, starting at zoom z. */
export function pinched(z: number, factor: number, a: Span, b: Span): number {
  const stops = Math.log((b.hi - b.lo) / (a.hi - a.lo));
  if (!(factor > 0) || !Number.isFinite(stops) || Math.abs(stops) < 1e-9) return z;
  return Math.min(1, Math.max(0, z - Math.log(factor) / stops));
}

/** The zoom a let-go pinch falls to: a natural stop if it is near one, else where it is. */
export const stopNear = (z: number): number => (z < 0.12 ? 0 : z > 0.88 ? 1 : z);
