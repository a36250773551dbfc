import assert from "node:assert/strict";
import test from "node:test";
import { pot } from "./fixture.ts";
import { remarksOf } from "./motion.ts";
import { en } from "./tongue/en.ts";

test("a strike that moved says from where to where, and no digit its uncertainty does not carry", () => {
  const at = (note: string, midi: number, cents: number) => ({ note, midi, cents });
  const s = {
    ...pot(3),
    remarks: ["glide", "wobble", "roll", "damped"].map((code) => ({ code, words: "as sent" })),
    glide: { sigma_cents: 1.2, cents_per_s: -187.6, from_landing: at("D4", 62, 36.3), to_landing: at("C#4", 61, -13.7) },
    wobble: { rate_hz: 2.4567, sigma_rate_hz: 0.02, depth_cents: 19.66, sigma_depth_cents: 2 },
    roll: { strokes: 18, rate_hz: 12.345, sigma_rate_hz: 0.03 },
  };
  assert.deepEqual(remarksOf(en, s), [
    "It glides from D4, 36 c high to C sharp 4, 14 c low, 188 c a second.",
    "It wobbles 2.5 a second, 20 c to either side.",
    "A roll: 18 strokes, 12.3 a second.",
    "A hand or a support stopped it.",
  ]);
  assert.deepEqual(remarksOf(en, { ...s, glide: null, wobble: null, roll: null, remarks: s.remarks.slice(0, 1) }), ["Its pitch glides."]);
});
