// The collection as a map: pitch across, ring up, sized by level, shaped by kind. The table beside it says the same.

import { html, svg, type TemplateResult } from "lit/html.js";
import type { App } from "../app.ts";
import type { Voice } from "../shelfform.ts";
import { ringWords } from "../words.ts";
import { landingOf } from "./shelf.ts";

const [W, H, PAD] = [1000, 300, 34];
/** Room for the scales' words: left of the stones, and under them. */
const [LEFT, UNDER] = [104, 60];

/** Each kind has an outline of its own, r px round its middle. */
const SHAPES: Record<string, (x: number, y: number, r: number) => string> = {
  bar: (x, y, r) => `M${x - 1.5 * r} ${y - r / 2}h${3 * r}v${r}h${-3 * r}z`,
  bell: (x, y, r) => `M${x - r} ${y + r * 0.8}q${r} ${-3.6 * r} ${2 * r} 0z`,
  glass: (x, y, r) => `M${x - r} ${y - r}h${2 * r}l${-0.5 * r} ${2 * r}h${-r}z`,
  bottle: (x, y, r) => `M${x - r / 3} ${y - 1.3 * r}h${(2 * r) / 3}v${r}l${r / 2} ${r / 2}v${r}h${(-5 * r) / 3}v${-r}l${r / 2} ${-r / 2}z`,
  plate: (x, y, r) => `M${x} ${y - 1.2 * r}l${1.2 * r} ${1.2 * r}l${-1.2 * r} ${1.2 * r}l${-1.2 * r} ${-1.2 * r}z`,
  drum: (x, y, r) => `M${x - r} ${y - r}h${2 * r}v${2 * r}h${-2 * r}z`,
};
const pebble = (x: number, y: number, r: number): string => `M${x - r} ${y}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0z`;

interface Spread {
  readonly lo: number; // log2 of what is at the near end
  readonly hi: number;
}

interface Ground {
  readonly pitch: Spread;
  readonly ring: Spread;
}

const sounding = (voices: readonly Voice[]): Voice[] => voices.filter((v) => v.pitch_hz !== null && v.ring_s !== null && v.ring_s > 0);

/** What the map spans, or null where nothing can be placed: an octave and two doublings of the ring at least. */
function ground(known: readonly Voice[]): Ground | null {
  if (known.length === 0) return null;
  const span = (of: number[], least: number): Spread => {
    const [lo, hi] = [Math.min(...of), Math.max(...of)];
    const more = Math.max(0, least - (hi - lo)) / 2;
    return { lo: lo - more, hi: hi + more };
  };
  return { pitch: span(known.map((v) => Math.log2(v.pitch_hz!)), 1), ring: span(known.map((v) => Math.log2(v.ring_s!)), 2) };
}

const on = (x: number, { lo, hi }: Spread, room: number, size: number): number => room + ((Math.log2(x) - lo) / (hi - lo)) * (size - room - PAD);

/** Where a voice lies on the map, and how large it is drawn. */
export function spots(voices: readonly Voice[]): { voice: Voice; x: number; y: number; r: number }[] {
  const known = sounding(voices);
  const g = ground(known);
  if (!g) return [];
  return known.map((voice) => ({
    voice,
    x: Math.round(on(voice.pitch_hz!, g.pitch, LEFT, W)),
    y: Math.round(H - on(voice.ring_s!, g.ring, UNDER, H)),
    r: Math.round(8 + 12 * Math.min(1, Math.max(0, ((voice.level_db ?? -30) + 50) / 50))),
  }));
}

/** The octaves of C across, and ring times up, that fall on the map. */
export function scales(voices: readonly Voice[], reference: number): { notes: { midi: number; x: number }[]; rings: { seconds: number; y: number }[] } {
  const g = ground(sounding(voices));
  if (!g) return { notes: [], rings: [] };
  const notes = [24, 36, 48, 60, 72, 84, 96, 108].map((midi) => ({ midi, x: Math.round(on(reference * 2 ** ((midi - 69) / 12), g.pitch, LEFT, W)) }));
  const rings = [0.1, 0.3, 1, 3, 10, 30].map((seconds) => ({ seconds, y: Math.round(H - on(seconds, g.ring, UNDER, H)) }));
  return { notes: notes.filter(({ x }) => x >= LEFT - PAD && x <= W - PAD), rings: rings.filter(({ y }) => y >= PAD / 2 && y <= H - UNDER + PAD) };
}

export function map({ t, state }: App, voices: readonly Voice[]): TemplateResult {
  const at = spots(voices);
  const { notes, rings } = scales(voices, state.instrument?.reference_hz ?? 440);
  return html`<figure class="map"><figcaption>${t.shelf.map}</figcaption>
    <svg viewBox="0 0 ${W} ${H}" aria-hidden="true">${notes.map(({ midi, x }) => svg`<path class="tick" d=${`M${x} 0v${H}`}></path><text class="scale" x=${x + 6} y=${H - 8}>${t.written(midi)}</text>`)}${rings.map(({ seconds, y }) => svg`<path class="tick" d=${`M0 ${y}h12`}></path><text class="scale" x="16" y=${y + 6}>${ringWords(t, seconds, null)}</text>`)}${at.map(({ voice: v, x, y, r }) => svg`<a href=${`#shelf/object/${v.object}`} tabindex="-1"><path class="spot" data-kind=${v.kind} data-state=${v.state} d=${(SHAPES[v.kind] ?? pebble)(x, y, r)}><title>${v.label}: ${landingOf(t, v)}</title></path></a>`)}</svg>
  </figure>`;
}
