import assert from "node:assert/strict";
import test from "node:test";
import type { Stone } from "../picture.ts";
import { Boxes, textBox } from "./boxes.ts";
import { groundOf, radius } from "./ground.ts";
import { levelStep, STEPS } from "./level.ts";
import { pebble } from "./pebble.ts";
import { leftOf } from "./rail.ts";

test("the ground keeps its parts apart at every size", () => {
  for (const [W, H] of [[360, 200], [390, 236], [1280, 288], [1920, 389], [3840, 620]] as const)
    for (const span of [{ lo: 6730, hi: 7070 }, { lo: 5240, hi: 8960 }])
      for (const text of [1, 2]) {
        const g = groundOf(span, W, H, text);
        assert(g.y > 0 && g.y + g.under + g.nameSize * 1.12 <= H, `${W}x${H}, text ${text}: the names run off: line at ${g.y}`);
        assert(g.natural > g.accidental && g.accidental > g.R, "posts are taller than stones");
        assert(g.R > 0 && g.px > 0);
      }
});

test("a stone's area is its loudness", () => {
  assert.equal(radius(40, 1), 40);
  assert(Math.abs(radius(40, 0.5) ** 2 / radius(40, 1) ** 2 - 0.5) < 1e-9);
  assert(radius(40, 0) > 0, "the faintest can be seen");
});

test("a stone stands flat on its foot and is as high as it should be", () => {
  const ys = (d: string) => [...d.matchAll(/-?[\d.]+ (-?[\d.]+)/g)].map((m) => Number(m[1]));
  const d = pebble(20, 5);
  assert.equal(Math.min(...ys(d)), -31); // 1.55 r
  assert(d.endsWith("Z") && !/NaN/.test(d));
});

test("a stone rings down at its own measured rate: half of it at half its time, none after", () => {
  const s = { t60: 2 } as Stone;
  assert.deepEqual([0, 1, 2, 3].map((t) => leftOf(s, t)), [1, 0.5, 0, 0]);
  assert.equal(leftOf({ t60: null } as Stone, 100), 1);
  assert.equal(leftOf(s, -1), 1);
});

test("the level has a step for every loudness, none for silence", () => {
  assert.equal(levelStep(0), 0);
  assert.equal(levelStep(NaN), 0);
  assert.equal(levelStep(1), STEPS);
  assert(levelStep(0.01) < levelStep(0.1));
});

test("words stand where nothing else does, and within the drawing", () => {
  const b = new Boxes(100);
  const at = (x: number, anchor: "start" | "middle" | "end" = "start") => textBox("four", 10, x, 20, anchor); // 20 px wide
  assert(b.free(at(10)));
  b.take(at(10));
  assert(!b.free(at(25)) && b.free(at(31)) && !b.free(at(90)) && b.free(at(100, "end")) && !b.free(at(5, "middle")));
});
