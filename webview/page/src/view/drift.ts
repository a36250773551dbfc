// Drift at the bench: readings noted, the line of each voice, and what to expect on stage.

import { html, nothing, type TemplateResult } from "lit/html.js";
import type { App } from "../app.ts";
import type { Drift, DriftVoice } from "../benchmessage.ts";
import { lies } from "../benchsay.ts";
import { degrees, lineNotes, slopeOf, spread, voiceShown } from "../driftsay.ts";
import { decimals, distance } from "../number.ts";
import { shown } from "../state.ts";
import { instrumentName } from "../tongue/tongue.ts";
import { number, numberOf, textOf } from "./form.ts";

export function driftView(app: App): TemplateResult {
  const { state: s, view, t } = app;
  const d = s.drift;
  const v = voiceShown(d, view.driftVoice);
  const i = d?.instrument;
  return html`${noting(app, d, v)}
    ${v ? html`<figure class="curve"><figcaption>${v.voice}${v.line ? html`: ${Object.values(slopeOf(t, v.line.cents_per_degree)).join(" ")}` : nothing}</figcaption>
      <svg class="drift" role="img" aria-label=${t.drift.plot(v.voice, v.readings.length)}></svg>
      <p class="note">${lineNotes(t, v).join(" ")}${v.line?.remark ? html` <span lang="en">${v.line.remark}</span>` : nothing}</p></figure>
      <p class="choose">${acts(app, d!, v)}</p>` : nothing}
    ${d?.voices.length ? html`${stage(app)} ${table(app, d, v)}` : nothing}
    ${i ? html`<p class="note told-small">${t.drift.instrument(instrumentName(t, i.name), decimals(i.cents_per_degree, 2, t.mark), i.material)}</p>` : nothing}`;
}

function noting(app: App, d: Drift | null, v: DriftVoice | null): TemplateResult {
  const { state: s, t, deeds } = app;
  const w = t.drift;
  const now = d?.temperature?.celsius;
  const note = (e: Event) => {
    e.preventDefault();
    const f = e.currentTarget as HTMLFormElement;
    const [hz, celsius] = [numberOf(f, "hz"), numberOf(f, "celsius")];
    const last = shown(s);
    if (hz === null && !last?.heard) return deeds.bench.say(w.noStrike);
    const material = textOf(f, "material");
    deeds.bench.note({ voice: textOf(f, "voice"), ...(material ? { material } : {}), ...(hz === null ? { strike: last!.id } : { hz }), ...(celsius === null ? {} : { celsius }) });
    (f.elements.namedItem("hz") as HTMLInputElement).value = "";
  };
  return html`<form class="work" @submit=${note}><div class="fields">
    <label>${w.voice}<input name="voice" required maxlength="80" autocomplete="off" list="voices" .defaultValue=${v?.voice ?? ""}></label>
    <datalist id="voices">${d?.voices.map((x) => html`<option value=${x.voice}></option>`)}</datalist>
    <label>${w.material}<select name="material"><option value="">${w.notSaid}</option>${d?.materials.map((m) => html`<option value=${m} lang="en">${m}</option>`)}</select></label>
    <label>${w.celsius}<input type="number" name="celsius" step="any" inputmode="decimal" min="-40" max="80" placeholder=${now === undefined ? "" : w.fromSensor(degrees(t, now))}></label>
    ${number(w.heard, "hz", "", { min: 10, max: 20000 })}
    <button class="first" type="submit">${w.note}</button>
  </div></form>`;
}

function acts({ t, deeds }: App, d: Drift, v: DriftVoice): TemplateResult {
  const w = t.drift;
  const on = d.follow === v.voice;
  return html`<button aria-pressed=${on ? "true" : "false"} @click=${() => deeds.bench.followVoice(on ? null : v.voice)}>${w.follow}</button>
    ${v.readings.length ? html`<button @click=${() => deeds.bench.undoReading(v.voice)}>${w.undo} <kbd aria-hidden="true">U</kbd></button>` : html`<button @click=${() => deeds.bench.forget(v.voice)}>${w.forget}</button>`}`;
}

function stage({ t, view, deeds }: App): TemplateResult {
  const w = t.drift;
  const q = view.stage;
  const ask = (e: Event) => {
    e.preventDefault();
    const f = e.currentTarget as HTMLFormElement;
    const there = numberOf(f, "there");
    deeds.show({ stage: there === null ? null : { there, here: numberOf(f, "here"), within: numberOf(f, "within") ?? 10 } });
    deeds.bench.refresh();
  };
  return html`<form class="work" @submit=${ask}><fieldset><legend>${w.stageTitle}</legend><div class="fields">
    ${number(w.there, "there", q ? String(q.there) : "", { min: -20, max: 50 })}
    ${number(w.here, "here", q?.here === null || !q ? "" : String(q.here), { min: -20, max: 50 })}
    ${number(w.within, "within", String(q?.within ?? 10), { min: 0.5, max: 100 })}
    <button type="submit">${w.ask}</button></div></fieldset></form>`;
}

function table({ t, deeds }: App, d: Drift, chosen: DriftVoice | null): TemplateResult {
  const w = t.drift;
  return html`<div class="book" tabindex="0" role="region" aria-label=${w.stageTitle}><table><thead><tr>${w.columns.map((c) => html`<th scope="col">${c}</th>`)}</tr></thead>
    <tbody>${d.voices.map((v) => {
      const st = v.line?.stage;
      return html`<tr><th scope="row"><button class="name" aria-pressed=${v === chosen ? "true" : "false"} @click=${() => deeds.show({ driftVoice: v.voice })}>${v.voice}</button></th>
        <td>${v.line ? Object.values(slopeOf(t, v.line.cents_per_degree)).join(" ") : w.unknown}</td><td>${v.readings.length}</td>
        <td class=${st?.leaves ? "sure" : ""}>${st ? lies(t, { ...st.away_cents, sigma: spread(st.away_cents) }) : "–"}</td>
        <td>${st?.leaves ? side(t, st.bend_now_cents, spread(st.away_cents)) : "–"}</td></tr>`;
    })}</tbody></table></div>`;
}

const side = (t: App["t"], cents: number, sigma: number): string => {
  const c = distance(cents, sigma, t.mark);
  return cents > 0 ? t.high(c) : t.low(c);
};
