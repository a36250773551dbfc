import assert from "node:assert/strict";
import test from "node:test";
import { between, hzOf, near, perCent, pinched, placeAt, placeOf, pxOf, scaleOf, stopNear, whole } from "./scale.ts";

const close = (got: number, wanted: number, tolerance: number, what: string) =>
  assert(Math.abs(got - wanted) <= tolerance, `${what}: got ${got}, wanted ${wanted} ± ${tolerance}`);

test("places: A4 is 6900 on any reference, an octave is 1200, and back again", () => {
  assert.equal(placeOf(442, 442), 6900);
  assert.equal(placeOf(880, 440), 8100);
  // Middle C in equal temperament on 440 Hz: 261.626 Hz (from memory of MIDI tables, unchecked).
  close(placeOf(261.626, 440), 6000, 0.01, "261.626 Hz in cents");
  for (const hz of [20, 261.6, 4186, 15000]) close(hzOf(placeOf(hz, 431), 431), hz, hz * 1e-12, `${hz} Hz there and back`);
});

test("px: the ends stand a pad away from the edges, equal cents are equal px, and back again", () => {
  const s = scaleOf({ lo: 6730, hi: 7070 }, 1280);
  close(pxOf(s, 6730), s.pad, 1e-9, "left end in px");
  close(pxOf(s, 7070), 1280 - s.pad, 1e-9, "right end in px");
  close(pxOf(s, 6912) - pxOf(s, 6900), 12 * perCent(s), 1e-9, "12 c in px");
  for (const px of [0, 1, 333.3, 1280]) close(pxOf(s, placeAt(s, px)), px, 1e-9, "px there and back");
});

test("px: a window narrower than its pads still has a scale that grows", () => {
  const s = scaleOf({ lo: 0, hi: 100 }, 40);
  assert(perCent(s) > 0, `px a cent: got ${perCent(s)}, wanted more than 0`);
});

test("near: about three semitones round the aim, reaching on to what lies a little outside", () => {
  assert.deepEqual(near(6900), { lo: 6730, hi: 7070 });
  assert.deepEqual(near(6900, [6912]), { lo: 6730, hi: 7070 });
  assert.deepEqual(near(6900, [7200]), { lo: 6730, hi: 7260 });
  assert.deepEqual(near(6900, [9300]), { lo: 6730, hi: 7070 }, "two octaves away is not near");
});

test("whole: from the lowest to the highest note and to a stone beyond", () => {
  assert.deepEqual(whole(5300, 8900), { lo: 5240, hi: 8960 });
  assert.deepEqual(whole(5300, 8900, [9792]), { lo: 5240, hi: 9852 });
});

test("between: stops are the stops, the width grows by equal factors, the aim stays in", () => {
  const a = near(6900);
  const b = whole(5300, 8900);
  assert.deepEqual(between(a, b, 0), a);
  assert.deepEqual(between(a, b, 1), b);
  const widths = [0, 0.25, 0.5, 0.75, 1].map((z) => between(a, b, z)).map((s) => s.hi - s.lo);
  for (let i = 2; i < widths.length; i++) close(widths[i]! / widths[i - 1]!, widths[1]! / widths[0]!, 1e-9, "factor a step");
  for (let z = 0; z <= 1; z += 0.05) {
    const s = between(a, b, z);
    assert(s.lo <= 6900 && s.hi >= 6900, `zoom ${z}: ${s.lo}..${s.hi} has lost the aim`);
  }
});

test("pinch: apart is nearer, together is wider, what makes no sense changes nothing", () => {
  const a = near(6900);
  const b = whole(5300, 8900);
  assert(pinched(0.5, 1.5, a, b) < 0.5);
  assert(pinched(0.5, 0.7, a, b) > 0.5);
  const before = between(a, b, 0.5);
  const after = between(a, b, pinched(0.5, 2, a, b));
  close((before.hi - before.lo) / (after.hi - after.lo), 2, 1e-9, "fingers twice as far apart: the stretch");
  assert.equal(pinched(0.1, 100, a, b), 0);
  assert.equal(pinched(0.5, 0, a, b), 0.5);
  assert.equal(pinched(0.5, NaN, a, b), 0.5);
  assert.equal(stopNear(0.05), 0);
  assert.equal(stopNear(0.95), 1);
  assert.equal(stopNear(0.5), 0.5);
});
