import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import process from "node:process";
import test from "node:test";
import type { Advice, Bench } from "./benchmessage.ts";
import { aimName, amountOf, benchSayOf, keepable, pourSigma, sessionAim } from "./benchsay.ts";
import { niceStep, reach } from "./draw/curve.ts";
import { hello } from "./fixture.ts";
import { decode } from "./message.ts";
import { initial, reduce, type State } from "./state.ts";
import { TONGUES } from "./tongue/tongue.ts";
import { lineOf } from "./words.ts";

const [en, de] = TONGUES as [(typeof TONGUES)[number], (typeof TONGUES)[number]];
const golden = (): Bench => (decode(readFileSync(`${process.cwd()}/../../testdata/wire/bench/bench.json`, "utf8")) as { bench: Bench }).bench;
const at = (value: number, half = 2) => ({ value, sigma: half / 2, low: value - half, high: value + half });
const on = (advice: { [K in keyof Advice]?: Advice[K] }, change: { [K in keyof Bench]?: Bench[K] } = {}, way: "struck" | "blown" = "struck", pour: "scale" | "eye" = "scale"): State => {
  const b = golden();
  const bench: Bench = { ...b, asks: null, pending_ml: 0, job: { ...b.job!, way, pour }, advice: { ...b.advice!, doubt: null, promise_cents: 2, ...advice }, ...change };
  const welcomed = reduce(initial, { type: "message", message: hello(), at: 0 });
  return reduce({ ...welcomed, ear: { ...welcomed.ear!, code: "hearing" } }, { type: "bench", bench });
};
const said = (s: State, t = en) => {
  const { answer, under } = benchSayOf(t, s);
  return `${lineOf(answer)} | ${under.join(" ")}`;
};

test("one action with one number, no finer than it can be poured", () => {
  assert.match(said(on({ step: "add", amount_ml: 35.2, amount_g: 35.1, sigma_ml: 0.2 })), /^Add 35\.2 ml ±0\.7 \| 35\.1 g on the scale\. Say what went in, then strike again\./);
  assert.match(said(on({ step: "add", amount_ml: 35.2, sigma_ml: 3.1 }, {}, "blown", "eye")), /^Add 35 ml ±4 \| Say what went in, then blow again\./);
  assert.match(said(on({ step: "take", amount_ml: 12, amount_g: 12, sigma_ml: 1 })), /^Take out 12 ml ±1 \| Too much went in: that is usual\./);
  assert.match(said(on({ step: "take", amount_ml: 12, amount_g: 12, sigma_ml: 1 }), de), /^12 ml herausnehmen ±1 \| Zu viel kam hinein/);
  assert.match(said(on({ step: "there", now_cents: { value: 2, sigma: 1, low: 0, high: 4 } })), /^There: F sharp 5, bent \+30 \| It lies 2 c high ±1\. 262\.0 ml in it, 261\.5 g\. K keeps it/);
});

test("what is meant is always said, and a sound of the other kind is asked about", () => {
  assert.match(said(on({ step: "sound", sounds: [] })), /^Strike it as it is \| Struck is meant: water lowers it\./);
  assert.match(said(on({ step: "sound", sounds: [] }, {}, "blown")), /^Blow it as it is \| Blown is meant: water raises it\./);
  const asks = golden().asks;
  assert.match(said(on({}, { asks })), /^Was it blown\? \| That sounds blown, and struck is meant/);
});

test("before it is poured the page says what can be promised", () => {
  assert.match(said(on({ step: "add", teach: false, promise_cents: 7.2 }, {}, "struck", "eye")), /Poured by eye, within ±8 c can be promised\. .*Weigh it/);
  assert(!said(on({ step: "add", promise_cents: 4 })).includes("promised"));
});

test("out of reach is told with where empty and full lie", () => {
  const cannot = (empty: number, full: number, way: "struck" | "blown" = "struck") => said(on({ step: "cannot", empty_cents: at(empty), full_cents: at(full) }, {}, way));
  assert.match(cannot(502, 90), /^Out of reach \| Full is 412 c below empty; F sharp 5, bent \+30 lies 90 c beyond/);
  assert.match(cannot(-60, -472), /Water only lowers what is struck, and empty it lies 60 c below/);
  assert.match(cannot(60, 900, "blown"), /Water only raises what is blown, and empty it lies 60 c above/);
  assert.match(cannot(-900, -40, "blown"), /With water up to the neck it is 860 c above empty; .* lies 40 c beyond/);
});

test("amounts", () => {
  const n = (ml: number, sigma: number) => Object.values(amountOf(en, ml, sigma)).filter(Boolean).join(" ");
  assert.equal(n(468.6, 8.1), "469 ±9");
  assert.equal(n(468.6, 9.6), "470 ±10");
  assert.equal(n(0.04, 0.29), "0.0 ±0.3");
  assert.equal(n(-3, 1.7), "−3 ±2");
  assert(Math.abs(pourSigma("eye", 300) - Math.sqrt(3)) < 1e-12 && Math.abs(pourSigma("scale", 100) - Math.sqrt(3)) < 1e-12 && Math.abs(pourSigma("syringe", 1) - 0.5 / Math.sqrt(3)) < 1e-12);
});

test("aims are named as the tongue names notes, and taken from the session", () => {
  assert.equal(aimName(en, "Bb3"), "B flat 3");
  assert.equal(aimName(de, "Bb3 bent -12.5"), "B3, verschoben −12,5");
  assert.equal(aimName(en, "512.3 Hz"), "512.3 Hz");
  const s = on({});
  assert.equal(sessionAim({ ...s, session: { ...s.session!, aim: false } }), "");
  assert.equal(sessionAim({ ...s, session: { ...s.session!, aim: true, target: 69, bend_cents: 30, tolerance_cents: 5 } }), "A4 +30 +-5");
});

test("only a strike with no water poured since can be kept with its fill", () => {
  assert.equal(keepable(golden()), null);
  assert.equal(keepable({ ...golden(), pending_ml: 0 }), "01JDHZ8Q2R00000000000000A1");
});

test("an older word about the bench changes nothing", () => {
  const s = on({});
  assert.equal(reduce(s, { type: "bench", bench: { ...golden(), revision: 1, job: null } }), s);
});

test("the picture reaches over curve, sounds and aim", () => {
  const { lo, hi } = reach({ path: [{ fill_ml: 0, cents: 300, low: 290, high: 900 }], sounds: [{ fill_ml: 3, cents: -40 }], tolerance: 5 });
  assert(lo < -40 && hi > 300 && hi < 400);
  for (const [range, want] of [[700, 100], [300, 50], [90, 10], [1.1, 0.2]] as const) assert(Math.abs(niceStep(range, 7) - want) < 1e-9, `${range}: got ${niceStep(range, 7)}`);
});
