// The stones of the strike at hand as a table: always there for a screen reader, shown to everybody on request.

import { html, nothing, type TemplateResult } from "lit/html.js";
import type { App } from "../app.ts";
import type { Partial, Strike } from "../message.ts";
import { decimals, distance, doubt, earned } from "../number.ts";
import { pinHere } from "./pin.ts";
import { shown } from "../state.ts";
import { noteName, type Tongue } from "../tongue/tongue.ts";
import { beatsOf, ringWords } from "../words.ts";

export function numbers(app: App): TemplateResult | typeof nothing {
  const { state: s, view, t } = app;
  const strike = shown(s);
  if (!strike || strike.partials.length === 0) return nothing;
  return html`<div class=${view.numbers ? "book" : "unseen"} tabindex=${view.numbers ? 0 : -1} role="region" aria-label=${t.table}>
    <table>
      <caption>${t.table}</caption>
      <thead><tr>${t.columns.map((c, i) => html`<th scope="col" class=${i > 0 ? "n" : ""}>${c}</th>`)}</tr></thead>
      <tbody>${strike.partials.map((p, i) => row(t, strike, p, i, pinHere(app, strike, i)))}</tbody>
    </table>
    <p class="note">${t.plusMinus}</p>
  </div>`;
}

function row(t: Tongue, s: Strike, p: Partial, i: number, pin: unknown): TemplateResult {
  const mark = s.heard?.partial === i ? t.heardMark : s.second?.partial === i ? t.secondMark : "";
  const l = p.landing;
  const away = l ? distance(l.cents, p.sigma_cents, t.mark) : "0";
  const place = l ? t.place(noteName(t, "said", l.midi, l.note), away === "0" ? "" : l.cents > 0 ? t.high(away) : t.low(away)) : t.notKnown;
  return html`<tr>
    <th scope="row">${place}${mark ? html` <small>${mark}</small>` : nothing}${pin}</th>
    <td class="n">${t.hz(hertz(t, p))}</td>
    <td class="n">${p.sigma_cents === null ? t.notKnown : `±${doubt(p.sigma_cents, t.mark)} c`}</td>
    <td class="n">${decimals(Math.round(100 * 10 ** (p.level_db / 20)), 0, t.mark)} %</td>
    <td class="n">${p.t60_s === null ? t.notKnown : ringWords(t, p.t60_s, p.sigma_t60_s)}</td>
    <td class="n">${beatsOf(t, p) ?? ""}</td>
  </tr>`;
}

/** A frequency with the digits its uncertainty in cents leaves. */
const hertz = (t: Tongue, p: Partial): string => earned(p.frequency_hz, p.frequency_hz * (2 ** ((p.sigma_cents ?? 10) / 1200) - 1), 2, t.mark);
