// The shelf in words: whose voice a strike is, whether it still sounds as it did, and what differs between two.

import type { Health, Strike } from "./message.ts";
import { decimals } from "./number.ts";
import type { Comparison, Delta } from "./shelfform.ts";
import type { Tongue } from "./tongue/tongue.ts";

/** "jar 7, rim", one or the other, or that the shelf does not know it; "" where nothing can be said. */
export function whoOf(t: Tongue, k: Strike): string {
  if (k.kept) return t.shelf.keptAs(k.kept.label);
  const r = k.recognised;
  if (!r) return "";
  if (r.answer === "new" || r.candidates.length === 0) return t.shelf.unknown;
  return r.candidates.map((c) => c.label).slice(0, r.answer === "known" ? 1 : 2).join(` ${t.shelf.or} `);
}

/** What has changed, and what to do about it. */
export function healthWords(t: Tongue, h: Health): string[] {
  const hz = (f: number) => t.hz(decimals(f, 0, t.mark));
  const one = (c: Health["changes"][number]): string => {
    switch (c.what) {
      case "fell":
        return t.shelf.fell(hz(c.frequency_hz), decimals(Math.abs(c.by), 0, t.mark));
      case "split":
        return t.shelf.split(hz(c.frequency_hz), decimals(c.by, 1, t.mark));
      case "shorter":
        return t.shelf.shorter(hz(c.frequency_hz), decimals(c.by, 1, t.mark));
      case "unlike":
        return t.shelf.unlike;
    }
  };
  return h.suspect ? [...h.changes.map(one), t.shelf.look] : [];
}

/** What differs beyond chance, a sentence each; b against a. */
export function differences(t: Tongue, c: Comparison): string[] {
  const says: string[] = [];
  for (const p of c.partials) {
    const f = p.a?.frequency_hz ?? p.b?.frequency_hz;
    if (f === undefined) continue;
    const hz = t.hz(decimals(f, 0, t.mark));
    if (p.ring_factor?.significant) says.push(t.shelf.ringsTimes(hz, deltaWords(t, p.ring_factor)));
    if (p.cents?.significant) says.push(t.shelf.liesOff(hz, decimals(Math.abs(p.cents.by), places(p.cents), t.mark), p.cents.by > 0));
    if (p.level_db?.significant) says.push(t.shelf.louderBy(hz, decimals(Math.abs(p.level_db.by), places(p.level_db), t.mark), p.level_db.by > 0));
  }
  return says;
}

/** A difference with the digits that its range leaves. */
export const deltaWords = (t: Tongue, d: Delta): string => decimals(d.by, places(d), t.mark);

const places = (d: Delta): number => {
  const half = (d.high - d.low) / 2;
  return half > 0 ? Math.min(2, Math.max(0, -Math.floor(Math.log10(half)))) : 0;
};
