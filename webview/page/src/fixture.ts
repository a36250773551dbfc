// Strikes for the unit tests, made from the messages Go sends.

import { readFileSync } from "node:fs";
import process from "node:process";
import { decode, type Hello, type Instrument, type Landing, type Message, type Strike } from "./message.ts";

const golden = (name: string): Message => decode(readFileSync(`${process.cwd()}/../../testdata/wire/${name}.json`, "utf8"))!;

export const hello = (): Hello & { type: "hello" } => golden("hello") as Hello & { type: "hello" };
export const vibraphone = (): Instrument => hello().instrument;
export const knock = (): Strike => (golden("strike-knock") as { strike: Strike }).strike;
export const jar = (): Strike => (golden("strike") as { strike: Strike }).strike;

/** A settled strike that lies cents above A4 of the vibraphone on 442 Hz, certain to sigma cents. */
export function pot(cents: number, sigma = 0.3, change: { [K in keyof Strike]?: Strike[K] } = {}, aim: { [K in keyof Landing]?: Landing[K] } = {}): Strike {
  const s = jar();
  const hz = 442 * 2 ** (cents / 1200);
  const landing: Landing = {
    instrument: "vibraphone", note: "A4", written: null, midi: 69, cents, aim: "nearest", target_hz: 442, bend_cents: 0,
    tolerance_cents: null, within: null, inside: true, edge: null, nearest: { note: "A4", midi: 69, cents }, ...aim,
  };
  const one = { ...s.partials[0]!, frequency_hz: hz, sigma_cents: sigma, beat_hz: null, sigma_beat_hz: null, pair: null, landing: landing.nearest };
  return {
    ...s, clock_ppm: 0, heard: { ...s.heard!, frequency_hz: hz, sigma_cents: sigma, partial: 0 }, landing, second: null, second_landing: null,
    partials: [one], remarks: [], ...change,
  };
}
