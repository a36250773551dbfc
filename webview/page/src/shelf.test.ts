import assert from "node:assert/strict";
import test from "node:test";
import { jar } from "./fixture.ts";
import { decodeComparison, type Voice } from "./shelfform.ts";
import { differences, healthWords, whoOf } from "./shelfwords.ts";
import { initial, reduce } from "./state.ts";
import { de } from "./tongue/de.ts";
import { en } from "./tongue/en.ts";
import { partOf, placeOf } from "./view.ts";
import { scales, spots } from "./view/map.ts";

const candidate = (label: string) => ({ voice: "v", object: "o", label, share: 0.5, shift_cents: 0, matched: 3 });

test("whose voice: one, one or the other, none, kept, not worked out yet", () => {
  const of = (answer: "known" | "two" | "new", ...labels: string[]) => ({ ...jar(), kept: null, recognised: { answer, candidates: labels.map(candidate) } });
  assert.equal(whoOf(en, of("known", "jar 7, rim")), "jar 7, rim");
  assert.equal(whoOf(en, of("two", "jar 7", "jar 9")), "jar 7 or jar 9");
  assert.equal(whoOf(de, of("two", "jar 7", "jar 9")), "jar 7 oder jar 9");
  assert.equal(whoOf(en, of("new")), "Not on the shelf");
  assert.equal(whoOf(en, { ...jar(), kept: null, recognised: null }), "");
  assert.equal(whoOf(en, { ...of("new"), kept: { voice: "v", object: "o", label: "jar 7", strike: "s" } }), "Kept: jar 7");
});

test("health says what changed and what to do, and nothing while nothing is suspect", () => {
  const split = { known: true, suspect: true, shift_cents: -12, changes: [{ what: "split" as const, frequency_hz: 884.2, by: 1.4 }] };
  assert.deepEqual(healthWords(en, split), ["The partial at 884 Hz beats 1.4 times a second, and did not before.", en.shelf.look]);
  assert.match(healthWords(de, split)[0]!, /884 Hz schwebt 1,4-mal/);
  assert.deepEqual(healthWords(en, { ...split, suspect: false }), []);
});

test("a comparison tells what is beyond chance, with the digits its range leaves", () => {
  const side = { strike: "a", label: "jar", time: null, temperature_c: null, gain_db: null, sound: null };
  const p = { frequency_hz: 740, level_db: 0 };
  const delta = (by: number, half: number, significant: boolean) => ({ by, low: by - half, high: by + half, significant });
  const c = decodeComparison({
    a: side, b: side, spectra: null, decay: null,
    partials: [{ a: p, b: p, cents: delta(-3.14, 5, false), level_db: null, ring_factor: delta(2.31, 0.2, true) }, { a: p, b: null, cents: delta(-12.4, 1.5, true), level_db: null, ring_factor: null }],
  });
  assert.deepEqual(differences(en, c), ["The partial at 740 Hz rings 2.3 times as long.", "The partial at 740 Hz lies 12 c lower."]);
});

const at = (pitch_hz: number | null, ring_s: number | null, level_db: number | null = -20) => ({ pitch_hz, ring_s, level_db }) as Voice;

test("the map: higher lies to the right, longer lies higher, all inside; what has no pitch lies nowhere", () => {
  const [a, b, ...more] = spots([at(440, 1), at(880, 2), at(null, 1)]);
  assert.equal(more.length, 0);
  assert(a!.x < b!.x && a!.y > b!.y, `got ${a!.x},${a!.y} and ${b!.x},${b!.y}`);
  const [one] = spots([at(440, 1)]);
  assert.deepEqual([one!.x, one!.y], [535, 137]); // alone: in the middle of what the scales leave
});

test("an address names a part of the shelf; an older telling of the shelf changes nothing", () => {
  assert.equal(placeOf("#shelf/object/x"), "shelf");
  assert.equal(partOf("#shelf/object/x"), "object/x");
  assert.equal(partOf("#shelf"), "");
  const shelf = { revision: 4 } as NonNullable<typeof initial.shelf>;
  const s = { ...initial, shelf };
  assert.equal(reduce(s, { type: "message", at: 0, message: { type: "shelf", shelf: { ...shelf, revision: 3 } } }).shelf, shelf);
});

test("the map's scales stand where voices of that pitch and ring do", () => {
  const voices = [at(261.6256, 1), at(1046.502, 3), at(500, 0.3)];
  const { notes, rings } = scales(voices, 440);
  const [c4, c6] = spots(voices);
  assert.deepEqual(notes.map((n) => n.midi), [60, 72, 84]);
  assert.deepEqual([notes[0]!.x, notes[2]!.x], [c4!.x, c6!.x]);
  assert.deepEqual(rings.map((r) => r.seconds), [0.3, 1, 3]);
  assert.equal(rings[1]!.y, c4!.y);
  assert.deepEqual(scales([], 440), { notes: [], rings: [] });
});
