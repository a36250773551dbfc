// Two strikes beside each other: what differs in words, then partial by partial, spectra, decay, and both to hear.

import { html, nothing, svg, type TemplateResult } from "lit/html.js";
import type { App } from "../app.ts";
import { decimals } from "../number.ts";
import type { Comparison, Delta } from "../shelfform.ts";
import { deltaWords, differences } from "../shelfwords.ts";
import type { Tongue } from "../tongue/tongue.ts";

export function comparison({ t, desk }: App): TemplateResult | typeof nothing {
  const c = desk.compared;
  if (!c) return nothing;
  const says = differences(t, c);
  return html`<article class="comparison">
    <div class="head"><h2>${t.shelf.beside} <bdi>${c.b.label}</bdi>, <bdi>${c.a.label}</bdi></h2>
      ${c.a.sound && c.b.sound ? html`<button @click=${inTurn}>${t.shelf.inTurn}</button>` : nothing}</div>
    ${says.length ? html`<ul class="says">${says.map((w) => html`<li>${w}</li>`)}</ul>` : html`<p class="says">${t.shelf.noDifference}</p>`}
    ${[c.a, c.b].map((x) => (x.sound ? html`<audio class="turn" controls preload="auto" src=${x.sound} .volume=${10 ** (Math.min(0, x.gain_db ?? 0) / 20)} aria-label=${t.shelf.soundOf(x.label)}></audio>` : nothing))}
    ${c.spectra ? curves(t.shelf.spectra, c.spectra.frequency_hz.map(Math.log), c.spectra.a_db, c.spectra.b_db) : nothing}
    ${c.decay ? curves(t.shelf.decay, c.decay.time_s, c.decay.a_db, c.decay.b_db) : nothing}
    ${partials(t, c)}
  </article>`;
}

/** One after the other, each as loud as the softer one. */
function inTurn(): void {
  const [a, b] = document.querySelectorAll<HTMLAudioElement>("audio.turn");
  if (!a || !b) return;
  b.pause();
  a.currentTime = b.currentTime = 0;
  a.onended = () => void b.play();
  void a.play();
}

/** The faintest that is drawn, in dB below the strongest. */
const FLOOR = -80;

function curves(title: string, x: readonly number[], a: readonly number[], b: readonly number[]): TemplateResult {
  const finite = x.map((v, i) => [v, i] as const).filter(([v]) => Number.isFinite(v));
  const lo = finite[0]?.[0] ?? 0;
  const span = (finite.at(-1)?.[0] ?? 1) - lo || 1;
  const line = (y: readonly number[]) =>
    finite.map(([v, i], n) => `${n ? "L" : "M"}${(((v - lo) / span) * 1000).toFixed(1)} ${((Math.max(FLOOR, y[i] ?? FLOOR) / FLOOR) * 180 + 4).toFixed(1)}`).join("");
  return html`<figure class="curves"><figcaption>${title}</figcaption>
    <svg viewBox="0 0 1000 190" preserveAspectRatio="none" aria-hidden="true">${svg`<path class="a" d=${line(a)}></path><path class="b" d=${line(b)}></path>`}</svg></figure>`;
}

function partials(t: Tongue, c: Comparison): TemplateResult {
  const cell = (d: Delta | null) => html`<td class=${d?.significant ? "n sure" : "n"}>${d ? deltaWords(t, d) : t.notKnown}${d?.significant ? html` <small>${t.shelf.significant}</small>` : nothing}</td>`;
  return html`<div class="book"><table>
    <caption>${t.shelf.partials}</caption>
    <thead><tr>${t.shelf.compareColumns.map((w, i) => html`<th scope="col" class=${i ? "n" : ""}>${w}</th>`)}</tr></thead>
    <tbody>${c.partials.map((p) => html`<tr><th scope="row">${t.hz(decimals((p.a ?? p.b)?.frequency_hz ?? 0, 0, t.mark))}${p.a && p.b ? nothing : html` <small>${t.shelf.onlyIn((p.a ? c.a : c.b).label)}</small>`}</th>${cell(p.cents)}${cell(p.level_db)}${cell(p.ring_factor)}</tr>`)}</tbody>
  </table></div>`;
}
