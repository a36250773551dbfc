// How large the answer can be in the far view: the text alone, as large as it fits. Pure: widths are handed in.

import type { Answer } from "./words.ts";

/** Ways to set the answer in lines. A line is a list of parts; a part has its own weight. */
export interface Part {
  readonly text: string;
  readonly sort: "what" | "lack" | "doubt";
}

/** All the ways worth trying, from one line to five; a number stays with its unit. */
export function settings(a: Answer): Part[][][] {
  const parts: Part[] = [];
  const add = (text: string, sort: Part["sort"]) => parts.push(...text.replace(/(\d) (c|s|ms)\b/g, "$1\u00a0$2").split(" ").map((w) => ({ text: w, sort })));
  add(a.lack ? `${a.what.replace(/,$/, "")},` : a.what, "what");
  if (a.lack) add(a.lack, "lack");
  if (a.doubt) add(a.doubt, "doubt");
  return broken(parts.map((p) => p.text).join(" ")).map((lines) => {
    const rest = parts.slice();
    return lines.map((line) => rest.splice(0, line.split(" ").length));
  });
}

/** A text in one to five lines, each way as even as words allow. */
export function broken(text: string): string[][] {
  const words = text.split(" ");
  const out: string[][] = [];
  for (let n = 1; n <= Math.min(5, words.length); n++) {
    const lines: string[] = [];
    let rest = words.slice();
    for (let k = n; k > 0; k--) {
      const goal = rest.join(" ").length / k;
      let take = 1;
      while (take < rest.length - (k - 1) && rest.slice(0, take + 1).join(" ").length <= goal + 2) take++;
      lines.push((k === 1 ? rest : rest.slice(0, take)).join(" "));
      rest = rest.slice(take);
    }
    out.push(lines);
  }
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
