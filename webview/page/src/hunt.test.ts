import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import process from "node:process";
import test from "node:test";
import { pot, vibraphone } from "./fixture.ts";
import { atHand, fullName, howFar, huntSayOf, placeName, progressOf, takeable, verdictShort } from "./hunt.ts";
import { huntPictureOf, huntRowOf, nearestTo } from "./huntpicture.ts";
import { decode, decodeDevices, decodePairing, decodeShare, decodeTold, type Strike, type Verdict, type Wanted } from "./message.ts";
import { Clock, leftOn } from "./mic.ts";
import { initial, reduce, type State } from "./state.ts";
import { de } from "./tongue/de.ts";
import { en } from "./tongue/en.ts";
import { fr } from "./tongue/fr.ts";
import { faultsIn, unitsOf } from "./view/editor.ts";
import { lineOf } from "./words.ts";

const file = (name: string) => readFileSync(`${process.cwd()}/../../testdata/wire/${name}`, "utf8");
const list = (): Wanted => (decode(file("wanted.json")) as { wanted: Wanted }).wanted;

const verdict = (change: { [K in keyof Verdict]?: Verdict[K] }): Verdict => ({
  answer: "yes", reason: "fits", place: "w1", cents: 4, sigma_cents: 0.3, tolerance_cents: 15, beats: null, guess: null, other: null, words: "", ...change,
});
const struck = (v: Verdict | null, change: { [K in keyof Strike]?: Strike[K] } = {}): State => ({
  ...initial, link: "open", wanted: list(), instrument: vibraphone(), strikes: [pot(4, 0.3, { verdict: v, ...change })],
});
const said = (s: State, t = en) => huntSayOf(t, s, null);
const line = (s: State, t = en) => lineOf(said(s, t).answer).replaceAll("\u00a0", " ");

test("a verdict is one short sentence, with the place", () => {
  for (const [v, en_, de_, fr_] of [
    [verdict({}), "Yes: A5, bent +8", "Ja: A5, verschoben +8", "Oui : la 5, décalé +8"],
    [verdict({ reason: "fills" }), "Found: A5, bent +8", "Gefunden: A5, verschoben +8", "Trouvé : la 5, décalé +8"],
    [verdict({ place: "w3" }), "Yes: 440 Hz", "Ja: 440 Hz", "Oui : 440 Hz"],
    [verdict({ answer: "nearly", reason: "near", place: "w3", cents: -21 }), "Nearly: 440 Hz, 21 c low", "Fast: 440 Hz, 21 c tiefer", "Presque : 440 Hz, 21 c plus bas"],
    [verdict({ answer: "nearly", reason: "second", place: "w3" }), "Nearly: 440 Hz", "Fast: 440 Hz", "Presque : 440 Hz"],
    [verdict({ answer: "not-wanted", reason: "far", cents: -1200 }), "Not wanted: A4", "Nicht gesucht: A4", "Non cherché : la 4"],
  ] as const)
    assert.deepEqual([line(struck(v)), line(struck(v), de), line(struck(v), fr)], [en_, de_, fr_]);
  assert.equal(line(struck(verdict({ answer: "not-wanted", reason: "no-pitch", place: null }), { heard: null, landing: null })), "Not wanted: no pitch");
});

test("what would bring it there is called a guess", () => {
  const v = verdict({ answer: "nearly", reason: "reachable", cents: 120, guess: { means: "water", likely: true } });
  const under = said(struck(v)).under.join(" ");
  assert.match(under, /It lies 120 c high; ±15 is asked for\. A guess: water moves it there, likely within reach\. Open: F sharp 4 quarter sharp bent −5\./);
  assert.match(said(struck(verdict({ answer: "nearly", reason: "near", guess: { means: "cut", likely: false } }))).under.join(" "), /A guess: cutting it shorter raises it, for good, perhaps\./);
});

test("every reason has its words, and an early one is light", () => {
  const reasons = ["fits", "better", "fills", "unsure", "split", "second", "near", "reachable", "other-kind", "filled", "no-pitch", "nothing-wanted", "far"] as const;
  for (const t of [en, de, fr])
    for (const reason of reasons) {
      const { under } = said(struck(verdict({ reason })), t);
      assert(under.length > 0 && under.every((u) => u && !/undefined|NaN|null/.test(u)), `${t.code} ${reason}: ${under.join(" | ")}`);
    }
  assert.equal(said(struck(verdict({}), { stage: "early" })).answer.guess, true);
  assert.equal(said(struck(verdict({}), { stage: "early" })).settled, false);
});

test("nothing wanted yet teaches; what is wrong comes first", () => {
  assert.equal(line({ ...struck(null), wanted: { ...list(), places: [] } }), "Say what you are after");
  assert.equal(line({ ...struck(null), link: "gone" }), "ringwell has stopped");
  assert.equal(line({ ...struck(null), strikes: [] }), "Strike something");
});

test("a place is called as it is played, quarter-tones in words", () => {
  const [a, f, hz] = list().places;
  assert.equal(fullName(en, a!), "A5 bent +8");
  assert.equal(placeName(en, f!), "F sharp 4 quarter sharp");
  assert.equal(placeName(de, f!), "Fis4 Viertel höher");
  assert.equal(placeName(en, hz!), "440 Hz");
});

test("progress counts objects; what is ticked off counts as found", () => {
  const { found, all, open } = progressOf(list());
  assert.deepEqual([found, all, open.map((p) => p.id)], [2, 4, ["w2"]]);
});

test("one key takes what fits or nearly does, and nothing else", () => {
  for (const [v, want] of [
    [verdict({}), true],
    [verdict({ answer: "nearly", reason: "near" }), true],
    [verdict({ answer: "not-wanted", reason: "far" }), false],
    [verdict({ reason: "fills" }), false],
    [verdict({ place: null }), false],
    [null, false],
  ] as const)
    assert.equal(takeable(v), want);
});

test("far places are told in semitones", () => {
  assert.equal(howFar(en, -1400, 0.3), "14 semitones lower");
  assert.equal(howFar(en, 41, 0.3), "41 c high");
});

test("the rail has a flag for each place, and the row what fills it", () => {
  const s = struck(verdict({ cents: 4 }));
  const scene = { strike: s.strikes[0]!, instrument: s.instrument, aims: true, target: null, bend: 0, tolerance: 10, zoom: 1, deaf: false, example: false };
  const p = huntPictureOf(en, s, scene, null);
  assert.deepEqual(p.flags!.map((f) => f.found), [true, false, true]);
  assert(p.flags!.every((f) => f.at >= p.span.lo && f.at <= p.span.hi), "every flag can be seen");
  assert.equal(p.flags![0]!.bend, 8);
  assert.equal(p.tethers.length, 0, "an octave away nothing is tied");
  const row = huntRowOf(list().places[0]!, 440, null);
  assert.equal(row.stones.length, 1);
  assert(Math.abs(row.stones[0]!.at - row.picture.aim!.at + 7.58419) < 1e-9);
});

test("the nearest is the nearest of those that fill nothing", () => {
  const w = list();
  const [near, far] = [pot(10, 0.3, { id: "b" }), pot(40, 0.3, { id: "a" })];
  assert.equal(nearestTo(w.places[2]!, w, [far, near])?.strike.id, "b");
  assert.equal(nearestTo(w.places[0]!, w, [far, near]), null);
});

test("the list with the higher revision holds, and the open row is at hand", () => {
  const s = struck(verdict({ place: "w2" }));
  assert.equal(reduce(s, { type: "wanted", wanted: { ...list(), revision: 1 } }).wanted!.revision, list().revision);
  assert.equal(atHand(s, null)?.id, "w2");
  assert.equal(atHand(s, "w3")?.id, "w3");
  assert.equal(verdictShort(en, s.strikes[0]!, null), "A4");
});

test("a fault's line and column are found in the text, whatever signs it holds", () => {
  const text = "A4 # 🎵\n🎵🎵 what";
  const [from, to] = unitsOf(text, 2, 4, 4);
  assert.equal(text.slice(from, to), "what");
});

test("a fault goes with its line while the list is typed, and goes away with it", () => {
  const w = { ...list(), text: "A4\nwhat\nB4\n", errors: [{ line: 2, column: 1, length: 4, words: "?" }] };
  const lines = (text: string) => faultsIn(text, w).map((f) => f.line);
  assert.deepEqual([lines(w.text), lines("C4\nA4\nwhat\n"), lines("what"), lines("A4\nwhats\nB4\n"), lines("")], [[2], [3], [1], [], []]);
});

test("French binds its high punctuation to the word before, also in what is put together", () => {
  assert.equal(fr.hunt.said("Oui", "la 5"), "Oui\u00a0: la 5");
  assert.equal(fr.knock, "Pas de hauteur\u00a0: un choc");
  assert.equal(fr.hunt.helpLines.length, en.hunt.helpLines.length);
});

test("the answers about doors are read as Go writes them", () => {
  const answer = (name: string): unknown => JSON.parse(file(`answers/${name}.json`));
  assert.equal(decodeShare(answer("share")).urls.length, 3);
  assert.equal(decodeShare(answer("share-off")).fingerprint, null);
  assert.match(decodeShare(answer("share-away")).device!.name, /^blue phone/);
  assert.equal(decodeDevices(answer("devices")).length, 1);
  assert.match(decodePairing(answer("pairing")).url, /#A+$/);
  assert.equal(decodeTold(file("ear/told.json"))?.lost_samples, 23040);
  assert.equal(decodeTold(file("state.json")), null);
});

test("what a browser left on is what it does not deny; time the clock stood still is added", () => {
  assert.deepEqual(leftOn({ echoCancellation: false, noiseSuppression: true }), ["noiseSuppression", "autoGainControl"]);
  const c = new Clock(48000);
  c.runs(true, 0);
  c.runs(false, 1000);
  c.runs(false, 1400);
  c.runs(true, 1500);
  assert.equal(c.missed, 24000);
});
