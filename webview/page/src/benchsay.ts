// What the place Bench says, in a player's words: the action with one number, and the lines under it.

import type { Advice, Bench, Interval, Pour } from "./benchmessage.ts";
import { decimals, distance } from "./number.ts";
import { troubleOf, type Said } from "./say.ts";
import { shown, type State } from "./state.ts";
import { noteName, type Tongue } from "./tongue/tongue.ts";
import { lackOf, plain, type Answer } from "./words.ts";

/** What the water of this page is about. */
export function benchSayOf(t: Tongue, s: State): Said {
  const wrong = troubleOf(t, s);
  if (wrong) return { answer: plain(wrong[0]), under: [wrong[1]], strike: null, settled: true };
  const b = s.bench;
  const under = (...lines: readonly (string | null | false | undefined)[]): string[] => [s.fault ?? (s.session?.muted ? t.toneSub : null), ...lines].filter((x): x is string => !!x);
  if (!b?.job || !b.advice || !b.aim) return { answer: plain(t.bench.begin), under: under(t.bench.beginSub), strike: null, settled: true };
  const { job, advice: a } = b;
  const strike = shown(s)?.id ?? null;
  const say = (answer: Answer, ...lines: readonly (string | null | false | undefined)[]): Said => ({ answer, under: under(...lines), strike, settled: true });
  const w = t.bench;
  const meant = w.meant[job.way];
  if (b.asks) return say(plain(w.was[b.asks.way]), w.wasSub(b.asks.way, job.way));
  const doubt = a.doubt ? w.doubt[job.way] : null;
  const promise = promiseOf(t, b);
  switch (a.step) {
    case "sound":
      return say(plain(a.sounds.length || b.pending_ml ? w.now[job.way] : w.asIs[job.way]), meant, b.pending_ml !== 0 && w.pending(amountOf(t, b.pending_ml, pourSigma(job.pour, b.pending_ml)).n), a.sounds.length === 0 && w.pourNote[job.pour]);
    case "add":
    case "take": {
      const sigma = a.teach ? pourSigma(job.pour, a.amount_ml) : Math.max(a.sigma_ml, pourSigma(job.pour, a.amount_ml));
      const { n, doubt: about } = amountOf(t, a.amount_ml, sigma);
      const all = a.aim_ml && amountOf(t, a.aim_ml.value, a.aim_ml.sigma).n;
      const grams = job.pour === "scale" ? w.onScale(amountOf(t, a.amount_g, sigma).n) : null;
      const answer: Answer = { what: a.step === "add" ? w.add(n) : w.take(n), lack: "", doubt: about, guess: false, note: false };
      return say(answer, doubt, a.step === "take" && w.tooMuch, grams, promise, a.teach && all && w.teach(all), w.then[job.way], promise && job.pour === "eye" && w.nearer, mayMiss(b) && w.mayNotReach, meant);
    }
    case "there":
      return say(plain(w.there(aimName(t, b.aim.name))), doubt, a.now_cents && w.lies(lies(t, a.now_cents)), inIt(t, a, job.pour), keepable(b) && w.keepIt);
    case "again":
      return say(plain(w.again[job.way]), doubt, a.now_cents && w.lies(lies(t, a.now_cents)), w.oneMore, meant);
    case "cannot":
      return say(plain(w.cannot), doubt, refusalOf(t, b));
  }
}

/** "12 c high ±1" */
export function lies(t: Tongue, at: Interval): string {
  const { lack, doubt } = lackOf(t, at.value, at.sigma, false);
  return [lack, doubt].filter(Boolean).join(" ");
}

const inIt = (t: Tongue, a: Advice, pour: Pour): string => t.bench.inIt(decimals(a.fill_ml, pour === "eye" ? 0 : 1, t.mark), decimals(a.fill_g, pour === "eye" ? 0 : 1, t.mark));

/** The strike that made the last entry, with no water poured since: what could be kept with its fill. */
export function keepable(b: Bench): string | null {
  const last = b.advice?.sounds[b.advice.sounds.length - 1];
  return b.pending_ml === 0 ? (last?.strike ?? null) : null;
}

/** How true an amount is that is poured so, one standard deviation: a bound is spread evenly. */
export function pourSigma(pour: Pour, ml: number): number {
  const bound = pour === "eye" ? 3 : Math.max(0.5, 0.03 * Math.abs(ml));
  return bound / Math.sqrt(3);
}

/** An amount no finer than its uncertainty, and that, rounded up to one digit. */
export function amountOf(t: Tongue, ml: number, sigma: number): { n: string; doubt: string } {
  let place = sigma > 0 ? Math.floor(Math.log10(sigma)) : 0;
  if (Math.ceil(sigma / 10 ** place - 1e-9) >= 10) place++;
  place = Math.min(3, Math.max(-1, place)); // nobody pours finer than a tenth
  const unit = 10 ** place;
  const places = Math.max(0, -place);
  const up = Math.ceil(sigma / unit - 1e-9) * unit;
  return { n: decimals(Math.round(ml / unit) * unit || 0, places, t.mark), doubt: up > 0 ? `±${decimals(up, places, t.mark)}` : "" };
}

/** What the way of pouring allows, where that is less than what is asked for. */
function promiseOf(t: Tongue, { job, advice: a, aim }: Bench): string | null {
  if (!job || !a || !aim || a.promise_cents === null || a.promise_cents <= aim.tolerance_cents) return null;
  return t.bench.promise(t.bench.byHow[job.pour], decimals(Math.ceil(a.promise_cents), 0, t.mark));
}

/** Whether what full gives may still fall short of the aim. */
function mayMiss({ job, advice: a }: Bench): boolean {
  if (!job || !a?.full_cents || !a.aim_ml) return false;
  const past = job.way === "struck" ? a.full_cents.high > a.within_cents : a.full_cents.low < -a.within_cents;
  return past && a.aim_ml.high >= job.holds_ml - 1;
}

function refusalOf(t: Tongue, { job, advice: a, aim }: Bench): string | null {
  if (!job || !aim || !a?.empty_cents || !a.full_cents) return null;
  const [empty, full] = [a.empty_cents, a.full_cents];
  const u = Math.max((full.high - full.low) / 4, 0.5);
  const c = (x: number) => distance(x, u, t.mark);
  const range = c(full.value - empty.value);
  const name = aimName(t, aim.name);
  const r = t.bench.refusal;
  if (job.way === "struck") return empty.high < -a.within_cents ? r["struck-above"](c(empty.value), name) : r["struck-below"](range, name, c(full.value));
  return empty.low > a.within_cents ? r["blown-below"](c(empty.value), name) : r["blown-above"](range, name, c(full.value));
}

const LETTERS: Readonly<Record<string, number>> = { C: 0, D: 2, E: 4, F: 5, G: 7, A: 9, B: 11 };

/** The aim as it is said in this tongue: "F sharp 5, bent +30". What is no plain note stays as it was typed. */
export function aimName(t: Tongue, name: string, how: "said" | "written" = "said"): string {
  const m = /^([A-G])([#b]?)(-?\d)(?: bent (.+))?$/.exec(name);
  if (!m) return name;
  const midi = 12 * (Number(m[3]) + 1) + LETTERS[m[1]!]! + (m[2] === "#" ? 1 : m[2] === "b" ? -1 : 0);
  const note = noteName(t, how, midi, m[1]! + m[2]! + m[3]!);
  const bend = m[4]?.replace("-", "−").replace(".", t.mark);
  return bend ? (how === "said" ? t.bench.bent(note, bend) : `${note} ${bend}`) : note;
}

/** The aim of the session as it would be typed; "" where it is any note. */
export function sessionAim(s: State): string {
  const k = s.session;
  if (!k?.aim || k.target === null) return "";
  const label = s.instrument?.notes.find((n) => n.midi === k.target)?.label ?? "";
  const bend = k.bend_cents ? ` ${k.bend_cents > 0 ? "+" : ""}${k.bend_cents}` : "";
  return label && label + bend + (k.tolerance_cents ? ` +-${k.tolerance_cents}` : "");
}
