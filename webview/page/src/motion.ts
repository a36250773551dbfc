// What a strike's remarks say, in the reader's tongue; of one that moved, from where to where and how fast.

import type { Strike } from "./message.ts";
import { decimals, earned } from "./number.ts";
import type { Tongue } from "./tongue/tongue.ts";
import { placeWords } from "./words.ts";

/** What else sounded says nothing against the answer: it comes last. */
const company = (code: string): boolean => code === "same" || code === "beside";

export const remarksOf = (t: Tongue, s: Strike): string[] => s.remarks.filter((r) => !company(r.code)).map((r) => moved(t, s, r.code) ?? t.remarks[r.code] ?? r.words);

/** Whether it was struck in its own ring or in another's. */
export const companyOf = (t: Tongue, s: Strike): string[] => s.remarks.filter((r) => company(r.code)).map((r) => t.remarks[r.code] ?? r.words);

function moved(t: Tongue, s: Strike, code: string): string | null {
  const { roll, glide, wobble } = s;
  if (code === "roll" && roll?.rate_hz) return t.rolls(roll.strokes, earned(roll.rate_hz, roll.sigma_rate_hz, 1, t.mark));
  if (code === "glide" && glide?.from_landing && glide.to_landing) {
    const at = (p: typeof glide.from_landing): string => placeWords(t, p, glide.sigma_cents);
    return t.glides(at(glide.from_landing), at(glide.to_landing), decimals(Math.abs(glide.cents_per_s), 0, t.mark));
  }
  if (code === "wobble" && wobble?.rate_hz && wobble.depth_cents && wobble.depth_cents >= 1)
    return t.wobbles(earned(wobble.rate_hz, wobble.sigma_rate_hz, 1, t.mark), earned(wobble.depth_cents, wobble.sigma_depth_cents, 0, t.mark));
  return null;
}
