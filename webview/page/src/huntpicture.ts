// What the rail and the rows of Wanted show: flags where something is wanted, and stones where something lies. Pure.

import { atHand, fullName } from "./hunt.ts";
import type { Strike, Wanted, WantedPlace } from "./message.ts";
import { distance } from "./number.ts";
import { pictureOf, type AimMark, type Flag, type Picture, type Scene, type Stone } from "./picture.ts";
import { between, near, placeOf, whole, type Span } from "./scale.ts";
import type { State } from "./state.ts";
import { noteName, type Tongue } from "./tongue/tongue.ts";

/** How far a row reaches to each side of its place, in cents. */
export const ROW_HALF = 150;
/** A stone further away than this is not tied to its place. */
const TIED = 170;

const REFERENCE = 440;

/** Where a place lies on the rail, and its post. */
export function markOf(p: WantedPlace, reference: number): AimMark {
  const at = placeOf(p.target_hz, reference);
  return { at, post: at - p.bend_cents - 50 * p.quarters, bend: p.bend_cents + 50 * p.quarters, tolerance: p.tolerance_cents };
}

export function huntPictureOf(t: Tongue, s: State, scene: Scene, open: string | null): Picture {
  const reference = scene.instrument?.reference_hz ?? REFERENCE;
  const base = pictureOf(t, { ...scene, aims: false, example: false });
  const flags = (s.wanted?.places ?? []).map((p): Flag => ({ ...markOf(p, reference), found: p.state !== "open", name: p.note && p.midi !== null ? noteName(t, "written", p.midi, p.note) : fullName(t, p) }));
  const place = atHand(s, open);
  const aim = place ? markOf(place, reference) : null;
  const heard = base.stones.find((k) => k.role === "heard");
  const also = heard ? [heard.at] : [];
  const ends = base.posts.length ? [base.posts[0]!.at, base.posts[base.posts.length - 1]!.at] : [5300, 8900];
  const centre = aim?.post ?? heard?.at ?? flags[0]?.post ?? 6900;
  const span = between(near(centre, also), whole(ends[0]!, ends[1]!, [...also, ...flags.map((f) => f.at)]), scene.zoom);
  const posts = base.posts.map((p) => ({ ...p, aimed: false, flagged: flags.some((f) => Math.abs(f.post - p.at) < 0.5) }));
  return { ...base, span, posts, flags, aim: null, tethers: tie(t, scene.strike, place, aim, heard), ...edges(t, base, span) };
}

/** The stone is tied to the place it is for, where that is near and known. */
function tie(t: Tongue, k: Strike | null, place: WantedPlace | null, aim: AimMark | null, heard: Stone | undefined): Picture["tethers"] {
  if (!k || !place || !aim || !heard || k.verdict?.place !== place.id) return [];
  const sigma = k.verdict.sigma_cents;
  const cents = heard.at - aim.at;
  if (Math.abs(cents) > TIED || sigma === null || sigma >= 7) return [];
  return [{ from: aim.at, short: false, stone: heard.key, at: heard.at, tell: `${distance(cents, k.stage === "early" ? Math.max(sigma, 1) : sigma, t.mark)} c`, dashed: false }];
}

function edges(t: Tongue, p: Picture, span: Span): Pick<Picture, "lower" | "higher"> {
  const lower = p.stones.filter((k) => k.at < span.lo).length;
  const higher = p.stones.filter((k) => k.at > span.hi).length;
  return { lower: lower ? t.stonesLower(lower) : "", higher: higher ? t.stonesHigher(higher) : "" };
}

/** What the row of a place shows: what fills it solid, the nearest other strike as an outline. */
export function huntRowOf(p: WantedPlace, reference: number, other: Strike | null): { stones: Stone[]; picture: Pick<Picture, "span" | "aim"> } {
  const aim = markOf(p, reference);
  const stone = (key: string, at: number, sigma: number | null, solid: boolean): Stone => ({ key, at, loud: solid ? 1 : 0.7, sigma, t60: null, role: solid ? "heard" : "plain", hollow: !solid, pair: null, say: null });
  const fills = p.fills.map((f) => stone(f.strike, aim.at + f.cents, f.sigma_cents, true));
  const beside = other?.heard ? [stone(other.id, placeOf(other.heard.frequency_hz, reference), other.heard.sigma_cents, false)] : [];
  return { stones: [...beside, ...fills], picture: { span: { lo: aim.at - ROW_HALF, hi: aim.at + ROW_HALF }, aim } };
}

/** The strike that lies nearest to a place of all that fill none, no further than a row reaches. */
export function nearestTo(p: WantedPlace, w: Wanted, strikes: readonly Strike[]): { strike: Strike; cents: number } | null {
  const taken = new Set(w.places.flatMap((q) => q.fills.map((f) => f.strike)));
  let best: { strike: Strike; cents: number } | null = null;
  for (const strike of strikes) {
    if (!strike.heard || taken.has(strike.id) || strike.stage === "early") continue;
    const cents = 1200 * Math.log2(strike.heard.frequency_hz / p.target_hz);
    if (Math.abs(cents) <= ROW_HALF && (!best || Math.abs(cents) < Math.abs(best.cents))) best = { strike, cents };
  }
  return best;
}
