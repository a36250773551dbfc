// What the rail shows, worked out from what is known: pure, in places and words, before anything is drawn.

import type { Instrument, Landing, Partial, Pitch, Strike } from "./message.ts";
import { against, distance } from "./number.ts";
import { between, near, placeOf, whole, type Span } from "./scale.ts";
import { noteName, type Tongue } from "./tongue/tongue.ts";
import { beatsOf } from "./words.ts";

/** A note of the instrument at one of its places. */
export interface Post {
  readonly at: number;
  readonly name: string; // "B♭4"
  readonly letter: string; // "B♭"
  readonly natural: boolean;
  readonly c: boolean; // a C, by which octaves are counted
  readonly end: boolean; // the instrument's lowest or highest
  readonly aimed: boolean;
  readonly flagged?: boolean; // a flag stands at it or beside it
}

/** A partial, lying at its place. */
export interface Stone {
  readonly key: string; // the same stone in the next telling of the same strike
  readonly at: number;
  readonly loud: number; // 0..1 of the loudest: its area
  readonly sigma: number | null; // half width of its foot, cents
  readonly t60: number | null; // seconds until it has rung out
  readonly role: "heard" | "second" | "plain" | "wanting";
  readonly hollow: boolean; // no partial lies there: a strike note, or only an example
  readonly pair: { readonly at: number; readonly side: -1 | 1; readonly beat: number } | null;
  readonly say: string | null;
}

/** A line from a post, or a bent place, to a stone. */
export interface Tether {
  readonly from: number;
  readonly short: boolean; // from an accidental's post, which is lower
  readonly stone: string;
  readonly at: number; // the place itself: of a beating pair it lies between its two stones
  readonly tell: string;
  readonly dashed: boolean;
}

/** Where one aims. */
export interface AimMark {
  readonly post: number;
  readonly at: number; // the bent place
  readonly bend: number;
  readonly tolerance: number;
}

/** A wanted place. */
export interface Flag extends AimMark {
  readonly found: boolean;
  readonly name: string;
}

export interface Picture {
  readonly span: Span;
  readonly posts: readonly Post[];
  readonly aim: AimMark | null;
  readonly flags?: readonly Flag[];
  readonly stones: readonly Stone[];
  readonly tethers: readonly Tether[];
  readonly deaf: boolean;
  readonly lower: string; // what lies off the left edge, in words; "" for nothing
  readonly higher: string;
}

export interface Scene {
  readonly strike: Strike | null;
  readonly instrument: Instrument | null;
  readonly aims: boolean; // the session has an aim
  readonly target: number | null; // MIDI
  readonly bend: number;
  readonly tolerance: number;
  readonly zoom: number; // 0 near .. 1 whole
  readonly deaf: boolean;
  readonly example: boolean; // nothing has been struck yet: show what will be here
}

/** The reference of a rail without an instrument: any will do, since nothing stands on it. */
const NO_REFERENCE = 440;

/** A place less certain than this is not tied to a post, in cents: its distance would be shown in tens at best. */
const UNTIED = 7;

/** Loudness for a level: ten decibels less are half as loud (Stevens' rule, from memory, unchecked). */
export const loudness = (db: number): number => Math.min(1, Math.max(0.02, 2 ** (db / 10)));

export function pictureOf(t: Tongue, s: Scene): Picture {
  const ref = s.instrument?.reference_hz ?? NO_REFERENCE;
  const l = s.strike?.landing ?? null;
  const aim = aimOf(s, l, ref);
  const stones = s.deaf ? [] : s.strike ? stonesOf(t, s.strike, ref) : s.example ? [example(s, aim, ref)] : [];
  const heard = stones.find((k) => k.role === "heard" || k.role === "wanting");
  const second = stones.find((k) => k.role === "second");
  const centre = aim?.post ?? (l ? placeOf(l.target_hz, ref) - l.bend_cents : middle(s, ref));
  const posts = postsOf(t, s.instrument, aim ? aim.post : null, ref);
  const also = heard ? [heard.at] : [];
  const ends = [posts[0]?.at ?? 5300, posts[posts.length - 1]?.at ?? 8900] as const;
  const beyond = l !== null && !l.inside && l.aim !== "note" && heard !== undefined;
  const span = between(near(beyond ? nearestEnd(heard.at, ends) : centre, also), whole(ends[0], ends[1], also), s.zoom);
  const off = (side: (k: Stone) => boolean) => stones.filter(side).length;
  const lower = off((k) => k.at < span.lo);
  const higher = off((k) => k.at > span.hi);
  return {
    span, posts, aim, stones, deaf: s.deaf,
    tethers: s.deaf ? [] : [...tethersOf(t, s, heard, aim, ends, ref), ...secondTether(t, s.strike, second, s.aims)],
    lower: lower ? t.stonesLower(lower) : "",
    higher: higher ? t.stonesHigher(higher) : "",
  };
}

const natural = (midi: number): boolean => [0, 2, 4, 5, 7, 9, 11].includes(midi % 12);

const nearestEnd = (at: number, [lo, hi]: readonly [number, number]): number => (at > hi ? hi : at < lo ? lo : at);

/** Where the rail stands while nothing says otherwise: A4 if the instrument has it, else its middle. */
function middle(s: Scene, ref: number): number {
  const notes = s.instrument?.notes ?? [];
  const pick = notes.find((n) => n.midi === (s.target ?? 69)) ?? notes[notes.length >> 1];
  const hz = pick?.targets_hz[0];
  return hz ? placeOf(hz, ref) : 6900;
}

function aimOf(s: Scene, l: Landing | null, ref: number): AimMark | null {
  if (!s.aims) return null;
  if (l && l.aim !== "none") {
    const at = placeOf(l.target_hz, ref);
    return l.inside || l.aim === "note" ? { at, post: at - l.bend_cents, bend: l.bend_cents, tolerance: l.tolerance_cents ?? 0 } : null;
  }
  if (s.target === null) return null;
  const hz = s.instrument?.notes.find((n) => n.midi === s.target)?.targets_hz[0];
  const post = hz ? placeOf(hz, ref) : s.target * 100;
  return { post, at: post + s.bend, bend: s.bend, tolerance: s.tolerance };
}

function postsOf(t: Tongue, inst: Instrument | null, aimed: number | null, ref: number): Post[] {
  const notes = (inst?.notes ?? []).filter((n) => n.targets_hz.length > 0);
  return notes.flatMap((n, i) =>
    n.targets_hz.map((hz) => {
      const at = placeOf(hz, ref);
      return {
        at, name: noteName(t, "written", n.midi, n.label), letter: noteName(t, "letter", n.midi, n.label),
        natural: natural(n.midi), c: n.midi % 12 === 0, end: i === 0 || i === notes.length - 1,
        aimed: aimed !== null && Math.abs(at - aimed) < 0.5,
      };
    }),
  );
}

function stonesOf(t: Tongue, s: Strike, ref: number): Stone[] {
  const seen = new Set<number>();
  const [heard, second] = [restsOn(s, s.heard), restsOn(s, s.second)];
  const stones = s.partials.map((p, i): Stone => {
    const first = p.pair === null || !seen.has(p.pair);
    if (p.pair !== null) seen.add(p.pair);
    return {
      key: `${s.id}.${i}`, at: placeOf(p.frequency_hz, ref), loud: loudness(p.level_db), sigma: p.sigma_cents, t60: p.t60_s,
      role: i === heard ? "heard" : i === second ? "second" : "plain",
      hollow: false, pair: pairOf(s, p, i, ref), say: first ? beatsOf(t, p) : null,
    };
  });
  for (const [role, pitch, on] of [["heard", s.heard, heard], ["second", s.second, second]] as const)
    if (pitch && on === null)
      stones.push({
        key: `${s.id}.${role}`, at: placeOf(pitch.frequency_hz, ref), loud: 0.5, sigma: pitch.sigma_cents, t60: s.rings_s,
        role, hollow: pitch.basis === "strike-note", pair: null, say: null,
      });
  return stones;
}

/** The partial a pitch rests on: the one it names, or the one a steady sound's pitch all but coincides with. */
function restsOn(s: Strike, p: Pitch | null): number | null {
  if (!p) return null;
  if (p.partial !== null && s.partials[p.partial]) return p.partial;
  if (p.basis !== "periodic") return null;
  const i = s.partials.findIndex((q) => Math.abs(1200 * Math.log2(q.frequency_hz / p.frequency_hz)) < SAME);
  return i < 0 ? null : i;
}

/** A steady sound's pitch and its lowest partial are one stone if they lie nearer than this, in cents. */
const SAME = 10;

function pairOf(s: Strike, p: Partial, i: number, ref: number): Stone["pair"] {
  const mate = p.pair === null ? -1 : s.partials.findIndex((q, k) => k !== i && q.pair === p.pair);
  if (mate < 0 || !p.beat_hz) return null;
  const other = s.partials[mate]!;
  const mean = (placeOf(p.frequency_hz, ref) + placeOf(other.frequency_hz, ref)) / 2;
  return { at: mean, side: p.frequency_hz < other.frequency_hz || (p.frequency_hz === other.frequency_hz && i < mate) ? -1 : 1, beat: p.beat_hz };
}

function example(s: Scene, aim: AimMark | null, ref: number): Stone {
  return { key: "example", at: (aim?.at ?? middle(s, ref)) + 34, loud: 1, sigma: null, t60: null, role: "wanting", hollow: true, pair: null, say: null };
}

function tethersOf(t: Tongue, s: Scene, heard: Stone | undefined, aim: AimMark | null, ends: readonly [number, number], ref: number): Tether[] {
  if (!heard) return [];
  if (heard.role === "wanting") return [{ from: aim?.at ?? middle(s, ref), short: false, stone: heard.key, at: heard.at, tell: t.howFar, dashed: true }];
  const l = s.strike?.landing;
  if (!l || !s.aims) return [];
  const known = against(s.strike!.heard!.sigma_cents, s.strike!.clock_ppm);
  const sigma = known !== null && s.strike!.stage === "early" ? Math.max(known, 1) : known; // as in the answer
  const from = l.inside || l.aim === "note" ? (aim?.at ?? placeOf(l.target_hz, ref)) : nearestEnd(heard.at, ends);
  if (sigma === null || sigma >= UNTIED) return [];
  const at = placeOf(s.strike!.heard!.frequency_hz, ref);
  const far = Math.abs(at - from);
  const tell = far > 150 ? t.semitones(String(Math.round(far / 100))) : `${distance(far, sigma, t.mark)} c`;
  return [{ from, short: aim !== null && !aim.bend && !natural(l.midi), stone: heard.key, at, tell, dashed: false }];
}

function secondTether(t: Tongue, s: Strike | null, second: Stone | undefined, aims: boolean): Tether[] {
  const p = s?.second_landing?.nearest;
  if (!second || !p || !aims || !s?.second_landing?.inside) return [];
  const sigma = against(s.second!.sigma_cents, s.clock_ppm);
  return [{ from: second.at - p.cents, short: !natural(p.midi), stone: second.key, at: second.at, tell: `${distance(p.cents, sigma, t.mark)} c`, dashed: true }];
}
