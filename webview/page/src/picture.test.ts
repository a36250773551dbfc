import assert from "node:assert/strict";
import test from "node:test";
import { jar, knock, pot, vibraphone } from "./fixture.ts";
import { loudness, pictureOf, type Scene } from "./picture.ts";
import { en } from "./tongue/en.ts";

const scene = (change: { [K in keyof Scene]?: Scene[K] } = {}): Scene => ({
  strike: null, instrument: vibraphone(), aims: true, target: null, bend: 0, tolerance: 10, zoom: 0, deaf: false, example: false, ...change,
});
const close = (got: number | undefined, wanted: number, what: string) => assert(got !== undefined && Math.abs(got - wanted) < 0.01, `${what}: got ${got}, wanted ${wanted}`);

test("the heard stone is tied to its post, by the distance in the answer", () => {
  const p = pictureOf(en, scene({ strike: pot(12.04, 0.3, {}, { tolerance_cents: 10 }) }));
  close(p.aim?.at, 6900, "aimed place");
  assert.equal(p.aim?.tolerance, 10);
  close(p.stones.find((s) => s.role === "heard")?.at, 6912.04, "heard place");
  assert.deepEqual(p.tethers.map((t) => t.tell), ["12 c"]);
  assert.deepEqual(p.posts.filter((x) => x.aimed).map((x) => x.name), ["A4"]);
});

test("of a pair that beats both stones know where they touch, and the tether tells the pitch between them", () => {
  const s = jar();
  const p = pictureOf(en, scene({ strike: { ...s, heard: { ...s.heard!, frequency_hz: 884.9 } } }));
  const [a, b] = p.stones.filter((x) => x.pair);
  assert.equal(a!.pair!.side + b!.pair!.side, 0);
  assert.equal(a!.pair!.at, b!.pair!.at);
  assert.deepEqual([a!.say, b!.say], ["beats 1.4 a second", null], "the beat is written once");
  close(p.tethers[0]?.at, 6900 + 1200 * Math.log2(884.9 / 442), "the tether's place");
});

test("a place that is hardly known is not tied", () => {
  assert.equal(pictureOf(en, scene({ strike: pot(12, 26, { stage: "early" }) })).tethers.length, 0);
});

test("without an aim nothing is aimed at, and nothing is tied", () => {
  const p = pictureOf(en, scene({ aims: false, strike: pot(12, 0.3, {}, { aim: "none" }) }));
  assert.deepEqual([p.aim, p.tethers.length, p.posts.some((x) => x.aimed)], [null, 0, false]);
});

test("a bend moves the aim off its post", () => {
  const p = pictureOf(en, scene({ bend: 30, strike: pot(-18, 0.3, {}, { bend_cents: 30, target_hz: 442 * 2 ** (30 / 1200) }) }));
  close(p.aim?.at, 6930, "bent place");
  close(p.aim?.post, 6900, "post");
  assert.equal(p.posts.find((x) => x.aimed)?.name, "A4");
});

test("beyond the range the tether goes to the last post, and both are in view", () => {
  const s = pot(2892, 0.3, {}, { note: "D7", midi: 98, inside: false, edge: { note: "F6", cents: 892 }, nearest: { note: "D7", midi: 98, cents: -8 } });
  for (const zoom of [0, 0.5, 1]) {
    const p = pictureOf(en, scene({ strike: s, zoom }));
    close(p.tethers[0]?.from, 8900, "F6");
    assert.equal(p.tethers[0]?.tell, "9 semitones");
    assert(p.span.lo <= 8900 && p.span.hi >= 9792, `zoom ${zoom}: ${p.span.lo}..${p.span.hi}`);
  }
});

test("a strike note is a stone without a partial", () => {
  const s = pot(12);
  const p = pictureOf(en, scene({ strike: { ...s, heard: { ...s.heard!, basis: "strike-note", partial: null } } }));
  const heard = p.stones.find((x) => x.role === "heard");
  assert.equal(heard?.hollow, true);
  assert.equal(p.stones.length, 2);
});

test("a steady sound rests on the partial at its pitch, if there is one", () => {
  const s = pot(12);
  const steady = (hz: number) => ({ ...s, heard: { ...s.heard!, basis: "periodic" as const, partial: null, frequency_hz: hz } });
  assert.deepEqual(pictureOf(en, scene({ strike: steady(s.heard!.frequency_hz * 1.001) })).stones.map((x) => x.role), ["heard"]);
  assert.deepEqual(pictureOf(en, scene({ strike: steady(s.heard!.frequency_hz / 2) })).stones.map((x) => x.role), ["plain", "heard"]);
});

test("a knock has no heard stone and no tether; a deaf ear shows none at all", () => {
  const k = pictureOf(en, scene({ strike: knock() }));
  assert.deepEqual([k.stones.filter((x) => x.role === "heard").length, k.tethers.length], [0, 0]);
  const d = pictureOf(en, scene({ strike: pot(12), deaf: true }));
  assert.deepEqual([d.stones.length, d.tethers.length, d.deaf], [0, 0, true]);
});

test("an empty place shows what will be there, beside the target if there is one", () => {
  const p = pictureOf(en, scene({ example: true, target: 72 }));
  assert.deepEqual([p.stones[0]?.role, p.tethers[0]?.tell], ["wanting", "how far"]);
  close(p.tethers[0]?.from, 7200, "C5");
});

test("what lies off the edges is told", () => {
  const s = pot(12);
  const far = { ...s.partials[0]!, frequency_hz: 2000, level_db: -10 };
  assert.equal(pictureOf(en, scene({ strike: { ...s, partials: [...s.partials, far] } })).higher, "1 stone higher");
});

test("ten decibels less are half as loud, and nothing vanishes", () => {
  assert.equal(loudness(0), 1);
  assert.equal(loudness(-10), 0.5);
  assert(loudness(-200) > 0);
});

test("without an instrument there are no posts, and stones still lie", () => {
  const p = pictureOf(en, scene({ instrument: null, strike: pot(12) }));
  assert.equal(p.posts.length, 0);
  assert(p.stones.every((x) => Number.isFinite(x.at)) && Number.isFinite(p.span.lo));
});

test("a note with several targets has a post at each, one with none has none", () => {
  const v = vibraphone();
  const notes = [{ midi: 60, label: "C4 bolt", written: null, targets_hz: [250, 262, 300] }, { midi: 61, label: "C#4", written: null, targets_hz: [] }];
  const p = pictureOf(en, scene({ instrument: { ...v, notes } }));
  assert.deepEqual(p.posts.map((x) => x.name), ["C4 bolt", "C4 bolt", "C4 bolt"]);
});
