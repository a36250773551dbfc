// What stands in the large type and under it, whatever the state: what is wrong comes before what was heard.

import type { State } from "./state.ts";
import { shown } from "./state.ts";
import type { Tongue } from "./tongue/tongue.ts";
import { answerOf, comparedOf, plain, underOf, type Answer } from "./words.ts";

export interface Said {
  readonly answer: Answer;
  readonly under: readonly string[]; // sentences; the first counts most
  readonly strike: string | null; // whose answer it is
  readonly settled: boolean;
}

/** comparing is the strike laid beside this one, and what it is called. */
export function sayOf(t: Tongue, s: State, comparing: { id: string; who: string } | null): Said {
  const wrong = troubleOf(t, s);
  if (wrong) return { answer: plain(wrong[0]), under: [wrong[1]], strike: null, settled: true };
  const k = shown(s);
  if (!k) {
    if (s.takenBack) return { answer: plain(t.knock), under: [s.fault ?? t.takenBackSub], strike: null, settled: true };
    const [answer, under] = emptyOf(t, s);
    return { answer: plain(answer), under: [s.fault ?? under], strike: null, settled: false };
  }
  const other = comparing ? s.strikes.find((x) => x.id === comparing.id && x !== k) : undefined;
  const beside = other ? comparedOf(t, k, other, comparing!.who) : null;
  const first = s.fault ?? (s.session?.muted ? t.toneSub : null) ?? beside;
  const under = first ? [first] : [...(s.session?.frozen ? [t.frozen] : []), ...underOf(t, k, s.instrument)];
  return { answer: answerOf(t, k, s.instrument), under, strike: k.id, settled: k.stage !== "early" };
}

/** What keeps the ear from hearing, and what to do. The daemon's own words know more; other tongues have theirs. */
export function troubleOf(t: Tongue, s: State): [string, string] | null {
  if (s.link === "gone") return [t.gone, globalThis.location?.protocol === "https:" ? t.doors.goneAway : t.goneSub];
  if (s.link === "shut") return [t.doors.shut, t.doors.shutSub];
  if (s.link === "connecting") return s.hello ? null : [t.connecting, t.connectingSub];
  const words = t.code === "en" ? s.ear?.words : undefined;
  if (s.ear?.code === "deaf") return [t.deaf, words || t.deafSub];
  if (s.ear?.code === "silent") return [t.silent, words || t.silentSub];
  return null;
}

function emptyOf(t: Tongue, s: State): [string, string] {
  if (s.ear?.code === "opening") return [t.opening, t.openingSub];
  if (s.ear?.code === "ended") return [t.ended, t.endedSub];
  return [t.waiting, s.session?.notice ?? t.waitingSub];
}
