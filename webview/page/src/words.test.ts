import assert from "node:assert/strict";
import test from "node:test";
import { jar, knock, pot, vibraphone } from "./fixture.ts";
import type { Strike } from "./message.ts";
import { de } from "./tongue/de.ts";
import { en } from "./tongue/en.ts";
import { fr } from "./tongue/fr.ts";
import { instrumentName, noteName, tongueFor, TONGUES, type Tongue } from "./tongue/tongue.ts";
import { answerOf, comparedOf, lineOf, readOf, ringWords, spokenOf, underOf as sentences } from "./words.ts";

const inst = vibraphone();
const underOf = (...a: Parameters<typeof sentences>) => sentences(...a).join(" ");
const line = (s: Strike, t: Tongue = en) => lineOf(answerOf(t, s, inst));

test("the answer says what it is and what it lacks", () => {
  for (const [s, wanted] of [
    [pot(12.04), "A4, 12 c high ±0.3"],
    [pot(-31.4, 2), "A4, 31 c low ±2"],
    [pot(12.04, 0.08), "A4, 12.0 c high ±0.1"],
    [pot(0.1), "A4, on it ±0.3"],
    [pot(12.04, 26, { stage: "early" }), "A4, about 10 c high"],
    [pot(2, 26, { stage: "early" }), "A4, or near it"],
    [pot(21.9, 0.05, { stage: "early" }), "A4, about 22 c high"],
    [pot(48), "Between A4 and B flat 4"],
    [pot(-47), "Between G sharp 4 and A4"],
    [pot(48, 0.3, { stage: "early" }), "A4, about 48 c high"],
    [pot(4, 0.3, {}, { bend_cents: 30 }), "A4 +30, 4 c high ±0.3"],
    [pot(120, 0.3, {}, { aim: "note", nearest: { note: "A#4", midi: 70, cents: 20 } }), "A4, 120 c high ±0.3"],
    [pot(780, 0.3, {}, { aim: "note", nearest: { note: "F5", midi: 77, cents: -20 } }), "F5, 20 c low ±0.3"],
    [pot(12, 0.3, {}, { aim: "none" }), "Rings 1.9 s, at A4"],
    [knock(), "No pitch: a knock"],
    [{ ...knock(), rings_s: 2.4 }, "No one pitch"],
  ] as const)
    assert.equal(line(s), wanted);
});

test("beyond the range it says so, where the instrument ends and what it would be inside", () => {
  const s = pot(-8, 0.3, {}, { note: "D7", midi: 98, inside: false, edge: { note: "F6", cents: 892 }, nearest: { note: "D7", midi: 98, cents: -8 } });
  assert.equal(line(s), "D7, above its top note");
  assert.equal(underOf(en, s, inst), "The vibraphone ends at F6, 9 semitones lower. An octave down it would be D6, 8 c low. Rings 1.9 s.");
  const low = pot(3, 0.3, {}, { note: "C3", midi: 48, inside: false, edge: { note: "F3", cents: -497 }, nearest: { note: "C3", midi: 48, cents: 3 } });
  assert.equal(line(low), "C3, below its lowest note");
  assert.match(underOf(en, low, inst), /begins at F3, 5 semitones higher\. An octave up it would be C4, 3 c high\./);
});

test("under the answer: what is wrong first, then who else is heard, then the ring", () => {
  const clipped = pot(12, 0.3, { remarks: [{ code: "clipped", words: "" }] });
  assert.match(underOf(en, clipped, inst), /^Too loud: the top was cut off/);
  assert.match(underOf(en, pot(12, 0.3, { remarks: [{ code: "beside", words: "" }] }), inst), /^[^S].*Something else was still ringing\.$/);
  assert.match(underOf(en, pot(12, 0.3, { remarks: [{ code: "new", words: "It hums." }] }), inst), /^It hums\./);
  assert.equal(underOf(en, pot(12, 26, { stage: "early" }), inst), en.listening);
  assert.match(underOf(en, jar(), inst), /Some will hear C7, 5 c low\./);
  assert.match(underOf(en, jar(), inst), /Two stones that beat 1\.4 a second\./);
  assert.match(underOf(en, knock(), inst), /Too short to place\. Let it hang free/);
  assert.match(underOf(en, { ...knock(), rings_s: 0.06 }, inst), /It rang 60 ms/);
  assert.match(underOf(en, { ...jar(), heard: { ...jar().heard!, basis: "strike-note" } }, inst), /A strike note \(no partial there\)\./);
  assert.match(underOf(en, pot(3, 0.3, {}, { within: true, tolerance_cents: 5 }), inst), /Within the ±5 c asked for\./);
  for (const t of TONGUES)
    for (const s of [jar(), clipped, knock(), pot(12)])
      assert(sentences(t, s, inst)[0]!.length <= 120, `${t.code}: too long for two lines: ${sentences(t, s, inst)[0]}`);
});

test("German and French have their own names, marks and words", () => {
  assert.equal(line(pot(12.34, 0.1), de), "A4, 12,3 c höher ±0,1");
  assert.equal(line(pot(12.04), fr), "la 4, 12 c plus haut ±0,3");
  assert.equal(line(pot(48), de), "Zwischen A4 und B4");
  assert.equal(line(pot(48), fr), "Entre la 4 et si bémol 4");
  assert.equal(de.said(71), "H4");
  assert.equal(de.said(70), "B4");
  assert.equal(en.written(70), "B♭4");
  assert.equal(fr.written(66), "fa♯ 4");
  assert.equal(en.said(0), "C-1");
  assert.equal(noteName(en, "said", 60, "C4 with bolt"), "C4 with bolt");
  assert.equal(instrumentName(de, "marimba 4.3"), "Marimba 4,3");
  assert.equal(instrumentName(fr, "theremin"), "theremin");
});

test("the tongue: asked for first, then the browser's, then English", () => {
  assert.equal(tongueFor(null, ["de-AT", "en"]).code, "de");
  assert.equal(tongueFor("fr", ["de"]).code, "fr");
  assert.equal(tongueFor(null, ["fi", "fr-CA"]).code, "fr");
  assert.equal(tongueFor("xx", []).code, "en");
});

test("no tongue says decibels full scale, T60 or sigma", () => {
  for (const t of TONGUES) {
    const words = [pot(12), jar(), knock(), pot(48)].flatMap((s) => [line(s, t), underOf(t, s, inst), readOf(t, s, inst)]).join(" ");
    assert(!/dBFS|T60|sigma|σ|NaN|undefined|null/i.test(words), `${t.code}: ${words}`);
  }
});

test("how long it rings", () => {
  assert.equal(ringWords(en, 0.061, 0.01), "60 ms");
  assert.equal(ringWords(en, 1.9, 0.02), "1.9 s");
  assert.equal(ringWords(de, 1.9, null), "1,9 s");
  assert.equal(ringWords(en, 14.3, 1), "14 s");
});

test("beside another strike the clock cancels, and a ring is longer only if it surely is", () => {
  const a = pot(12, 0.3, { clock_ppm: 1000 });
  const b = pot(-31, 0.4, { clock_ppm: 1000, rings_s: 1.3, partials: [{ ...pot(-31).partials[0]!, t60_s: 1.3, sigma_t60_s: 0.02 }] });
  assert.equal(comparedOf(en, a, b, "flowerpot"), "Beside flowerpot: 43 c higher ±0.5, rings 0.6 s longer.");
  assert.equal(comparedOf(en, b, a, "flowerpot"), "Beside flowerpot: 43 c lower ±0.5, rings 0.6 s shorter.");
  assert.equal(comparedOf(en, a, a, "itself"), "Beside itself: at the same place ±0.5.");
  assert.equal(comparedOf(en, a, knock(), "knock"), null);
});

test("spoken, signs are words", () => {
  assert.equal(spokenOf(en, answerOf(en, pot(12.04), inst)), "A4, 12 cents high plus or minus 0.3");
  assert.equal(spokenOf(de, answerOf(de, pot(12.04), inst)), "A4, 12 Cent höher plus minus 0,3");
});
