import assert from "node:assert/strict";
import test from "node:test";
import { hello, jar, knock, pot } from "./fixture.ts";
import type { Level, Strike } from "./message.ts";
import { HELD, initial, reduce, shown, trailOf, type State } from "./state.ts";

const at = 1_000_000_000_000;
const strike = (s: State, k: Strike, when = at) => reduce(s, { type: "message", message: { type: "strike", strike: k }, at: when });
const named = (id: string, revision = 1, change: { [K in keyof Strike]?: Strike[K] } = {}) => ({ ...pot(12), id, revision, time: null, ...change });
const started = () => reduce(initial, { type: "message", message: { ...hello(), strikes: [] }, at });
const ids = (k: readonly Strike[]) => k.map((x) => x.id);

test("a strike is shown, told again in place, and joins the trail when the next comes", () => {
  let s = strike(started(), named("a"));
  assert.equal(shown(s)?.id, "a");
  s = strike(s, named("a", 2, { stage: "settled" }));
  assert.equal(shown(s)?.revision, 2);
  s = strike(s, named("b"));
  assert.equal(shown(s)?.id, "b");
  assert.deepEqual(ids(trailOf(s)), ["a"]);
});

test("an older telling that comes late changes nothing", () => {
  const s = strike(started(), named("a", 3));
  assert.equal(strike(s, named("a", 2)), s);
});

test("what is taken back is forgotten, and says so until the next strike", () => {
  let s = strike(strike(started(), named("a")), named("b"));
  s = strike(s, { ...knock(), id: "b", revision: 2, stage: "withdrawn" });
  assert.equal(shown(s), null);
  assert(s.takenBack);
  assert.deepEqual(ids(trailOf(s)), ["a"]);
  s = strike(s, named("a", 2));
  assert(s.takenBack, "a telling of an older strike is no new strike");
  s = strike(s, named("c"));
  assert.equal(shown(s)?.id, "c");
});

test("frozen, the answer stays and new strikes join the trail", () => {
  let s = strike(started(), named("a"));
  s = reduce(s, { type: "session", session: { ...s.session!, revision: 9, frozen: true, frozen_id: "a" } });
  s = strike(s, named("b"));
  assert.equal(shown(s)?.id, "a");
  assert.deepEqual(ids(trailOf(s)), ["b"]);
});

test("a session that comes late loses", () => {
  let s = started();
  s = reduce(s, { type: "session", session: { ...s.session!, revision: 5, bend_cents: 30 } });
  s = reduce(s, { type: "session", session: { ...s.session!, revision: 4, bend_cents: 0 } });
  assert.equal(s.session?.bend_cents, 30);
});

test("after a loss the daemon's answer is the whole truth about what follows", () => {
  let s = started();
  for (const id of ["a", "b", "c"]) s = strike(s, named(id));
  s = reduce(s, { type: "caught-up", after: "a", answer: { until: "d", strikes: [named("d")] }, at });
  assert.deepEqual(ids(s.strikes), ["a", "d"]);
  s = strike(s, named("f")); // began after the daemon answered
  s = reduce(s, { type: "caught-up", after: "a", answer: { until: "e", strikes: [named("e")] }, at });
  assert.deepEqual(ids(s.strikes), ["a", "e", "f"]);
  s = reduce(s, { type: "caught-up", after: null, answer: { until: "f", strikes: [] }, at });
  assert.deepEqual(ids(s.strikes), []);
});

test("a daemon that comes back replaces everything; another version makes the page outdated", () => {
  let s = strike(started(), named("a"));
  s = reduce(s, { type: "link", link: "gone" });
  assert.equal(shown(s)?.id, "a", "what was heard stays readable");
  s = reduce(s, { type: "message", message: { ...hello(), strikes: [named("z")] }, at });
  assert.deepEqual([ids(s.strikes), s.outdated], [["z"], false]);
  s = reduce(s, { type: "message", message: { ...hello(), version: "9" }, at });
  assert(s.outdated);
});

test("a ring is as old as the sound it rests on, whatever delays its messages", () => {
  let s = strike(started(), named("a", 1, { used_s: 0.05 }), at);
  assert.equal(s.onsets.get("a"), at - 50);
  s = strike(s, named("a", 2, { used_s: 0.5 }), at + 450 + 80); // 80 ms late
  assert.equal(s.onsets.get("a"), at - 50);
  const old = new Date(at - 60_000).toISOString();
  s = strike(s, named("b", 1, { used_s: 0.05, time: old }), at); // the daemon's clock is a minute slow
  assert.equal(s.onsets.get("b"), at - 50);
  s = reduce(s, { type: "caught-up", after: "b", answer: { until: "c", strikes: [named("c", 1, { used_s: 0.05, time: old })] }, at });
  assert.equal(s.onsets.get("c"), at - 60_000, "fetched later");
  s = strike(reduce(s, { type: "thrown", strike: named("b") }), named("b", 1, { used_s: 0.05, time: old }), at + 9000);
  assert.equal(s.onsets.get("b"), at - 60_000, "taken back, it is as old as it is");
});

test("lost sound adds up over sources and is dated", () => {
  const level = (s: State, lost: number, when: number) =>
    reduce(s, { type: "message", message: { type: "level", level: { peak: 0, rms: 0, clipped: false, lost, muted: false, ringing: false } satisfies Level }, at: when });
  let s = level(level(started(), 96, 1), 96, 2);
  assert.deepEqual(s.lost, { samples: 96, at: 1 });
  s = level(s, 10, 3); // a new source counts anew
  assert.deepEqual(s.lost, { samples: 106, at: 3 });
});

test("thrown away and taken back", () => {
  let s = strike(strike(started(), named("a")), jar());
  s = reduce(s, { type: "thrown", strike: named("a") });
  assert.deepEqual([ids(s.strikes), s.thrown?.id], [[jar().id], "a"]);
  s = strike(s, named("a"));
  assert.equal(s.thrown, null);
});

test("the page does not grow without end", () => {
  let s = started();
  for (let i = 0; i < HELD + 50; i++) s = strike(s, named(String(10000 + i)));
  assert.equal(s.strikes.length, HELD);
  assert.equal(s.onsets.size <= HELD + 1, true);
});
