// What the bench says of drift and of rows: the answer a player needs before the stage, and the next vessel.

import type { Drift, DriftVoice, Interval, Row } from "./benchmessage.ts";
import { amountOf, aimName } from "./benchsay.ts";
import { decimals, distance, doubt, earned } from "./number.ts";
import { troubleOf, type Said } from "./say.ts";
import type { State } from "./state.ts";
import type { Tongue } from "./tongue/tongue.ts";
import { plain, type Answer } from "./words.ts";

/** The voice whose plot is shown: the one chosen, else the one that is followed, else the first. */
export function voiceShown(d: Drift | null, chosen: string | null): DriftVoice | null {
  return d?.voices.find((v) => v.voice === chosen) ?? d?.voices.find((v) => v.voice === d.follow) ?? d?.voices[0] ?? null;
}

export function driftSayOf(t: Tongue, s: State, chosen: string | null): Said {
  const wrong = troubleOf(t, s);
  if (wrong) return { answer: plain(wrong[0]), under: [wrong[1]], strike: null, settled: true };
  const say = (answer: Answer, ...under: (string | null)[]): Said => ({ answer, under: [s.fault, ...under].filter((x): x is string => !!x), strike: null, settled: true });
  const d = s.drift;
  const w = t.drift;
  if (!d || d.voices.length === 0) return say(plain(w.begin), w.beginSub);
  const staged = d.voices.flatMap((v) => (v.line?.stage ? [{ voice: v.voice, ...v.line.stage }] : []));
  const first = staged[0];
  if (first) {
    const leaving = staged.filter((x) => x.leaves).sort((a, b) => Math.abs(b.away_cents.value) - Math.abs(a.away_cents.value));
    const [c, there] = [decimals(first.within_cents, 0, t.mark), degrees(t, first.there_celsius)];
    if (leaving.length === 0) return say(plain(w.stay(staged.length, c, there)));
    return say(plain(w.leave(leaving.length, staged.length, c, there)), ...leaving.map((x) => w.bendNow(x.voice, distance(x.bend_now_cents, spread(x.away_cents), t.mark), x.bend_now_cents > 0)));
  }
  const v = voiceShown(d, chosen)!;
  if (!v.line) return say(plain(w.noLine(v.voice)), t.code === "en" && v.words ? v.words : w.noLineSub);
  const { perDegree, about } = slopeOf(t, v.line.cents_per_degree);
  return say({ what: v.voice, lack: perDegree, doubt: about, guess: false, note: false }, ...lineNotes(t, v));
}

/** What is to be known about a line beside its slope. */
export function lineNotes(t: Tongue, { line }: DriftVoice): string[] {
  if (!line) return [];
  const w = t.drift;
  return [
    ...(line.lag_s === null ? [] : [w.lag(decimals(Math.max(1, Math.round(line.lag_s / 60)), 0, t.mark))]),
    ...(line.material && line.expected_cents_per_degree !== null ? [w.expected(line.material, decimals(line.expected_cents_per_degree, 2, t.mark))] : []),
    ...(line.outliers.length ? [w.outliers(line.outliers.length)] : []),
  ];
}

/** One standard deviation as its 95 % interval tells it: wider than sigma where few readings stand behind it. */
export const spread = (i: Interval): number => Math.max(i.sigma, (i.high - i.low) / 3.92);

/** A slope in words, no finer than it is known. */
export function slopeOf(t: Tongue, slope: Interval): { perDegree: string; about: string } {
  const sigma = spread(slope);
  return { perDegree: t.drift.perDegree(earned(Math.abs(slope.value), sigma, 2, t.mark), slope.value > 0), about: `±${sigma < 0.1 ? decimals(Math.max(0.01, Math.ceil(sigma * 100 - 1e-9) / 100), 2, t.mark) : doubt(sigma, t.mark)}` };
}

export const degrees = (t: Tongue, c: number): string => decimals(c, Number.isInteger(c) ? 0 : 1, t.mark);

type Placed = Row["placed"][number];

export const rowKey = (p: Placed): string => `${p.aim}\n${p.vessel}`;

/** What a vessel needs first. */
export function rowFirst(t: Tongue, p: Placed): { words: string; doubt: string } {
  const { n, doubt: about } = amountOf(t, Math.abs(p.add_ml), p.sigma_ml);
  return Number(n.replace(t.mark, ".")) === 0 ? { words: t.drift.asItIs, doubt: "" } : { words: p.add_ml > 0 ? t.drift.add(n) : t.drift.take(n), doubt: about };
}

export function rowSayOf(t: Tongue, s: State, done: readonly string[]): Said {
  const wrong = troubleOf(t, s);
  if (wrong) return { answer: plain(wrong[0]), under: [wrong[1]], strike: null, settled: true };
  const say = (answer: Answer, ...under: string[]): Said => ({ answer, under: [...(s.fault ? [s.fault] : []), ...under], strike: null, settled: true });
  const r = s.row;
  const w = t.drift;
  if (!r) return say(plain(w.rowBegin), w.rowSub);
  const bare = r.bare.length ? [w.bare(r.bare.map((a) => aimName(t, a)).join(", "))] : [];
  const next = r.placed.find((p) => !done.includes(rowKey(p)));
  if (!next) return r.placed.length ? say(plain(w.allDone(r.placed.length)), ...bare) : say(plain(w.rowBegin), ...bare);
  const { words, doubt: about } = rowFirst(t, next);
  return say({ what: `${next.vessel}, ${aimName(t, next.aim)}`, lack: words, doubt: about, guess: false, note: false }, w.progress(r.placed.length - r.placed.filter((p) => !done.includes(rowKey(p))).length, r.placed.length), ...bare);
}

export interface Vessel {
  readonly name: string;
  readonly holds_ml: number;
  readonly sounds: readonly { in_ml: number; hz: number }[];
}

/** Reads vessels as they are typed; the number of the first line that cannot be read, from 1. */
export function vesselsOf(text: string): Vessel[] | number {
  const out: Vessel[] = [];
  for (const [i, line] of text.split("\n").entries()) {
    if (!line.trim()) continue;
    const m = /^\s*(.+?)\s*,\s*([\d.]+)\s*(?:ml)?\s*:\s*(.+)$/.exec(line);
    const sounds = m?.[3]!.split(",").map((p) => /^\s*([\d.]+)\s*(?:ml)?\s*=\s*([\d.]+)\s*(?:Hz)?\s*$/i.exec(p));
    const holds = Number(m?.[2]);
    if (!m || !sounds?.length || sounds.some((x) => !x || !(Number(x[2]) > 0) || !Number.isFinite(Number(x[1]))) || !(holds > 0)) return i + 1;
    out.push({ name: m[1]!, holds_ml: holds, sounds: sounds.map((x) => ({ in_ml: Number(x![1]), hz: Number(x![2]) })) });
  }
  return out;
}
