// Which tongue the page speaks.

import { de } from "./de.ts";
import { en, type Tongue } from "./en.ts";
import { fr } from "./fr.ts";

export type { Tongue };

/** The tongues there are, in the order they are offered. */
export const TONGUES: readonly Tongue[] = [en, de, fr];

/** The tongue asked for, else the first of the browser's languages that is spoken here, else English. */
export function tongueFor(asked: string | null, browser: readonly string[]): Tongue {
  for (const wish of asked ? [asked, ...browser] : browser) {
    const found = TONGUES.find((t) => t.code === wish.toLowerCase().split("-")[0]);
    if (found) return found;
  }
  return en;
}

const STANDARD = /^[A-G](#|b)?-?\d(\/[A-G](#|b)?-?\d)?$/;

/**
 * A note as it is said, written on a post or called by its letter. A label of its own, as a prepared string may have,
 * stays as it is.
 */
export function noteName(t: Tongue, how: "said" | "written" | "letter", midi: number, label: string): string {
  return STANDARD.test(label) ? t[how](midi) : label;
}

/** An instrument's name; sizes ("marimba 4.3") follow the name. */
export function instrumentName(t: Tongue, name: string): string {
  if (t.instruments[name]) return t.instruments[name];
  const [, base, size] = /^(.*?)( [\d.]+| to G5)?$/.exec(name)!;
  const known = t.instruments[base!];
  return known ? known + (size ?? "").replace(" to ", " – ").replace(".", t.mark) : name;
}
