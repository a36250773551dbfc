// The collection as a map: pitch across, ring up, sized by level, shaped by kind. The table beside it says the same.

import { html, svg, type TemplateResult } from "lit/html.js";
import type { App } from "../app.ts";
import type { Voice } from "../shelfform.ts";
import { landingOf } from "./shelf.ts";

const [W, H, PAD] = [1000, 300, 34];

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

/** Where a voice lies on the map, and how large it is drawn. */
export function spots(voices: readonly Voice[]): { voice: Voice; x: number; y: number; r: number }[] {
  const known = voices.filter((v) => v.pitch_hz !== null && v.ring_s !== null && v.ring_s > 0);
  if (known.length === 0) return [];
  const span = (of: number[], least: number): [number, number] => {
    const [lo, hi] = [Math.min(...of), Math.max(...of)];
    const more = Math.max(0, least - (hi - lo)) / 2;
    return [lo - more, hi + more];
  };
  const pitch = span(known.map((v) => Math.log2(v.pitch_hz!)), 1); // an octave at least
  const ring = span(known.map((v) => Math.log2(v.ring_s!)), 2);
  const on = (x: number, [lo, hi]: [number, number], size: number) => PAD + ((x - lo) / (hi - lo)) * (size - 2 * PAD);
  return known.map((voice) => ({
    voice,
    x: Math.round(on(Math.log2(voice.pitch_hz!), pitch, W)),
    y: Math.round(H - on(Math.log2(voice.ring_s!), ring, H)),
    r: Math.round(8 + 12 * Math.min(1, Math.max(0, ((voice.level_db ?? -30) + 50) / 50))),
  }));
}

export function map({ t }: App, voices: readonly Voice[]): TemplateResult {
  const at = spots(voices);
  return html`<figure class="map"><figcaption>${t.shelf.map}</figcaption>
    <svg viewBox="0 0 ${W} ${H}" aria-hidden="true">${at.map(({ voice: v, x, y, r }) => svg`<a href=${`#shelf/object/${v.object}`} tabindex="-1"><path class="spot" data-kind=${v.kind} data-state=${v.state} d=${(SHAPES[v.kind] ?? pebble)(x, y, r)}><title>${v.label}: ${landingOf(t, v)}</title></path></a>`)}</svg>
  </figure>`;
}
