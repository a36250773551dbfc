import assert from "node:assert/strict";
import test from "node:test";
import { hello, knock, pot } from "./fixture.ts";
import { sayOf } from "./say.ts";
import { initial, reduce, type State } from "./state.ts";
import { de } from "./tongue/de.ts";
import { en } from "./tongue/en.ts";
import { lineOf } from "./words.ts";

const at = 1e12;
const started = (): State => {
  const h = hello();
  return reduce(initial, { type: "message", message: { ...h, strikes: [], state: { ...h.state, code: "hearing" } }, at });
};
const heard = (s: State, code: "deaf" | "silent" | "opening" | "ended" | "hearing", words: string) =>
  reduce(s, { type: "message", message: { type: "state", state: { code, source: "hall pair", sample_rate_hz: 48000, words } }, at });
const struck = (s: State) => reduce(s, { type: "message", message: { type: "strike", strike: pot(12) }, at });
const big = (s: State, t = en) => lineOf(sayOf(t, s, null).answer);

test("an empty place teaches, and what is wrong says what to do", () => {
  assert.equal(big(initial), en.connecting);
  assert.equal(big(started()), "Strike something");
  assert.equal(big(heard(started(), "opening", "")), en.opening);
  const deaf = heard(struck(started()), "deaf", "No input: plug in a microphone.");
  assert.deepEqual([big(deaf), sayOf(en, deaf, null).under[0]], ["The ear hears nothing", "No input: plug in a microphone."]);
  assert.equal(sayOf(de, deaf, null).under[0], de.deafSub);
  const gone = reduce(deaf, { type: "link", link: "gone" });
  assert.deepEqual([big(gone), sayOf(en, gone, null).under[0]], [en.gone, en.goneSub]);
});

test("it goes away by itself when it is mended", () => {
  const s = heard(heard(struck(started()), "silent", "x"), "hearing", "y");
  assert.equal(big(s), "A4, 12 c high ±0.3");
  assert.equal(big(heard(struck(started()), "ended", "over")), "A4, 12 c high ±0.3");
});

test("a note that is taken back becomes a knock", () => {
  const s = reduce(struck(started()), { type: "message", message: { type: "strike", strike: { ...knock(), id: pot(12).id, revision: 9, stage: "withdrawn" } }, at });
  assert.deepEqual([big(s), sayOf(en, s, null).under[0]], ["No pitch: a knock", en.takenBackSub]);
});

test("a refusal is said where the eyes are, and a comparison replaces the facts", () => {
  const s = struck(started());
  assert.equal(sayOf(en, reduce(s, { type: "fault", words: "There is nothing to sound yet." }), null).under[0], "There is nothing to sound yet.");
  const two = reduce(s, { type: "message", message: { type: "strike", strike: { ...pot(-31), id: "zz" } }, at });
  assert.match(sayOf(en, two, { id: pot(12).id, who: "jar" }).under[0]!, /^Beside jar: 43 c lower/);
});
