// Setting up: the ear, the aim, and this page.

import { html, nothing, type TemplateResult } from "lit/html.js";
import type { App } from "../app.ts";
import { decimals } from "../number.ts";
import { instrumentsOf } from "../state.ts";
import { instrumentName, noteName, TONGUES, tongueFor } from "../tongue/tongue.ts";
import { devices, lending } from "./devices.ts";
import { LOOKS, type Look } from "../view.ts";

const value = (e: Event): string => (e.target as HTMLInputElement | HTMLSelectElement).value;
/** A number field that is empty or unreadable changes nothing. */
const amount = (e: Event, then: (n: number) => void): void => {
  const n = (e.target as HTMLInputElement).valueAsNumber;
  if (Number.isFinite(n)) then(n);
};

export function setup(app: App): TemplateResult {
  const { fault } = app.state;
  return html`${fault ? html`<p class="fault" role="alert">${fault}</p>` : nothing}
    <div class="sections">${ear(app)} ${aim(app)} ${devices(app)} ${page(app)}</div>`;
}

function ear(app: App): TemplateResult {
  const { t, state: s, deeds } = app;
  const k = s.session;
  const use = (e: Event) => {
    e.preventDefault();
    deeds.source(k?.source.choice ?? "mic", (e.currentTarget as HTMLFormElement).querySelector("input")!.value.trim());
  };
  return html`<section>
    <h3>${t.sectionEar}</h3>
    ${lending(app)}
    ${choose(t.soundFrom, (s.hello?.sources ?? []).map((c) => [c, t.sources[c] ?? c]), k?.source.choice ?? "", (c) => deeds.source(c, c === k?.source.choice ? k.source.input : ""))}
    ${k?.source.choice === "mic"
      ? html`<form @submit=${use}><label>${t.input}<input name="input" maxlength="80" autocomplete="off" placeholder=${t.inputDefault} .value=${k.source.input}></label><button type="submit">${t.inputUse}</button></form>`
      : nothing}
    ${choose(t.kind, (s.hello?.kinds ?? []).map((c) => [c, t.kinds[c] ?? c]), k?.kind ?? "", (kind) => deeds.change({ kind }))}
    ${room(t, s.room)}
  </section>`;
}

function room(t: App["t"], r: App["state"]["room"]): TemplateResult {
  if (!r || r.bands.length < 2) return html`<p class="note">${t.room}: ${t.roomUnknown}</p>`;
  const loud = r.bands.reduce((a, b) => (b.level_db > a.level_db ? b : a));
  const quiet = r.bands.reduce((a, b) => (b.level_db < a.level_db ? b : a));
  const hz = (f: number) => t.hz(decimals(Number(f.toPrecision(2)), 0, t.mark));
  return html`<figure>
    <figcaption>${t.room}</figcaption>
    <svg class="room" viewBox="0 0 320 64" preserveAspectRatio="none" role="img" aria-label=${t.roomWords(hz(loud.frequency_hz), hz(quiet.frequency_hz))}></svg>
    <p class="note">${t.roomWords(hz(loud.frequency_hz), hz(quiet.frequency_hz))}</p>
    <table class="unseen"><caption>${t.room}</caption><thead><tr>${t.roomColumns.map((c) => html`<th scope="col">${c}</th>`)}</tr></thead>
      <tbody>${r.bands.map((b) => html`<tr><th scope="row">${hz(b.frequency_hz)}</th><td>${t.db(decimals(loud.level_db - b.level_db, 0, t.mark))}</td></tr>`)}</tbody></table>
  </figure>`;
}

function aim({ t, state: s, deeds }: App): TemplateResult {
  const k = s.session;
  const mode = !k?.aim ? "none" : k.target === null ? "nearest" : "note";
  const notes = s.instrument?.notes ?? [];
  const first = () => notes.find((n) => n.midi === 69)?.midi ?? notes[0]?.midi ?? 69;
  const setMode = (m: string) => deeds.change(m === "none" ? { aim: false } : { aim: true, target: m === "note" ? (k?.target ?? first()) : null });
  return html`<section>
    <h3>${t.sectionAim}</h3>
    ${choose(t.instrument, instrumentsOf(s).map((n) => [n, instrumentName(t, n)]), k?.instrument ?? "", (instrument) => deeds.change({ instrument }))}
    ${numberField(t.referenceLabel(t.written(69)), k?.reference_hz ?? 440, 415, 466, 0.5, (n) => deeds.change({ reference_hz: n }))}
    ${choose(t.aimLabel, Object.entries(t.aims), mode, setMode)}
    ${mode === "note"
      ? choose(t.aimKey, notes.map((n) => [String(n.midi), noteName(t, "said", n.midi, n.label)]), String(k!.target), (m) => deeds.change({ target: Number(m) }))
      : nothing}
    ${mode === "none"
      ? nothing
      : html`${numberField(t.bend, k?.bend_cents ?? 0, -100, 100, 1, (n) => deeds.change({ bend_cents: n }))}
        ${numberField(t.tolerance, k?.tolerance_cents ?? 10, 0.5, 100, 0.5, (n) => deeds.change({ tolerance_cents: n }))}`}
  </section>`;
}

function page({ t, view, deeds }: App): TemplateResult {
  return html`<section>
    <h3>${t.sectionPage}</h3>
    ${choose(t.look, LOOKS.map((l) => [l, t.looks[l]]), view.look, (look) => deeds.show({ look: look as Look }))}
    ${choose(t.language, TONGUES.map((x) => [x.code, x.name]), tongueFor(view.tongue, navigator.languages).code, (tongue) => deeds.show({ tongue }))}
    <div role="group" aria-label=${t.hunt.feedback}><p class="note">${t.hunt.feedback}</p>
      <button aria-pressed=${view.cue ? "true" : "false"} @click=${() => deeds.show({ cue: !view.cue })}>${t.hunt.cue}</button>
      ${"vibrate" in navigator ? html`<button aria-pressed=${view.buzz ? "true" : "false"} @click=${() => deeds.show({ buzz: !view.buzz })}>${t.hunt.buzz}</button>` : nothing}
      <p class="note">${t.hunt.feedbackNote}</p></div>
    <p class="note">${t.plusMinus}</p>
    <p class="narrow"><button @click=${() => deeds.show({ dialog: "cautions" })}>${t.cautions}</button></p>
    <p class="note"><a href="licences.txt">${t.licences}</a></p>
  </section>`;
}

function choose(label: string, options: readonly (readonly [string, string])[], now: string, then: (v: string) => void): TemplateResult {
  return html`<label>${label}<select @change=${(e: Event) => then(value(e))}>${options.map(([v, words]) => html`<option value=${v} ?selected=${v === now}>${words}</option>`)}</select></label>`;
}

function numberField(label: string, now: number, min: number, max: number, step: number, then: (n: number) => void): TemplateResult {
  return html`<label>${label}<input type="number" min=${min} max=${max} step=${step} .value=${String(now)} @change=${(e: Event) => amount(e, then)}></label>`;
}
