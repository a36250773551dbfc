import assert from "node:assert/strict";
import test from "node:test";
import { LEAST, paced, type Paced } from "./pace.ts";

const next = (value: string, strike = "a", settled = false) => ({ value, key: value, strike, settled });

test("one strike's answer changes at most four times a second, however many tellings come", () => {
  let on: Paced<string> | null = null;
  const changes: number[] = [];
  for (let now = 0; now <= 2000; now += 10) {
    const { show }: { show: Paced<string> } = paced(on, next(String(now)), now);
    if (show.value !== on?.value) changes.push(now);
    on = show;
  }
  for (let i = 1; i < changes.length; i++) assert(changes[i]! - changes[i - 1]! >= LEAST, `changed at ${changes}`);
  assert.equal(changes.length, 9, `in two seconds, changed at ${changes}`);
});

test("another strike, and settling, show at once", () => {
  const a = paced(null, next("early"), 0).show;
  assert.equal(paced(a, next("other", "b"), 10).show.value, "other");
  assert.equal(paced(a, next("settled", "a", true), 10).show.value, "settled");
});

test("showing the same again costs nothing of the pace", () => {
  let on = paced(null, next("1"), 0).show;
  for (let now = 0; now < 400; now += 50) on = paced(on, next("1"), now).show;
  assert.equal(paced(on, next("2"), 400).show.value, "2");
});

test("what has to wait is asked for again in time", () => {
  const a = paced(null, next("1", "a", true), 0).show;
  const { show, wait } = paced(a, next("2", "a", true), 100);
  assert.equal(show, a);
  assert.equal(paced(show, next("2", "a", true), 100 + wait).show.value, "2");
});
