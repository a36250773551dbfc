import assert from "node:assert/strict";
import test from "node:test";
import { against, decimals, distance, doubt, earned, signed, step } from "./number.ts";

test("a distance shows no digit that its uncertainty does not earn", () => {
  for (const [cents, sigma, wanted] of [
    [12.04, 0.3, "12"],
    [12.04, 0.05, "12.0"],
    [-12.34, 0.1, "12.3"],
    [12.34, 3, "12"],
    [12.34, 26, "10"],
    [4, 26, "0"],
    [0.2, 0.3, "0"],
    [0.04, 0.02, "0"],
    [12.34, null, "10"],
    [-99.96, 0.01, "100.0"],
  ] as const)
    assert.equal(distance(cents, sigma, "."), wanted, `${cents} c ± ${sigma}`);
  assert.equal(distance(12.34, 0.1, ","), "12,3");
});

test("the last digit shown never grows finer as the uncertainty grows", () => {
  let last = 0;
  for (let s = 0.001; s < 100; s *= 1.3) {
    assert(step(s) >= last, `${s} c: step ${step(s)} after ${last}`);
    last = step(s);
  }
});

test("an uncertainty has one digit and is never nothing", () => {
  for (const [sigma, wanted] of [
    [0, "0.1"],
    [0.04, "0.1"],
    [0.3, "0.3"],
    [0.31, "0.4"],
    [0.89, "0.9"],
    [0.91, "1"],
    [3.4, "4"],
    [9.1, "10"],
    [26, "30"],
    [91, "100"],
  ] as const)
    assert.equal(doubt(sigma, "."), wanted, `${sigma} c`);
});

test("the clock of a sound card adds in quadrature, 29 ppm as 0.05 c", () => {
  // 29 ppm: 1200 log2(1.000029) = 0.0502 c (closed form).
  assert(Math.abs(against(0, 29)! - 0.0502) < 0.0001, `got ${against(0, 29)}`);
  assert.equal(against(0.3, 0), 0.3);
  assert.equal(against(null, 29), null);
});

test("times and beats keep the decimals that are earned", () => {
  assert.equal(earned(1.934, 0.02, 1, "."), "1.9");
  assert.equal(earned(1.934, 0.4, 1, "."), "1.9");
  assert.equal(earned(1.934, 0.6, 1, "."), "2");
  assert.equal(earned(1.404, 0.03, 2, ","), "1,40");
  assert.equal(earned(14.2, null, 1, "."), "14");
});

test("signs: a true minus, a plus where it is asked for", () => {
  assert.equal(decimals(-3, 0, "."), "−3");
  assert.equal(signed(30, "."), "+30");
  assert.equal(signed(-12.5, ","), "−12,5");
  assert.equal(signed(0, "."), "0");
});
