import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import process from "node:process";
import test from "node:test";
import { decodeDrift, decodeRow, type Drift } from "./benchmessage.ts";
import { driftCurve } from "./draw/driftplot.ts";
import { driftSayOf, rowKey, rowSayOf, slopeOf, vesselsOf, voiceShown } from "./driftsay.ts";
import { hello } from "./fixture.ts";
import { initial, reduce, type State } from "./state.ts";
import { TONGUES } from "./tongue/tongue.ts";
import { lineOf } from "./words.ts";

const [en, de, fr] = TONGUES as [(typeof TONGUES)[number], (typeof TONGUES)[number], (typeof TONGUES)[number]];
const read = (name: string): any => JSON.parse(readFileSync(`${process.cwd()}/../../testdata/wire/bench/${name}.json`, "utf8"));
const start = (): State => {
  const s = reduce(initial, { type: "message", message: hello(), at: 0 });
  return { ...s, ear: { ...s.ear!, code: "hearing" } };
};
const said = (s: State, t = en, chosen: string | null = null) => {
  const { answer, under } = driftSayOf(t, s, chosen);
  return `${lineOf(answer)} | ${under.join(" ")}`;
};
const drift = (change: (d: any) => void = () => undefined): Drift => {
  const d = read("drift");
  d.voices[0].line.cents_per_degree = { value: -1.98, sigma: 0.04, low: -2.06, high: -1.9 };
  d.voices[0].line.stage.away_cents = { value: -13.2, sigma: 1, low: -15.2, high: -11.2 };
  change(d);
  return decodeDrift(d);
};

test("the answer a player needs: which voices leave their tolerance on stage, and by how much to bend now", () => {
  const s = reduce(start(), { type: "drift", drift: drift() });
  assert.equal(said(s), "It leaves ±10 c at 29 °C | plank: bend it 13 c higher now.");
  assert.match(said(s, de), /^Sie verlässt ±10 c bei 29 °C \| plank: jetzt 13 c höher verschieben\./);
  const two = drift((d) => d.voices.push({ ...d.voices[0], voice: "slate" }));
  assert.match(said(reduce(s, { type: "drift", drift: two })), /^2 of 2 leave ±10 c at 29 °C \| plank: .* slate: /);
  const calm = reduce(s, { type: "drift", drift: drift((d) => (d.voices[0].line.stage.leaves = false)) });
  assert.match(said(calm, fr), /^Elle reste dans ±10 c à 29 °C/);
});

test("without a stage the line is told, no finer than it is known, and what stands beside it", () => {
  const s = reduce(start(), { type: "drift", drift: drift((d) => (d.voices[0].line.stage = null)) });
  assert.match(said(s, en, "plank"), /^plank, 1\.98 c lower a degree ±0\.05 \| It lags about 23 min behind the air: let it settle\. Physics expects −2\.02 c a degree of wood\. One reading lies apart/);
  assert.match(said(s, en, "new"), /^new: no line yet \| /);
  assert.match(said(start()), /^How does it drift\?/);
  assert.equal(slopeOf(en, { value: 2.9, sigma: 0.31, low: 2.4, high: 3.4 }).perDegree, "2.9 c higher a degree");
  assert.equal(slopeOf(en, { value: 2.9, sigma: 0.31, low: 2.4, high: 3.4 }).about, "±0.4");
  assert.equal(slopeOf(en, { value: 2.9, sigma: 0.1, low: -36.3, high: 42.1 }).about, "±20", "an interval wider than sigma is not hidden");
});

test("the plot shows the voice that was chosen, else the one that is followed", () => {
  const d = drift((x) => (x.follow = "new"));
  assert.equal(voiceShown(d, null)?.voice, "new");
  assert.equal(voiceShown(d, "plank")?.voice, "plank");
  assert.equal(voiceShown(d, "gone")?.voice, "new");
  assert.equal(voiceShown(null, null), null);
});

test("the band is narrowest at the mean temperature and holds the line", () => {
  const c = driftCurve(drift((d) => (d.voices[0].line.stage = null)).voices[0]!);
  const mean = c.at(21.7);
  assert(Math.abs(mean.cents) < 1e-9 && mean.high > 0);
  const far = c.at(31.7);
  assert(Math.abs(far.cents + 19.8) < 1e-9, `10 degrees on: got ${far.cents} c, wanted -19.8`);
  assert(far.high - far.low > mean.high - mean.low);
});

test("vessels are read as they are typed; a line that cannot be is told by its number", () => {
  assert.deepEqual(vesselsOf("wine glass, 350: 0=512.3, 120 ml = 498 Hz\n\n  milk,500:0=146"), [
    { name: "wine glass", holds_ml: 350, sounds: [{ in_ml: 0, hz: 512.3 }, { in_ml: 120, hz: 498 }] },
    { name: "milk", holds_ml: 500, sounds: [{ in_ml: 0, hz: 146 }] },
  ]);
  for (const bad of ["wine 350: 0=512", "wine, 350", "wine, 350: 0=", "wine, 0: 0=512", "wine, 350: 0=512, 3", "wine, 350: 0=0", "wine, 3.5.0: 0=512"]) assert.equal(vesselsOf(`ok, 1: 0=1\n${bad}`), 2, bad);
});

test("a row tells the next vessel and how many are done", () => {
  const row = decodeRow(read("row"));
  const s = reduce(start(), { type: "row", row });
  const say = (done: string[]) => {
    const { answer, under } = rowSayOf(en, s, done);
    return `${lineOf(answer)} | ${under.join(" ")}`;
  };
  assert.equal(say([]), "wine, A2, add 22 ml ±3 | 0 of 1 done. No vessel reaches C2.");
  assert.equal(say([rowKey(row.placed[0]!)]), "The one is done | No vessel reaches C2.");
});
