// The place Bench: water, rows, drift. Water here: a job is begun, followed and kept.

import { html, nothing, type TemplateResult } from "lit/html.js";
import type { App } from "../app.ts";
import type { JobSpec } from "../benchask.ts";
import type { Bench, Interval, Pour, Way } from "../benchmessage.ts";
import { aimName, keepable, lies, pourSigma, amountOf, sessionAim } from "../benchsay.ts";
import { decimals, distance, doubt } from "../number.ts";
import { placeOf } from "../scale.ts";
import { noteName } from "../tongue/tongue.ts";
import type { BenchTab } from "../view.ts";
import { driftView } from "./drift.ts";
import { number, numberOf, radio, textOf } from "./form.ts";
import { rowView } from "./row.ts";

const WAYS: readonly Way[] = ["struck", "blown"];
const POURS: readonly Pour[] = ["scale", "syringe", "eye"];

export function bench(app: App): TemplateResult | typeof nothing {
  const { state: s, view } = app;
  if (view.place !== "bench" || s.link === "shut") return nothing;
  const b = s.bench;
  return html`${s.fault ? html`<p class="fault" role="alert">${s.fault}</p>` : nothing}
    ${b?.notice ? html`<p class="fault" role="alert" lang="en">${b.notice}</p>` : nothing}
    ${view.benchNote ? html`<p class="note told" role="status">${view.benchNote}</p>` : nothing}
    ${tabs(app)}
    ${view.benchTab === "drift" ? driftView(app) : view.benchTab === "row" ? rowView(app) : b?.job && b.advice && b.aim ? following(app, b) : beginning(app)}
    ${view.benchTab === "drift" ? nothing : handCautions(app, b?.job?.way ?? view.benchWay)}`;
}

const TABS: readonly (readonly [BenchTab, string])[] = [["water", "W"], ["row", "R"], ["drift", "D"]];

const tabs = ({ t, view, deeds }: App): TemplateResult =>
  html`<div class="choose tabs" role="group" aria-label=${t.drift.tabsTitle}>${TABS.map(([x, key]) => html`<button aria-pressed=${view.benchTab === x ? "true" : "false"} @click=${() => deeds.show({ benchTab: x })}>${t.drift.tabs[x]} <kbd aria-hidden="true">${key}</kbd></button>`)}</div>`;

function beginning({ t, state: s, view, deeds }: App): TemplateResult {
  const w = t.bench;
  const way = view.benchWay;
  const pour = view.benchPour;
  const begin = (e: Event) => {
    e.preventDefault();
    const f = e.currentTarget as HTMLFormElement;
    const n = (name: string) => numberOf(f, name) ?? undefined;
    const [bore, length, body] = [n("bore"), n("neck"), n("body")];
    const spec: JobSpec = {
      way: textOf(f, "way") === "blown" ? "blown" : "struck", pour: POURS.find((x) => x === textOf(f, "pour")) ?? "scale", holds_ml: n("holds") ?? 0, already_ml: n("already") ?? 0, aim: textOf(f, "aim"), vessel: textOf(f, "vessel"),
      ...(n("water") === undefined ? {} : { water_celsius: n("water")! }),
      ...(n("stage") === undefined ? {} : { stage_celsius: n("stage")! }),
      ...(bore && length && body ? { bottle: { neck_bore_mm: bore, neck_length_mm: length, body_bore_mm: body } } : {}),
    };
    deeds.bench.begin(spec);
  };
  return html`<form class="work" @submit=${begin}>
    <fieldset><legend>${w.way}</legend>${WAYS.map((x) => radio("way", x, w.ways[x], way === x, () => deeds.show({ benchWay: x })))}</fieldset>
    <div class="fields">
      <label>${w.vessel}<input name="vessel" maxlength="80" autocomplete="off" placeholder=${w.vesselHint}></label>
      ${number(w.holds[way], "holds", "", { min: 1, required: true })}
      ${number(w.already, "already", "0", { min: 0 })}
      <label>${w.aim}<input name="aim" required autocomplete="off" autocapitalize="none" spellcheck="false" placeholder=${w.aimHint} .defaultValue=${sessionAim(s)}></label>
    </div>
    <fieldset><legend>${w.pour}</legend>${POURS.map((x) => radio("pour", x, w.pours[x], pour === x, () => deeds.show({ benchPour: x })))}<p class="note">${w.pourNote[pour]}</p></fieldset>
    <details><summary>${w.more}</summary><div class="fields">
      ${number(w.water, "water", "", { min: 0, max: 60 })}
      ${way === "blown" ? html`${number(w.stage, "stage", "")} ${number(w.bore, "bore", "")} ${number(w.neck, "neck", "")} ${number(w.body, "body", "")}` : nothing}
    </div></details>
    <p class="choose"><button class="first" type="submit">${w.start}</button></p>
  </form>`;
}

function following(app: App, b: Bench): TemplateResult {
  const { t, deeds } = app;
  const w = t.bench;
  const [job, a, aim] = [b.job!, b.advice!, b.aim!];
  const entries = a.sounds.length;
  return html`<div class="head">
      <h2>${w.job(job.vessel, aimName(t, aim.name))} <small>±${decimals(aim.tolerance_cents, Number.isInteger(aim.tolerance_cents) ? 0 : 1, t.mark)} c. ${w.meant[job.way]}</small></h2>
      <button @click=${deeds.bench.end}>${w.putAway}</button>
    </div>
    ${b.asks
      ? html`<p class="choose asks"><button @click=${deeds.bench.undo}>${w.yesWas[b.asks.way]}</button><button @click=${() => deeds.bench.sound({ strike: b.asks!.strike, anyway: true })}>${w.noWas[job.way]}</button></p>`
      : nothing}
    ${pouring(app, b)}
    <figure class="curve"><figcaption>${w.curveTitle}</figcaption>
      <svg class="curve" role="img" aria-label=${w.curve(entries)}></svg></figure>
    ${entries ? html`${sounds(app, b)} ${partials(app, b)}` : nothing}
    <div class="fields work">
      <button aria-pressed=${job.follow === false ? "false" : "true"} @click=${() => deeds.bench.change({ follow: job.follow === false })}>${w.follow}</button>
      <form @submit=${(e: Event) => typed(e, app)}>${number(w.typed, "hz", "", { min: 10, max: 20000, required: true })}<button type="submit">${w.enter}</button></form>
      <form @submit=${(e: Event) => (e.preventDefault(), deeds.bench.change({ aim: textOf(e.currentTarget as HTMLFormElement, "aim") }))}><label>${w.changeAim}<input name="aim" required autocomplete="off" autocapitalize="none" spellcheck="false" .defaultValue=${job.aim}></label><button type="submit">${w.change}</button></form>
    </div>`;
}

function typed(e: Event, { deeds }: App): void {
  e.preventDefault();
  const f = e.currentTarget as HTMLFormElement;
  const hz = numberOf(f, "hz");
  if (hz !== null) deeds.bench.sound({ hz });
  f.reset();
}

/** What went in: the amount that is advised stands there already. */
function pouring({ t, view, deeds }: App, b: Bench): TemplateResult {
  const w = t.bench;
  const [job, a] = [b.job!, b.advice!];
  const unit = view.benchUnit;
  const advised = a.step === "add" || a.step === "take" ? amountOf({ ...t, mark: "." } as typeof t, unit === "g" ? a.amount_g : a.amount_ml, pourSigma(job.pour, a.amount_ml)).n : "";
  const give = (e: SubmitEvent) => {
    e.preventDefault();
    const f = e.currentTarget as HTMLFormElement;
    const n = numberOf(f, "amount");
    const out = e.submitter ? (e.submitter as HTMLButtonElement).value === "out" : a.step === "take";
    if (n !== null && n !== 0) deeds.bench.pour(out ? -n : n);
  };
  const buttons = [html`<button type="submit" value="in" class=${a.step === "take" ? "" : "first"}>${w.pouredIn}</button>`, html`<button type="submit" value="out" class=${a.step === "take" ? "first" : ""}>${w.takenOut}</button>`];
  return html`<form class="pour" @submit=${give}>
    <label><span>${w.amount[unit]} <kbd aria-hidden="true">P</kbd></span><input id="poured" type="number" name="amount" step="any" min="0" inputmode="decimal" required .value=${advised}></label>
    ${a.step === "take" ? buttons.reverse() : buttons}
    <button type="button" @click=${() => deeds.show({ benchUnit: unit === "ml" ? "g" : "ml" })}>${w.unit[unit]}</button>
    ${keepable(b) ? html`<button type="button" @click=${deeds.bench.keep}>${w.keep} <kbd aria-hidden="true">K</kbd></button>` : nothing}
    <p class="note">${b.pending_ml ? w.pending(decimals(b.pending_ml, 1, t.mark)) : w.pouredTooMuch}</p>
  </form>`;
}

function sounds({ t }: App, b: Bench): TemplateResult {
  const w = t.bench;
  const a = b.advice!;
  const places = b.job!.pour === "eye" ? 0 : 1;
  const last = a.sounds.length - 1;
  return html`<div class="book"><table><caption>${w.sounds}</caption>
    <thead><tr>${w.soundColumns.map((c) => html`<th scope="col">${c}</th>`)}</tr></thead>
    <tbody>${a.sounds.map((x, i) => html`<tr><th scope="row">${i + 1}. ${w.ml(decimals(x.fill_ml, places, t.mark))}</th><td>${t.hz(decimals(x.heard_hz, 1, t.mark))}</td><td>${i === last && a.now_cents && b.pending_ml === 0 ? lies(t, a.now_cents) : side(t, x.cents)}</td></tr>`).reverse()}</tbody></table></div>`;
}

const side = (t: App["t"], cents: number): string => {
  const n = decimals(Math.abs(Math.round(cents)), 0, t.mark);
  return n === "0" ? t.on : cents > 0 ? t.high(n) : t.low(n);
};

/** Every partial: where it lands at the aim, and by which note. */
function partials({ t, state: s }: App, b: Bench): TemplateResult | typeof nothing {
  const w = t.bench;
  const rows = b.advice!.partials;
  if (!rows.length) return nothing;
  const reference = s.instrument?.reference_hz ?? 440;
  return html`<div class="book"><table><caption>${w.partials}</caption>
    <thead><tr>${w.partialColumns.map((c) => html`<th scope="col">${c}</th>`)}</tr></thead>
    <tbody>${rows.map((p) => {
      const at = placeOf(p.at_hz, reference);
      const midi = Math.round(at / 100);
      const away = { value: at - 100 * midi, sigma: p.cents.sigma, low: 0, high: 0 };
      return html`<tr><th scope="row">${hertz(t, p.first_hz, 1)}${p.heard ? html` <small>${w.heardMark}</small>` : nothing}</th><td>${hertz(t, p.at_hz, p.cents.sigma)}</td><td>${moved(t, p.cents)}</td><td>${t.place(noteName(t, "said", midi, "C4"), lies(t, away))}</td></tr>`;
    })}</tbody></table></div>`;
}

/** "217 c lower ±2" */
function moved(t: App["t"], by: Interval): string {
  const d = distance(by.value, by.sigma, t.mark);
  const about = doubt(by.sigma, t.mark);
  return d === "0" ? t.same(about) : by.value > 0 ? t.higher(d, about) : t.lower(d, about);
}

/** A frequency with the digits its uncertainty in cents leaves. */
function hertz(t: App["t"], hz: number, sigmaCents: number): string {
  const sigma = (hz * sigmaCents * Math.LN2) / 1200;
  const places = sigma > 5 ? -1 : sigma > 0.5 ? 0 : 1;
  return t.hz(places < 0 ? decimals(Math.round(hz / 10) * 10, 0, t.mark) : decimals(hz, places, t.mark));
}

export function handCautions({ t }: App, way: Way): TemplateResult {
  const w = t.bench;
  const [first, ...rest] = w.cautions.both;
  return html`<section class="hands" aria-label=${w.cautionsTitle}><h2>${w.cautionsTitle}</h2><ul>${[first!, ...(way === "blown" ? w.cautions.blown : []), ...rest].map((c) => html`<li>${c}</li>`)}</ul></section>`;
}
