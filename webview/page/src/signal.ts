// A verdict told by sound or vibration, for eyes that are on the shelf: two for yes, one for nearly, none for not wanted.

import type { Verdict } from "./message.ts";
import type { Tone } from "./sound.ts";

/** In Hz and s: a rising fifth for yes, its lower note alone for nearly. */
const TONES = { yes: [[660, 0, 0.12], [990, 0.16, 0.16]], nearly: [[660, 0, 0.14]], "not-wanted": [] } as const;
/** In ms, buzzing and resting in turn. */
const BUZZES = { yes: [80, 70, 80], nearly: [120], "not-wanted": [] } as const;

export function signal(answer: Verdict["answer"], tone: Pick<Tone, "brief"> | null, buzz: boolean): void {
  if (answer === "not-wanted") return;
  if (buzz) navigator.vibrate?.([...BUZZES[answer]]);
  tone?.brief(TONES[answer]);
}
