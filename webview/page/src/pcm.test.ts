import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import process from "node:process";
import test from "node:test";
import { MOST, packed } from "./pcm.ts";

test("a frame is the one Go reads", () => {
  const want = readFileSync(`${process.cwd()}/../../testdata/wire/ear/frame-float32.bin`) ;
  const got = new Uint8Array(packed(7, 6720, Float32Array.of(0, 0.5, -0.5, 0.25, -1, 0.999969482421875)));
  assert.deepEqual([...got], [...want]);
});

test("a frame that cannot be one is not made", () => {
  for (const n of [0, MOST + 1]) assert.throws(() => packed(0, 0, new Float32Array(n)), RangeError);
  assert.equal(packed(2 ** 32 + 1, 2 ** 40, new Float32Array(MOST)).byteLength, 16 + 4 * MOST);
});
