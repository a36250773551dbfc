// What the page says of a strike, in a player's words: the answer, the lines under it, and a row of the trail.
// Words before signs, "high" and "low" before "+" and "-", and no digit that the uncertainty does not earn.

import { companyOf, remarksOf } from "./motion.ts";
import type { Instrument, Landing, Partial, Place, Strike } from "./message.ts";
import { against, decimals, distance, doubt, earned, signed } from "./number.ts";
import { instrumentName, noteName, type Tongue } from "./tongue/tongue.ts";

/** The answer in its parts, so that a phone may set each on its own line. */
export interface Answer {
  readonly what: string; // what it is: "A4"
  readonly lack: string; // what it lacks: "12 c high"; "" for nothing
  readonly doubt: string; // "±0.3"; "" where none is claimed
  readonly guess: boolean; // still moving: set in light type
  readonly note: boolean; // what is the short name of a note
}

export const plain = (what: string, guess = false): Answer => ({ what, lack: "", doubt: "", guess, note: false });

/** The answer as one line of text. */
export const lineOf = (a: Answer): string => [a.lack ? `${a.what.replace(/,$/, "")}, ${a.lack}` : a.what, a.doubt].filter(Boolean).join(" ");

/** A distance further than this from one fixed note is told by the note that is nearest. In cents: a semitone and a half. */
const FAR = 150;
/** From here to the middle between two notes, neither has a claim to the name. In cents. */
const BETWEEN = 40;
/** Shorter than this nothing hangs freely and rings: it is a knock. In seconds. */
const KNOCK = 0.25;

/** How far a pitch lies from what it is measured from: "12 c high", with its uncertainty beside it. */
export function lackOf(t: Tongue, cents: number, sigma: number | null, guess: boolean): { lack: string; doubt: string } {
  const d = distance(cents, guess && sigma !== null ? Math.max(sigma, 1) : sigma, t.mark); // what still moves shows no tenths
  const side = cents < 0 ? t.low(d) : t.high(d);
  if (d === "0") return { lack: guess || sigma === null || sigma >= 7 ? t.near : t.on, doubt: guess || sigma === null ? "" : `±${doubt(sigma, t.mark)}` };
  if (guess || sigma === null) return { lack: t.about(side), doubt: "" };
  return { lack: side, doubt: `±${doubt(sigma, t.mark)}` };
}

const said = (t: Tongue, p: { midi: number; note: string }): string => noteName(t, "said", p.midi, p.note);

/** "E5, 20 c low": a place without its uncertainty. */
export function placeWords(t: Tongue, p: Place, sigma: number | null): string {
  return t.place(said(t, p), lackOf(t, p.cents, sigma, false).lack);
}

/** Whether a landing is better told by the nearest note than by the far one that is aimed at. */
export const farFrom = (l: Landing): boolean => l.aim === "note" && Math.abs(l.cents) > FAR && l.nearest !== null;

/** What a strike is, in the largest type. */
export function answerOf(t: Tongue, s: Strike, inst: Instrument | null): Answer {
  const guess = s.stage === "early";
  const l = s.landing;
  if (!s.heard || !l) return plain(!s.pitched && (s.rings_s ?? 0) > KNOCK ? t.noPitch : t.knock, guess);
  const sigma = against(s.heard.sigma_cents, s.clock_ppm);
  if (l.aim === "none") return unaimed(t, s, l, guess);
  if (farFrom(l)) return { what: said(t, l.nearest!), ...lackOf(t, l.nearest!.cents, sigma, guess), guess, note: true };
  const what = l.bend_cents ? t.bent(said(t, l), signed(l.bend_cents, t.mark)) : said(t, l);
  if (!l.inside && l.edge) return { what, lack: l.edge.cents > 0 ? t.above : t.below, doubt: "", guess, note: true };
  const pair = guess ? null : betweenOf(l, sigma, inst);
  if (pair) return plain(t.between(said(t, pair.under), said(t, pair.over)));
  return { what, ...lackOf(t, l.cents, sigma, guess), guess, note: true };
}

function unaimed(t: Tongue, s: Strike, l: Landing, guess: boolean): Answer {
  const note = said(t, l.nearest ?? l);
  if (guess || s.rings_s === null) return { what: note, ...lackOf(t, (l.nearest ?? l).cents, against(s.heard!.sigma_cents, s.clock_ppm), guess), guess, note: true };
  return { what: t.ringsOnly(ringWords(t, s.rings_s, ringSigma(s))), lack: t.atNote(note), doubt: "", guess, note: false };
}

interface Neighbour {
  readonly midi: number;
  readonly note: string;
  readonly cents: number; // how far the pitch lies above it
}

/** The two notes a pitch lies between, where neither has a claim to the name. */
function betweenOf(l: Landing, sigma: number | null, inst: Instrument | null): { under: Neighbour; over: Neighbour } | null {
  if (l.aim !== "nearest" || l.bend_cents || !l.inside || sigma === null || sigma > 7) return null;
  if (Math.abs(l.cents) < BETWEEN || Math.abs(l.cents) > 60) return null;
  const other = inst?.notes.find((n) => n.midi === l.midi + Math.sign(l.cents));
  const hz = other?.targets_hz[0];
  if (!other || !hz) return null;
  const mine = { midi: l.midi, note: l.note, cents: l.cents };
  const its = { midi: other.midi, note: other.label, cents: l.cents + 1200 * Math.log2(l.target_hz / hz) };
  return l.cents > 0 ? { under: mine, over: its } : { under: its, over: mine };
}

/** How long something rings: "1.9 s", "60 ms", "14 s". */
export function ringWords(t: Tongue, seconds: number, sigma: number | null): string {
  if (seconds < 0.095) return t.millis(decimals(Math.round(seconds * 100) * 10, 0, t.mark));
  return t.seconds(earned(seconds, sigma ?? seconds / 10, seconds < 9.95 ? 1 : 0, t.mark));
}

/** The uncertainty of a strike's own ring, in seconds, where a partial tells it. */
export const ringSigma = (s: Strike): number | null => s.partials.find((p) => p.t60_s === s.rings_s)?.sigma_t60_s ?? null;

const beatWords = (t: Tongue, p: Partial): string => earned(p.beat_hz!, p.sigma_beat_hz, 1, t.mark);

/** "beats 1.4 a second", to be written beside a pair. */
export const beatsOf = (t: Tongue, p: Partial): string | null => (p.beat_hz ? t.beats(beatWords(t, p)) : null);

/** The sentences under the answer: what is wrong first, then what else may be heard, then how it rings. The page shows as many as fit. */
export function underOf(t: Tongue, s: Strike, inst: Instrument | null): string[] {
  const rang = s.rings_s === null ? null : ringWords(t, s.rings_s, ringSigma(s));
  const remarks = remarksOf(t, s);
  const l = s.landing;
  if (!s.heard || !l) {
    if (s.stage === "early") return [t.listeningShort, ...remarks];
    return [...remarks, (s.rings_s ?? 0) > KNOCK ? t.noPitchSub(rang) : t.knockSub(rang)];
  }
  if (s.stage === "early") return [...remarks, s.heard.basis === "strike-note" ? `${t.strikeNote} ${t.listeningShort}` : t.listening];
  const out = [...remarks];
  const sigma = against(s.heard.sigma_cents, s.clock_ppm);
  const pair = betweenOf(l, sigma, inst);
  if (farFrom(l)) out.push(t.aimedSub(semitones(t, l.cents), l.cents > 0, said(t, l)));
  if (!l.inside && l.edge && l.aim !== "none") out.push(...beyond(t, l, sigma, inst));
  if (pair) out.push(t.betweenSub(distance(pair.under.cents, sigma, t.mark), said(t, pair.under), distance(pair.over.cents, sigma, t.mark), said(t, pair.over)));
  if (l.aim === "none" && s.rings_s !== null) out.push(`${lineOf({ what: said(t, l.nearest ?? l), ...lackOf(t, (l.nearest ?? l).cents, sigma, false), guess: false, note: true })}.`);
  if (s.second && s.second_landing?.nearest) out.push(t.someHear(placeWords(t, s.second_landing.nearest, against(s.second.sigma_cents, s.clock_ppm))));
  if (s.heard.basis === "strike-note") out.push(t.strikeNote);
  if (s.heard.basis === "periodic") out.push(t.periodic);
  if (l.within && l.tolerance_cents && (l.inside || l.aim === "note")) out.push(t.within(decimals(l.tolerance_cents, 0, t.mark)));
  if (l.written) out.push(t.writtenAs(noteName(t, "said", l.midi - (inst?.transpose ?? 0), l.written), instrumentName(t, l.instrument)));
  if (rang && l.aim !== "none") out.push(t.rings(rang));
  const mine = s.heard.partial === null ? undefined : s.partials[s.heard.partial];
  const beating = mine?.beat_hz ? mine : s.partials.filter((p) => p.beat_hz).sort((a, b) => b.level_db - a.level_db)[0];
  if (beating) out.push(t.beatsSub(beatWords(t, beating)));
  if (l.aim === "none") out.push(...others(t, s));
  else out.push(...lasting(t, s));
  return [...out, ...companyOf(t, s)];
}

const semitones = (t: Tongue, cents: number): string => t.semitones(String(Math.max(1, Math.round(Math.abs(cents) / 100))));

function beyond(t: Tongue, l: Landing, sigma: number | null, inst: Instrument | null): string[] {
  const up = l.edge!.cents > 0;
  const end = inst?.notes[up ? inst.notes.length - 1 : 0];
  const edge = end?.label === l.edge!.note ? noteName(t, "said", end.midi, end.label) : l.edge!.note;
  const out = [t.beyondSub(instrumentName(t, l.instrument), edge, semitones(t, l.edge!.cents), up)];
  const octaves = end ? Math.ceil(Math.abs(l.midi - end.midi) / 12) : 0;
  const there = inst?.notes.find((n) => n.midi === l.midi + (up ? -12 : 12) * octaves);
  if (there && l.nearest && octaves > 0)
    out.push(t.octavesSub(octaves, up, placeWords(t, { note: there.label, midi: there.midi, cents: l.nearest.cents }, sigma)));
  return out;
}

function others(t: Tongue, s: Strike): string[] {
  const rest = s.partials
    .filter((p, i) => i !== s.heard?.partial && p.landing && p.level_db > -30)
    .sort((a, b) => b.level_db - a.level_db)
    .slice(0, 3)
    .sort((a, b) => a.frequency_hz - b.frequency_hz);
  const names = [...new Set(rest.map((p) => noteName(t, "written", p.landing!.midi, p.landing!.note)))];
  return names.length ? [t.others(names.join(", "))] : [];
}

function lasting(t: Tongue, s: Strike): string[] {
  const mine = s.heard?.partial !== null && s.heard?.partial !== undefined ? s.partials[s.heard.partial]?.t60_s : null;
  const known = s.partials.filter((p) => p.t60_s !== null && p.level_db > -30);
  if (!mine || known.length < 2) return [];
  return [t.lasts(known.length, known.every((p) => p.t60_s! <= mine * 1.05))];
}

/** A row of the trail: "A4, 31 c low". */
export const readOf = (t: Tongue, s: Strike, inst: Instrument | null): string => {
  const a = answerOf(t, s, inst);
  return lineOf({ ...a, doubt: "" });
};

/** How one strike lies beside another. The input's clock cancels between the two. */
export function comparedOf(t: Tongue, s: Strike, other: Strike, who: string): string | null {
  if (!s.heard || !other.heard) return null;
  const cents = 1200 * Math.log2(s.heard.frequency_hz / other.heard.frequency_hz);
  const sigma = s.heard.sigma_cents === null || other.heard.sigma_cents === null ? null : Math.hypot(s.heard.sigma_cents, other.heard.sigma_cents);
  const far = distance(cents, sigma, t.mark);
  const about = sigma === null ? "?" : doubt(sigma, t.mark);
  const words = far === "0" ? t.same(about) : cents > 0 ? t.higher(far, about) : t.lower(far, about);
  return t.compared(who, words, ringBeside(t, s, other));
}

function ringBeside(t: Tongue, s: Strike, other: Strike): string | null {
  if (s.rings_s === null || other.rings_s === null) return null;
  const more = s.rings_s - other.rings_s;
  const sigma = Math.hypot(ringSigma(s) ?? s.rings_s / 10, ringSigma(other) ?? other.rings_s / 10);
  if (Math.abs(more) < 2 * sigma || Math.abs(more) < 0.05) return null;
  const words = ringWords(t, Math.abs(more), sigma);
  return more > 0 ? t.longer(words) : t.shorter(words);
}

/** The answer as it is spoken: signs become words that every voice reads well. */
export function spokenOf(t: Tongue, a: Answer): string {
  const cents = t.code === "de" ? "Cent" : "cents";
  const doubt = { de: "plus minus ", fr: "plus ou moins " }[t.code] ?? "plus or minus ";
  return lineOf(a).replace(/(\d) c\b/g, `$1 ${cents}`).replace("±", doubt);
}

