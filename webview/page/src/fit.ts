// How large the answer can be in the far view: the text alone, as large as it fits. Pure: widths are handed in.

import type { Answer } from "./words.ts";

/** Ways to set the answer in lines. A line is a list of parts; a part has its own weight. */
export interface Part {
  readonly text: string;
  readonly sort: "what" | "lack" | "doubt";
}

/** More lines than this are no longer read at a glance. */
const MOST = 5;

/** All the ways to set an answer in lines, broken between words; a number stays with its unit. */
export function settings(a: Answer): Part[][][] {
  const parts: Part[] = [];
  const add = (text: string, sort: Part["sort"]) => parts.push(...text.replace(/(\d) (c|s|ms)\b/g, "$1\u00a0$2").split(" ").map((w) => ({ text: w, sort })));
  add(a.lack ? `${a.what.replace(/,$/, "")},` : a.what, "what");
  if (a.lack) add(a.lack, "lack");
  if (a.doubt) add(a.doubt, "doubt");
  return broken(parts, MOST);
}

/** A row of words in up to most lines, in every way there is. Beyond a dozen words the last of them stay together. */
export function broken<T>(words: readonly T[], most: number): T[][][] {
  if (words.length === 0) return [];
  const out: T[][][] = [[words.slice()]];
  if (most === 1) return out;
  for (let n = 1; n < Math.min(words.length, 12); n++) for (const rest of broken(words.slice(n), most - 1)) out.push([words.slice(0, n), ...rest]);
  return out;
}

/** Height of a line against the size of its type. */
export const LEADING = 1.04;

/** The largest size at which a setting fits W by H px, where width tells how wide a line is at size 1. */
export function sizeOf(lines: Part[][], W: number, H: number, width: (line: Part[]) => number): number {
  const widest = Math.max(...lines.map(width));
  return Math.min(W / widest, H / (lines.length * LEADING));
}

/** The setting that is largest. */
export function largest(a: Answer, W: number, H: number, width: (line: Part[]) => number): { lines: Part[][]; size: number } {
  let best = { lines: [] as Part[][], size: 0 };
  for (const lines of settings(a)) {
    const size = sizeOf(lines, W, H, width);
    if (size > best.size) best = { lines, size };
  }
  return best;
}
