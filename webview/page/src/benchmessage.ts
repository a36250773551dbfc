// The forms of the bench: its job and advice, its rows and its drift, as package webview documents and sends them.
// testdata/wire/bench holds one of each: Go must produce it, these must read it.

import { bool, list, maybe, num, object, str, word, type Reader } from "./wire.ts";

type Of<R> = R extends Reader<infer T> ? T : never;

const way = word("struck", "blown");
const interval = object({ value: num, sigma: num, low: num, high: num }); // low to high: 95 %

const job = object({
  way,
  holds_ml: num, // struck: to the brim; blown: to the foot of the neck
  already_ml: num, // in it before the first sound
  aim: str, // as typed
  pour: word("scale", "syringe", "eye"),
  vessel: str, // what it is called
  follow: maybe(bool), // null: yes
});

const advice = object({
  step: word("add", "take", "there", "again", "cannot", "sound"),
  amount_ml: num,
  amount_g: num,
  sigma_ml: num, // of what is missing to the aim
  teach: bool, // the amount stops short, where a sound teaches most
  chance: num,
  fill_ml: num,
  fill_g: num,
  now_cents: maybe(interval), // null before the first sound, as are the next three
  aim_ml: maybe(interval), // in it at the aim
  empty_cents: maybe(interval), // above the aim
  full_cents: maybe(interval),
  within_cents: num,
  promise_cents: maybe(num), // what this pouring comes to in nine of ten
  path: list(object({ fill_ml: num, cents: num, low: num, high: num })),
  partials: list(object({ first_hz: num, at_hz: num, cents: interval, fills: num, heard: bool })),
  doubt: maybe(str),
  says: str,
  words: maybe(str),
  sounds: list(object({ fill_ml: num, added_ml: num, heard_hz: num, cents: num, strike: maybe(str) })),
});

const temperature = object({ celsius: num, humidity_percent: maybe(num), at: str });

export const bench = object({
  revision: num,
  job: maybe(job),
  aim: maybe(object({ name: str, target_hz: num, tolerance_cents: num })),
  advice: maybe(advice),
  pending_ml: num, // poured, not yet sounded
  undo: num, // how many steps can be taken back
  asks: maybe(object({ strike: str, way, heard_hz: num, words: str })), // a strike that was not taken
  temperature: maybe(temperature),
  cautions: list(str),
  notice: maybe(str),
});

const row = object({
  placed: list(object({ aim: str, vessel: str, add_ml: num, fill_ml: num, sigma_ml: num, fill_g: num, chance: num, step: str })),
  bare: list(str), // aims nothing is likely to reach
  spare: list(str), // vessels left over
});

const stage = object({
  here_celsius: num,
  there_celsius: num,
  away_cents: interval, // from the aim, against the instrument there
  own_cents: num,
  instrument_cents: num,
  within_cents: num,
  chance: num,
  leaves: bool,
  bend_now_cents: num,
});

const line = object({
  readings: num,
  cents_per_degree: interval,
  at_celsius: num, // the mean temperature
  pitch_hz: num, // there
  scatter_cents: num,
  lag_s: maybe(num),
  outliers: list(num), // of the readings, from 0
  material: maybe(str),
  expected_cents_per_degree: maybe(num),
  remark: maybe(str),
  stage: maybe(stage),
});

const drift = object({
  temperature: maybe(temperature),
  follow: maybe(str), // the voice whose strikes are noted
  instrument: maybe(object({ name: str, material: str, cents_per_degree: num, source: str })),
  voices: list(
    object({
      voice: str,
      material: maybe(str),
      readings: list(object({ time: str, celsius: num, hz: num, sigma_cents: num, strike: maybe(str) })),
      line: maybe(line),
      words: maybe(str), // why there is no line
    }),
  ),
  materials: list(str),
});

export type Bench = Of<typeof bench>;
export type Job = Of<typeof job>;
export type Advice = Of<typeof advice>;
export type Interval = Of<typeof interval>;
export type Row = Of<typeof row>;
export type Drift = Of<typeof drift>;
export type DriftVoice = Drift["voices"][number];
export type DriftLine = Of<typeof line>;
export type Way = Job["way"];
export type Pour = Job["pour"];

export const decodeBench = (body: unknown): Bench => bench(body, "bench");
export const decodeRow = (body: unknown): Row => row(body, "row");
export const decodeDrift = (body: unknown): Drift => drift(body, "drift");
