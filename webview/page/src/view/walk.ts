// Walking along an instrument, note after note, so that the table used is its own and not the usual one.

import { html, nothing, type TemplateResult } from "lit/html.js";
import { repeat } from "lit/directives/repeat.js";
import type { App } from "../app.ts";
import type { Shelf } from "../message.ts";
import { decimals, signed } from "../number.ts";
import { instrumentsOf } from "../state.ts";
import { instrumentName, noteName } from "../tongue/tongue.ts";

type Walk = NonNullable<Shelf["walk"]>;

export function walk(app: App): TemplateResult {
  const w = app.state.shelf?.walk;
  return w ? underWay(app, w) : begin(app);
}

function begin({ state: s, t, desk }: App): TemplateResult {
  const own = s.shelf?.instruments ?? [];
  const usual = instrumentsOf(s).filter((i) => !own.includes(i));
  const send = (e: SubmitEvent) => {
    e.preventDefault();
    const said = new FormData(e.currentTarget as HTMLFormElement);
    void desk.ask("POST", "shelf/walk", { name: String(said.get("name")), like: said.get("like"), prepared: said.get("prepared") !== null });
  };
  return html`<div class="head"><h2>${t.walk.title}</h2></div><p class="teach">${t.walk.sub}</p>
    <form class="finder" @submit=${send}>
      <label>${t.walk.name} <input name="name" required maxlength="80" autocomplete="off"></label>
      <label>${t.walk.like} <select name="like">${usual.map((i) => html`<option value=${i}>${instrumentName(t, i)}</option>`)}</select></label>
      <label class="pick"><input type="checkbox" name="prepared"> ${t.walk.prepared}</label>
      <button type="submit" data-begin>${t.shelf.begin}</button>
    </form>
    ${own.length
      ? html`<ul class="away">${own.map((name) => html`<li><bdi>${name}</bdi> <button @click=${() => void desk.ask("DELETE", `shelf/instruments/${encodeURIComponent(name)}`)}>${t.walk.remove}</button></li>`)}</ul>`
      : nothing}`;
}

function underWay({ t, deeds, desk }: App, w: Walk): TemplateResult {
  const at = w.at === null ? t.walk.allDone : noteName(t, "said", w.at, w.note ?? "");
  return html`<div class="head"><h2><bdi>${w.name}</bdi>: ${t.walk.measured(w.measured, w.notes.length)}</h2>
      <button @click=${() => void desk.ask("POST", "shelf/walk/finish", {})} ?disabled=${w.measured === 0}>${t.walk.finish}</button>
      <button @click=${() => void desk.ask("DELETE", "shelf/walk")}>${t.walk.giveUp}</button></div>
    <p class="next" role="status"><small>${w.at === null ? nothing : t.walk.strike}</small> <b>${at}</b></p>
    ${w.notice ? html`<p class="teach" role="status" lang="en">${w.notice}</p>` : nothing}
    <div class="head steps">
      <button @click=${() => deeds.walk("back")}>${t.walk.back} <kbd aria-hidden="true">←</kbd></button>
      <button @click=${() => deeds.walk("again")}>${t.walk.again} <kbd aria-hidden="true">A</kbd></button>
      <button @click=${() => deeds.walk("skip")} ?disabled=${w.at === null}>${t.walk.skip} <kbd aria-hidden="true">→</kbd></button>
    </div>
    <div class="book"><table class="voices">
      <caption>${t.walk.table}</caption>
      <thead><tr>${t.walk.columns.map((c, i) => html`<th scope="col" class=${i ? "n" : ""}>${c}</th>`)}</tr></thead>
      <tbody>${repeat(w.notes, (n) => n.midi, (n) => row(t, n, n.midi === w.at, () => void desk.ask("PATCH", "shelf/walk", { to: n.midi })))}</tbody>
    </table></div>`;
}

function row(t: App["t"], n: Walk["notes"][number], here: boolean, go: () => void): TemplateResult {
  const pitches = n.targets_hz.map((f, i) => (n.cents[i] === undefined ? t.hz(decimals(f, 1, t.mark)) : `${signed(Math.round(n.cents[i]!), t.mark)} c`));
  const said = n.strikes === 0 ? (n.skipped ? t.walk.skipped : "") : pitches.length ? pitches.join(t.walk.and) : t.walk.noPitch;
  return html`<tr aria-current=${here ? "step" : "false"}><th scope="row"><button @click=${go}>${noteName(t, "written", n.midi, n.note)}</button></th><td class="n">${said}</td><td class="n">${n.strikes || ""}</td></tr>`;
}
