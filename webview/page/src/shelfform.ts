// What the shelf answers over HTTP, as package webview documents it.

import { partial, place, strike } from "./message.ts";
import { bool, list, maybe, num, object, str, word, type Reader } from "./wire.ts";

type Of<R> = R extends Reader<infer T> ? T : never;

export const STATES = ["whole", "suspect", "cracked", "broken", "lent", "lost"] as const;
const state = word(...STATES, "unknown");

const voice = object({
  id: str,
  object: str, // the next six are its object's
  object_name: str,
  kind: str,
  material: str,
  state,
  kept_at: str,
  label: str, // "jar 7, rim"
  place: str,
  beater: str,
  support: str,
  fill: str,
  pinned_hz: maybe(num), // the pitch the player hears in it
  strikes: num,
  pitch_hz: maybe(num),
  spread_cents: maybe(num), // one standard deviation of a single strike
  ring_s: maybe(num),
  level_db: maybe(num),
  landing: maybe(place),
  off_cents: maybe(num), // above what was looked for
});

/** The sizes of an object, as fields of its card. */
export const SIZES = ["length_mm", "width_mm", "height_mm", "diameter_mm", "thickness_mm", "mass_g"] as const;

const thing = object({
  id: str,
  name: str,
  kind: str,
  material: str,
  length_mm: maybe(num),
  width_mm: maybe(num),
  height_mm: maybe(num),
  diameter_mm: maybe(num),
  thickness_mm: maybe(num),
  mass_g: maybe(num),
  kept_at: str,
  found_at: str,
  found_on: str, // as precise as it is known: a year, a month or a day
  notes: str,
  photo: maybe(str), // path
  state,
  states: list(object({ state, since: str, note: str })), // oldest first
  put_away: maybe(str),
  voices: list(voice),
});

const kept: Reader<Of<typeof strike> & Of<typeof keptMore>> = (v, at) => ({ ...strike(v, at), ...keptMore(v, at) });
const keptMore = object({ voice: str, temperature_c: maybe(num), room: str, input: str, note: str, put_away: maybe(str), recording: str });

const delta = object({ by: num, low: num, high: num, significant: bool });
const side = object({ strike: str, label: str, time: maybe(str), temperature_c: maybe(num), gain_db: maybe(num), sound: maybe(str) });
const pair = object({ a: maybe(partial), b: maybe(partial), cents: maybe(delta), level_db: maybe(delta), ring_factor: maybe(delta) });
const comparison = object({
  a: side,
  b: side,
  partials: list(pair),
  spectra: maybe(object({ frequency_hz: list(num), a_db: list(num), b_db: list(num) })),
  decay: maybe(object({ time_s: list(num), a_db: list(num), b_db: list(num) })),
});

const beating = object({ a: voice, b: voice, beat_hz: num, sigma_hz: maybe(num) });

const away = object({ objects: list(thing), voices: list(voice), strikes: list(kept) });

export type Voice = Of<typeof voice>;
export type Thing = Of<typeof thing>;
export type Kept = Of<typeof kept>;
export type Delta = Of<typeof delta>;
export type Pair = Of<typeof pair>;
export type Comparison = Of<typeof comparison>;
export type Beating = Of<typeof beating>;
export type Away = Of<typeof away>;

export const decodeVoices = (body: unknown): Voice[] => object({ voices: list(voice) })(body, "").voices;
export const decodeThing = (body: unknown): Thing => thing(body, "");
export const decodeKepts = (body: unknown): Kept[] => object({ strikes: list(kept) })(body, "").strikes;
export const decodeComparison = (body: unknown): Comparison => comparison(body, "");
export const decodeAway = (body: unknown): Away => away(body, "");
export const decodePairs = (body: unknown): Beating[] => object({ pairs: list(beating) })(body, "").pairs;
export const decodeAlike = (body: unknown): { voice: Voice; distance: number }[] => object({ alike: list(object({ voice, distance: num })) })(body, "").alike;
