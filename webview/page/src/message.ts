// The messages of the daemon, as package webview documents and sends them. The field names are those on the wire.
// testdata/wire holds one of each: Go must produce it, decode must read it.

import { bench } from "./benchmessage.ts";
import { bool, list, Malformed, maybe, num, object, str, word, type Reader } from "./wire.ts";

/** The schema this page speaks. */
export const SCHEMA = 1;

/** What a reader gives. */
type Of<R> = R extends Reader<infer T> ? T : never;

export const place = object({ note: str, midi: num, cents: num });
const edge = object({ note: str, cents: num });

const landing = object({
  instrument: str,
  note: str, // as it sounds
  written: maybe(str), // as written for the instrument, where that differs
  midi: num,
  cents: num, // above target_hz; negative is below
  aim: word("nearest", "note", "none"),
  target_hz: num,
  bend_cents: num,
  tolerance_cents: maybe(num),
  within: maybe(bool),
  inside: bool, // the note is one of the instrument's
  edge: maybe(edge), // where it is not: the instrument's nearest note, and how far above that
  nearest: maybe(place),
});

const pitch = object({
  frequency_hz: num,
  sigma_cents: maybe(num), // one standard deviation, without the input's clock
  basis: word("strike-note", "periodic", "partial"),
  partial: maybe(num), // index into partials
  likelihood: num,
});

export const partial = object({
  frequency_hz: num,
  sigma_cents: maybe(num),
  level_db: num, // at the onset, relative to the strongest
  t60_s: maybe(num),
  sigma_t60_s: maybe(num),
  beat_hz: maybe(num), // only where two near modes beat
  sigma_beat_hz: maybe(num),
  pair: maybe(num), // the two members of a near pair share one
  landing: maybe(place),
});

const verdict = object({
  answer: word("yes", "nearly", "not-wanted"),
  reason: word(
    "fits", "better", "fills", "unsure", "split", "second", "near", "reachable", "other-kind", "filled", "no-pitch", "nothing-wanted", "far",
  ),
  place: maybe(str), // id of the place it is about
  cents: maybe(num), // above that place
  sigma_cents: maybe(num), // of cents, the input's clock included
  tolerance_cents: maybe(num),
  beats: maybe(str), // id of the strike that fills the place and is worse
  guess: maybe(object({ means: str, likely: bool })), // what would bring it there, by its kind alone
  other: maybe(object({ frequency_hz: num, likelihood: num, place: maybe(str) })), // the second pitch
  words: str, // all that, in English
});

const candidate = object({ voice: str, object: str, label: str, share: num, shift_cents: num, matched: num });

const health = object({
  known: bool, // false: too few strikes to say
  suspect: bool,
  shift_cents: maybe(num),
  changes: list(object({ what: word("fell", "split", "shorter", "unlike"), frequency_hz: num, by: num })),
});

export const strike = object({
  id: str, // sorts by time
  revision: num,
  stage: word("early", "settled", "withdrawn", "final"),
  source: str,
  sample_rate_hz: num,
  time: maybe(str), // UTC
  used_s: num, // seconds of sound this telling rests on
  pitched: bool,
  heard: maybe(pitch),
  second: maybe(pitch),
  landing: maybe(landing),
  second_landing: maybe(landing),
  partials: list(partial), // by frequency
  remarks: list(object({ code: str, words: str })),
  roll: maybe(object({ strokes: num, rate_hz: maybe(num), sigma_rate_hz: maybe(num) })), // many strokes told as one
  glide: maybe(object({ sigma_cents: maybe(num), cents_per_s: num, from_landing: maybe(place), to_landing: maybe(place) })),
  wobble: maybe(object({ rate_hz: maybe(num), sigma_rate_hz: maybe(num), depth_cents: maybe(num), sigma_depth_cents: maybe(num) })),
  clock_ppm: num,
  rings_s: maybe(num),
  peak: num, // full scale 1
  name: maybe(str),
  sound: bool, // /api/strikes/ID.wav has it
  pinned: bool, // a player said which partial is heard
  recognised: maybe(object({ answer: word("known", "two", "new"), candidates: list(candidate) })), // held against the shelf
  kept: maybe(object({ voice: str, object: str, label: str, strike: str })), // as what it is on the shelf
  health: maybe(health),
  verdict: maybe(verdict), // held against the wanted list; null while that is empty
});

const note = object({ midi: num, label: str, written: maybe(str), targets_hz: list(num) });
const instrument = object({ name: str, reference_hz: num, transpose: num, notes: list(note) });

const state = object({
  code: word("opening", "hearing", "silent", "deaf", "ended", "unknown"),
  source: str,
  sample_rate_hz: maybe(num),
  words: str,
});

const level = object({ peak: num, rms: num, clipped: bool, lost: num, muted: bool, ringing: bool });
const room = object({ seconds: num, bands: list(object({ frequency_hz: num, level_db: num })) });

const session = object({
  revision: num,
  source: object({ choice: str, input: str }),
  kind: str, // what the player says is in the hand
  reference_hz: num,
  instrument: str,
  aim: bool, // false: the page only names
  target: maybe(num), // the MIDI note aimed at; null: whichever is nearest
  bend_cents: num,
  tolerance_cents: num, // 0: no word on what is near enough
  frozen: bool,
  frozen_id: maybe(str),
  purpose: object({ for: str }),
  tone: object({ on: bool, frequency_hz: maybe(num) }),
  muted: bool,
  notice: maybe(str),
});

const fill = object({
  strike: str, // its id
  frequency_hz: num,
  sigma_cents: maybe(num),
  cents: num, // above target_hz; negative is below
  kind: str, // what was said to be in the hand
  name: maybe(str),
  found: maybe(str), // UTC
  sound: bool, // /api/strikes/ID.wav has it
});

const wantedPlace = object({
  id: str,
  line: num, // of the text, from 1
  text: str, // that line
  name: str, // what it is called in a sentence
  note: maybe(str), // as it is spelt; null for a frequency
  midi: maybe(num),
  target_hz: num, // bent
  quarters: num, // quarter-tones beside the note
  bend_cents: num,
  tolerance_cents: num,
  kind: str, // unknown: any
  count: num,
  state: word("open", "filled", "ticked"),
  fills: list(fill),
});

const wanted = object({
  revision: num,
  text: str, // as it would be typed
  places: list(wantedPlace),
  errors: list(object({ line: num, column: num, length: num, words: str })), // lines that cannot be read
  undo: num, // how many changes can be taken back
  notice: maybe(str),
});

const shelf = object({
  revision: num,
  open: bool, // it can be read
  writable: bool,
  demo: bool, // invented things, to try it on
  notice: maybe(str), // why it cannot be written or read
  objects: num,
  voices: num,
  strikes: num,
  away: num, // what was put away and can be taken back
  instruments: list(str), // that were measured
  temperature_c: maybe(num),
  room: str,
  stand: maybe(object({ voice: str, object: str, label: str, kept: num })), // what every strike is kept as
  call_over: maybe(
    object({
      begun: str, // UTC
      of: num,
      present: num,
      suspect: num,
      missing: num,
      lines: list(
        object({
          object: str,
          name: str,
          answer: word("missing", "present", "suspect"),
          voice: maybe(str),
          strike: maybe(str),
          moved_cents: maybe(num),
          sigma_cents: maybe(num),
          temperature_c: maybe(num),
          words: str,
        }),
      ),
      strangers: num, // strikes of nothing in the group
      unsure: list(object({ strike: str, candidates: list(candidate) })), // somebody must say whose they are
    }),
  ),
  walk: maybe(
    object({
      name: str,
      like: str,
      prepared: bool,
      at: maybe(num), // the MIDI note at hand; null: all are done
      note: maybe(str),
      notice: maybe(str),
      measured: num,
      notes: list(object({ midi: num, note: str, targets_hz: list(num), cents: list(num), strikes: num, skipped: bool })),
    }),
  ),
});

const phone = object({
  id: str,
  name: str,
  sample_rate_hz: num,
  in_use: bool, // it is the ear
  processed: bool, // its browser may alter the sound
  words: str, // what is to be known about it; "" for nothing
});

const bodies = {
  hello: object({
    version: str,
    instruments: list(str),
    sources: list(str),
    kinds: list(str),
    session,
    instrument,
    state,
    strikes: list(strike), // newest last
    earlier: num,
    phones: list(phone), // browsers that lend their microphones
    wanted,
    shelf,
  }),
  session: object({ session }),
  instrument: object({ instrument }),
  strike: object({ strike }),
  trail: object({ strikes: list(strike), earlier: num }),
  gone: object({ id: str }),
  level: object({ level }),
  room: object({ room }),
  state: object({ state }),
  missed: object({ after: maybe(str), count: num }),
  wanted: object({ wanted }),
  shelf: object({ shelf }),
  phones: object({ phones: list(phone) }),
  bench: object({ bench }),
};

export type Place = Of<typeof place>;
export type Landing = Of<typeof landing>;
export type Pitch = Of<typeof pitch>;
export type Partial = Of<typeof partial>;
export type Strike = Of<typeof strike>;
export type Note = Of<typeof note>;
export type Instrument = Of<typeof instrument>;
export type EarState = Of<typeof state>;
export type Level = Of<typeof level>;
export type Room = Of<typeof room>;
export type Session = Of<typeof session>;
export type Verdict = Of<typeof verdict>;
export type WantedPlace = Of<typeof wantedPlace>;
export type Phone = Of<typeof phone>;
export type Wanted = Of<typeof wanted>;
export type Health = Of<typeof health>;
export type Shelf = Of<typeof shelf>;
export type Hello = Of<typeof bodies.hello>;

type Bodies = { [T in keyof typeof bodies]: { type: T } & Of<(typeof bodies)[T]> };

/** Any message this page understands. */
export type Message = Bodies[keyof Bodies];

/**
 * Reads one frame of the socket. Null: a type this page does not know, to be passed over. It throws Malformed, naming
 * the field, where the frame is not JSON, speaks another schema, or lacks what its type promises.
 */
export function decode(frame: string): Message | null {
  const { v, type, body } = open(frame);
  if (v !== SCHEMA) throw new Malformed(`v: got ${v}, wanted ${SCHEMA}: load the page anew`);
  if (!Object.hasOwn(bodies, type)) return null;
  const read = bodies[type as keyof typeof bodies];
  return { type, ...read(body, "") } as Message;
}

/** The answer to GET /api/strikes: all there is after a strike, up to and with until, the newest there has been. */
export interface Strikes {
  readonly until: string | null;
  readonly strikes: readonly Strike[];
}
export const decodeStrikes = (body: unknown): Strikes => object({ until: maybe(str), strikes: list(strike) })(body, "");

/** Reads the answer to a change of the session. */
export const decodeSession = (body: unknown): Session => session(body, "session");

const told = object({ id: str, in_use: bool, frames: num, missing: num, late: num, lost_samples: num, dropped: num, words: str });
/** What /ear tells a lender about once a second: what came, and what did not, of this connection. */
export type Told = Of<typeof told>;
export function decodeTold(frame: string): Told | null {
  const { v, type, body } = open(frame);
  return v === SCHEMA && type === "ear" ? told(body, "") : null;
}

const device = object({ id: str, name: str, paired: str, seen: str });
const share = object({ on: bool, urls: list(str), fingerprint: maybe(str), here: bool, device: maybe(device) });
const pairing = object({ url: str, expires: str });
export type Device = Of<typeof device>;
export type Share = Of<typeof share>;
export type Pairing = Of<typeof pairing>;
export const decodeShare = (body: unknown): Share => share(body, "");
export const decodeDevices = (body: unknown): Device[] => object({ devices: list(device) })(body, "").devices;
export const decodePairing = (body: unknown): Pairing => pairing(body, "");

/** Reads the answer to a change of the wanted list. */
export const decodeWanted = (body: unknown): Wanted => wanted(body, "wanted");

function open(frame: string): { v: number; type: string; body: unknown } {
  let body: unknown;
  try {
    body = JSON.parse(frame);
  } catch {
    throw new Malformed("a frame that is not JSON");
  }
  return { ...object({ v: num, type: str })(body, ""), body };
}
