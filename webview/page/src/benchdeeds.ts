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
  const take = (answer: Promise<Bench>) => {
    if (p.view().benchNote) p.show({ benchNote: null });
    return p.try(answer.then((bench) => p.tell({ type: "bench", bench })));
  };
  return {
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
