import assert from "node:assert/strict";
import test from "node:test";
import { broken, largest, LEADING, type Part } from "./fit.ts";
import { plain, type Answer } from "./words.ts";

const a: Answer = { what: "B flat 4", lack: "12 c high", doubt: "±0.3", guess: false, note: true };
const width = (line: Part[]) => line.map((p) => p.text).join(" ").length * 0.5; // every sign half as wide as high

test("it fits, and no other way of setting it would be larger by a line more or less", () => {
  for (const [W, H] of [[1280, 800], [390, 844], [844, 390], [1920, 1080]] as const) {
    const { lines, size } = largest(a, W, H, width);
    for (const l of lines) assert(width(l) * size <= W + 1e-6, `${W}x${H}: a line of ${width(l) * size} px`);
    assert(lines.length * LEADING * size <= H + 1e-6, `${W}x${H}: ${lines.length} lines of ${size} px`);
    assert.equal(lines.flat().map((p) => p.text).join(" ").replace("\u00a0", " "), "B flat 4, 12 c high ±0.3");
  }
});

test("upright it takes more lines than lying", () => {
  const lines = (W: number, H: number) => largest(a, W, H, width).lines.length;
  assert(lines(390, 844) > lines(1280, 400));
});

test("every way to break is tried once, and nothing is lost", () => {
  const ways = broken(["a", "b", "c", "d"], 3).map((lines) => lines.map((l) => l.join("")).join("/"));
  assert.deepEqual(ways.sort(), ["a/b/cd", "a/bc/d", "a/bcd", "ab/c/d", "ab/cd", "abc/d", "abcd"]);
  assert.equal(largest(plain("Knock"), 100, 100, width).lines.length, 1);
});
