// Voices so near each other that they beat when struck together, the slowest beat first.

import { html, nothing, type TemplateResult } from "lit/html.js";
import { repeat } from "lit/directives/repeat.js";
import type { App } from "../app.ts";
import { earned } from "../number.ts";
import type { Voice } from "../shelfform.ts";
import { landingOf } from "./shelf.ts";

/** The fastest beats to choose from, a second: past fifteen or so one hears roughness, no beat. */
const FASTEST = ["1", "2", "4", "8", "15"];

export function pairs({ t, view, desk, deeds }: App): TemplateResult | typeof nothing {
  const all = desk.pairs;
  if (!all) return nothing;
  const most = view.part.split("/")[1] ?? "8";
  const of = (v: Voice) => html`<a href=${`#shelf/object/${v.object}`}><bdi>${v.label}</bdi></a>`;
  return html`<div class="head"><h2>${t.shelf.pairs}</h2>
      <label>${t.shelf.beatMost} <select name="most" @change=${(e: Event) => deeds.go("shelf", `pairs/${(e.target as HTMLSelectElement).value}`)}>
        ${FASTEST.map((n) => html`<option value=${n} ?selected=${n === most}>${n}</option>`)}</select></label></div>
    ${all.length === 0 ? html`<p class="teach" role="status">${t.shelf.noPairs}</p>` : nothing}
    ${all.length
      ? html`<div class="book"><table class="voices pairs">
      <caption>${t.shelf.pairsSub}</caption>
      <thead><tr>${t.shelf.pairColumns.map((c, i) => html`<th scope="col" class=${i === 2 ? "n" : ""}>${c}</th>`)}</tr></thead>
      <tbody>${repeat(all, (p) => `${p.a.id} ${p.b.id}`, (p) => html`<tr><th scope="row">${of(p.a)}</th><td>${of(p.b)}</td>
        <td class="n">${t.beats(earned(p.beat_hz, p.sigma_hz, 1, t.mark))}</td><td>${landingOf(t, p.a)}</td></tr>`)}</tbody>
    </table></div>`
      : nothing}`;
}
