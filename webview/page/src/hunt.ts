// What a strike means for the hunt, in a player's words: sized for somebody with an object in each hand. Pure.

import { remarksOf } from "./motion.ts";
import type { Instrument, Strike, Verdict, Wanted, WantedPlace } from "./message.ts";
import { decimals, signed } from "./number.ts";
import { troubleOf, type Said } from "./say.ts";
import { shown, type State } from "./state.ts";
import { noteName, type Tongue } from "./tongue/tongue.ts";
import { lackOf, plain, placeWords, underOf, type Answer } from "./words.ts";

/** A place further away than this is told in semitones. In cents: a semitone and a half. */
const FAR = 150;

/** A place without its bend: "F sharp 5", "A4 quarter flat", "440 Hz". */
export function placeName(t: Tongue, p: WantedPlace, how: "said" | "written" = "said"): string {
  if (p.note === null || p.midi === null) return t.hz(hertz(t, p.target_hz / 2 ** (p.bend_cents / 1200)));
  const quarter = t.hunt.quarters[String(p.quarters)];
  return noteName(t, how, p.midi, p.note) + (quarter ? ` ${quarter}` : "");
}

/** A frequency as it was typed, which the daemon sends rounded to a millionth. */
const hertz = (t: Tongue, x: number): string => decimals(Number(x.toFixed(2)), Math.abs(x - Math.round(x)) < 0.005 ? 0 : 2, t.mark);

/** A place with its bend: "F sharp 5 bent +30". */
export const fullName = (t: Tongue, p: WantedPlace): string => (p.bend_cents ? `${placeName(t, p)} ${bentOf(t, p)}` : placeName(t, p));

const bentOf = (t: Tongue, p: WantedPlace): string => t.hunt.bent(signed(p.bend_cents, t.mark));

export const placeById = (w: Wanted | null, id: string | null): WantedPlace | null => w?.places.find((p) => p.id === id) ?? null;

/** The place at hand: the row that is open, else the one the strike shown is about. */
export function atHand(s: State, open: string | null): WantedPlace | null {
  return placeById(s.wanted, open) ?? placeById(s.wanted, shown(s)?.verdict?.place ?? null);
}

/** How much of the list is found, and what is open. A place that is ticked off counts as found. */
export function progressOf(w: Wanted): { found: number; all: number; open: WantedPlace[] } {
  let [found, all] = [0, 0];
  for (const p of w.places) {
    all += p.count;
    found += p.state === "open" ? Math.min(p.fills.length, p.count) : p.count;
  }
  return { found, all, open: w.places.filter((p) => p.state === "open") };
}

/** Whether a strike can be taken for the place of its verdict with one key. */
export const takeable = (v: Verdict | null): boolean => v !== null && v.place !== null && v.answer !== "not-wanted" && v.reason !== "fills";

/** What is said while hunting; the same trouble comes first as in Listen. beside: how it lies beside another strike. */
export function huntSayOf(t: Tongue, s: State, beside: string | null): Said {
  const wrong = troubleOf(t, s);
  if (wrong) return { answer: plain(wrong[0]), under: [wrong[1]], strike: null, settled: true };
  const w = s.wanted;
  if (!w || w.places.length === 0) return { answer: plain(t.hunt.empty), under: [s.fault ?? t.hunt.emptySub], strike: null, settled: false };
  const k = shown(s);
  const v = k?.verdict ?? null;
  if (!k || !v) {
    const first = s.fault ?? (s.takenBack ? t.takenBackSub : s.session?.muted ? t.toneSub : null);
    return { answer: plain(idle(t, w)), under: [first ?? t.hunt.readySub, ...progress(t, w)], strike: null, settled: false };
  }
  const first = s.fault ?? (s.session?.muted ? t.toneSub : null) ?? beside;
  const under = [...(first ? [first] : []), ...verdictUnder(t, k, v, w, s.instrument), ...progress(t, w)];
  return { answer: verdictAnswer(t, k, v, w), under, strike: k.id, settled: k.stage !== "early" };
}

function idle(t: Tongue, w: Wanted): string {
  const { found, all, open } = progressOf(w);
  return open.length === 0 && found > 0 ? t.hunt.allFound(all) : t.hunt.ready;
}

/** What is still open, once that is worth a line; how much is found stands over the list. */
function progress(t: Tongue, w: Wanted): string[] {
  const { found, open } = progressOf(w);
  const names = open.slice(0, 4).map((p) => fullName(t, p));
  return found > 0 && open.length > 0 && open.length <= 4 ? [t.hunt.open(names.join(", "))] : [];
}

/** "Yes: F sharp 5, bent +30", "Nearly: D5, 41 c low", "Not wanted: G4". */
export function verdictAnswer(t: Tongue, k: Strike, v: Verdict, w: Wanted): Answer {
  const guess = k.stage === "early";
  const place = placeById(w, v.place);
  const say = (answer: string, what: string, lack: string): Answer => ({ what: t.hunt.said(answer.replace(" ", "\u00a0"), what), lack, doubt: "", guess, note: false });
  if (v.answer === "not-wanted" || !place) return say(t.hunt.not, itself(t, k), "");
  const bend = place.bend_cents ? bentOf(t, place) : "";
  if (v.answer === "yes") return say(v.reason === "fills" ? t.hunt.found : t.hunt.yes, placeName(t, place), bend);
  return say(t.hunt.nearly, fullName(t, place), v.reason === "second" ? "" : lackOf(t, v.cents ?? 0, v.sigma_cents, guess).lack);
}

/** What was struck, by the nearest note. */
function itself(t: Tongue, k: Strike): string {
  const l = k.landing?.nearest ?? k.landing;
  return k.heard && l ? noteName(t, "said", l.midi, l.note) : t.hunt.noPitch;
}

/** A verdict in a few words, for a row: "yes: F sharp 5", "not wanted". */
export function verdictShort(t: Tongue, k: Strike, w: Wanted | null): string {
  if (!k.verdict || !w) return itself(t, k);
  const a = verdictAnswer(t, k, k.verdict, w);
  return a.lack ? `${a.what}, ${a.lack}` : a.what;
}

/** How far a place is: "41 c low", or in semitones where it is far. */
export function howFar(t: Tongue, cents: number, sigma: number | null): string {
  if (Math.abs(cents) <= FAR) return lackOf(t, cents, sigma, false).lack;
  const n = t.semitones(String(Math.round(Math.abs(cents) / 100)));
  return cents > 0 ? t.hunt.above(n) : t.hunt.below(n);
}

function verdictUnder(t: Tongue, k: Strike, v: Verdict, w: Wanted, inst: Instrument | null): string[] {
  const place = placeById(w, v.place);
  const name = place ? fullName(t, place) : "";
  const remarks = remarksOf(t, k);
  if (v.reason === "no-pitch") return underOf(t, k, inst);
  const lack = v.cents === null ? "" : lackOf(t, v.cents, v.sigma_cents, k.stage === "early").lack;
  const tolerance = decimals(v.tolerance_cents ?? place?.tolerance_cents ?? 0, Number.isInteger(v.tolerance_cents) ? 0 : 1, t.mark);
  const h = t.hunt;
  const why = {
    fits: [h.lies(lack, tolerance)],
    better: [h.better, h.lies(lack, tolerance)],
    fills: [h.lies(lack, tolerance)],
    unsure: [k.stage === "early" ? t.listeningShort : h.unsure],
    split: [h.split],
    second: [h.second(name)],
    near: [h.liesOutside(lack, tolerance)],
    reachable: [h.liesOutside(lack, tolerance)],
    far: place && v.cents !== null ? [h.nearest(name, howFar(t, v.cents, v.sigma_cents))] : [],
    "other-kind": [h.otherKind(name, t.kinds[place?.kind ?? ""] ?? place?.kind ?? "")],
    filled: [place?.state === "ticked" ? h.tickedOff(name) : h.filled(name)],
    "nothing-wanted": [h.nothingOpen],
  }[v.reason];
  return [...remarks, ...why.slice(0, 1), ...guessOf(t, v), ...why.slice(1), ...otherOf(t, k, v, w)];
}

/** What would bring it there: a guess, and called one. */
function guessOf(t: Tongue, v: Verdict): string[] {
  const words = v.answer === "nearly" && v.guess ? t.hunt.guess[v.guess.means] : undefined;
  return words ? [v.guess!.likely ? t.hunt.likely(words) : t.hunt.perhaps(words)] : [];
}

function otherOf(t: Tongue, k: Strike, v: Verdict, w: Wanted): string[] {
  if (!v.other || v.reason === "second" || k.stage === "early") return [];
  const place = placeById(w, v.other.place);
  if (place) return [t.hunt.second(fullName(t, place))];
  const p = k.second_landing?.nearest;
  return p ? [t.someHear(placeWords(t, p, k.second?.sigma_cents ?? null))] : [];
}
