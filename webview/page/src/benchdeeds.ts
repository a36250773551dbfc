// What a person can do at the bench. Every answer of the daemon's is the bench as it then stands.

import * as ask from "./benchask.ts";
import type { Bench } from "./benchmessage.ts";
import { keepable } from "./benchsay.ts";
import { decimals } from "./number.ts";
import type { Event, State } from "./state.ts";
import type { Tongue } from "./tongue/tongue.ts";
import type { View } from "./view.ts";

export interface BenchDeeds {
  begin(spec: ask.JobSpec): void;
  change(c: { aim?: string; follow?: boolean }): void;
  end(): void;
  pour(amount: number): void; // in the unit of the page; negative: taken out
  sound(e: ask.Entry): void;
  undo(): void;
  keep(): void; // the last sound, with the fill it was made at
  say(words: string): void; // why something cannot be done
  note(r: ask.Reading): void; // a reading of drift
  followVoice(voice: string | null): void; // its strikes are noted
  undoReading(voice: string): void;
  forget(voice: string): void;
  refresh(): void; // asks anew how everything drifts
  place(spec: ask.RowSpec): void;
  followVessel(spec: ask.JobSpec, sounds: readonly { in_ml: number; hz: number }[]): void; // begins a job with what was heard of it
}

/** What these deeds need of the page. */
export interface Benching {
  state(): State;
  view(): View;
  t(): Tongue;
  tell(e: Event): void;
  show(v: Partial<View>): void;
  fault(words: string): void;
  try(deed: Promise<unknown>): Promise<boolean>;
}

export function benchDeeds(p: Benching): BenchDeeds {
  /** What succeeds ends the word about what did not. */
  const attempt = async (deed: Promise<unknown>) => {
    const ok = await p.try(deed);
    if (ok) p.tell({ type: "fault", words: null });
    return ok;
  };
  const take = (answer: Promise<Bench>) => {
    if (p.view().benchNote) p.show({ benchNote: null });
    return attempt(answer.then((bench) => p.tell({ type: "bench", bench })));
  };
  const drift = async () => p.tell({ type: "drift", drift: await ask.driftOf(p.view().stage) });
  const noted = (deed: Promise<unknown>) => void attempt(deed.then(drift));
  return {
    say: (words) => p.fault(words),
    note: (r) => {
      p.show({ driftVoice: r.voice });
      noted(ask.noteReading(r));
    },
    followVoice: (voice) => noted(ask.followVoice(voice)),
    undoReading: (voice) => noted(ask.undoReading(voice)),
    forget: (voice) => noted(ask.forgetVoice(voice)),
    refresh: () => void p.try(drift()),
    place: (spec) => void attempt(ask.placeRow(spec).then((row) => (p.tell({ type: "row", row }), p.show({ rowDone: [] })))),
    followVessel: (spec, sounds) => {
      const all = async () => {
        let bench = await ask.beginJob(spec);
        let fill = spec.already_ml ?? 0;
        for (const s of sounds) {
          if (s.in_ml !== fill) bench = await ask.poured({ ml: s.in_ml - fill });
          bench = await ask.sounded({ hz: s.hz });
          fill = s.in_ml;
        }
        return bench;
      };
      void take(all()).then((ok) => ok && p.show({ benchTab: "water" }));
    },
    begin: (spec) => void take(ask.beginJob(spec)),
    change: (c) => void take(ask.changeJob(c)),
    end: () => void take(ask.endJob()),
    pour: (amount) => void take(ask.poured(p.view().benchUnit === "g" ? { g: amount } : { ml: amount })),
    sound: (e) => void take(ask.sounded(e)),
    undo: () => void take(ask.undone()),
    keep: () => {
      const b = p.state().bench;
      const strike = b && keepable(b);
      const t = p.t();
      if (!b?.job || !b.advice || !strike) return p.fault(t.bench.keepNot);
      const fill = t.bench.fill(decimals(b.advice.fill_ml, b.job.pour === "eye" ? 0 : 1, t.mark));
      const kind = b.job.way === "blown" ? "blown" : "glass";
      void p.try(ask.keepFilled(strike, b.job.vessel || t.bench.aVessel, kind, fill).then((label) => p.show({ benchNote: t.bench.kept(label) })));
    },
  };
}
