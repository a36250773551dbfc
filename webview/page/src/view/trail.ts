// The trail: the strikes before this one, one thin rail each; a tap opens what can be done with one.

import { html, nothing, type TemplateResult } from "lit/html.js";
import { repeat } from "lit/directives/repeat.js";
import type { App } from "../app.ts";
import { soundOf } from "../ask.ts";
import { takeable, verdictShort } from "../hunt.ts";
import type { Strike } from "../message.ts";
import { whoOf } from "../shelfwords.ts";
import { trailOf } from "../state.ts";
import type { Tongue } from "../tongue/tongue.ts";
import { readOf } from "../words.ts";

/** How many rows are shown; the rest can be asked of the daemon. */
const ROWS = 40;

export function trail(app: App): TemplateResult {
  const { state: s, t, view } = app;
  const all = trailOf(s);
  const compared = all.find((k) => k.id === view.compare);
  const rows = compared ? [compared, ...all.filter((k) => k !== compared)] : all;
  const more = rows.length - ROWS + s.earlier;
  if (rows.length === 0 && view.place === "wanted") return html``;
  if (rows.length === 0)
    return html`<ol class="trail" aria-label=${t.trail}><li class="empty"><svg class="thin" data-row="" aria-hidden="true"></svg><span class="line"><span class="who">${t.firstRow}</span></span></li></ol>`;
  return html`${view.place === "wanted" ? html`<h2 class="head">${t.hunt.struck}</h2>` : nothing}<ol class="trail" aria-label=${t.trail}>
      ${repeat(rows.slice(0, ROWS), (k) => k.id, (k) => row(app, k))}
    </ol>
    ${more > 0 ? html`<p class="note">${t.earlier(more)}</p>` : nothing}`;
}

function row(app: App, k: Strike): TemplateResult {
  const { state: s, t, view, deeds } = app;
  const open = view.open === k.id;
  const who = nameOf(t, k);
  const when = agoOf(app, k.id);
  const read = view.place === "wanted" ? verdictShort(t, k, s.wanted) : readOf(t, k, s.instrument);
  const toggle = () => deeds.show({ open: open ? null : k.id, naming: null });
  return html`<li class=${[open ? "open" : "", view.compare === k.id ? "now" : ""].join(" ").trim()}>
    <svg class="thin" data-row=${k.id} aria-hidden="true"></svg>
    <button class="row" aria-expanded=${open ? "true" : "false"} @click=${toggle}>
      <span class="line"><span class="who"><bdi class=${k.name || k.kept ? "" : "dim"}>${who}</bdi> <small>${when}</small></span><span class="read">${read}</span></span>
      <span class="unseen">${t.choices}</span>
    </button>
    ${open ? choices(app, k) : nothing}
  </li>`;
}

function choices({ state: s, t, view, desk, deeds }: App, k: Strike): TemplateResult {
  if (view.naming === k.id) return naming(t, k, (name) => deeds.name(k.id, name));
  const compared = view.compare === k.id;
  return html`<span class="choose">
    ${k.sound ? html`<a href=${soundOf(k.id)} download>${t.keepSound}</a>` : html`<span class="note">${t.noSound}</span>`}
    ${view.place === "wanted" && takeable(k.verdict) ? html`<button @click=${() => deeds.found(k.id, null)}>${t.hunt.found}</button>` : nothing}
    ${s.shelf?.writable
      ? k.kept
        ? html`<a href=${`#shelf/object/${k.kept.object}`}>${t.shelf.keptAs(k.kept.label)}</a>`
        : html`<button ?disabled=${k.stage !== "final"} @click=${() => void desk.keep(k.id, {})}>${t.shelf.keepIt}</button>`
      : nothing}
    <button @click=${() => deeds.show({ naming: k.id })}>${t.give}</button>
    <button aria-pressed=${compared ? "true" : "false"} @click=${() => deeds.show({ compare: compared ? null : k.id, open: null })}>${compared ? t.compareOff : t.compare}</button>
    <button @click=${() => deeds.throwAway(k.id)}>${t.throwAway}</button>
  </span>`;
}

function naming(t: Tongue, k: Strike, save: (name: string) => void): TemplateResult {
  const submit = (e: SubmitEvent) => {
    e.preventDefault();
    save((e.currentTarget as HTMLFormElement).querySelector("input")!.value.trim());
  };
  return html`<form class="choose" @submit=${submit}>
    <label>${t.nameIt} <input name="name" maxlength="80" autocomplete="off" data-focus=${k.id} .value=${k.name ?? ""}></label>
    <button type="submit">${t.nameSave}</button>
  </form>`;
}

/** What a strike is called: as a player named it, as what it is kept, or as what the shelf takes it for. */
export const nameOf = (t: Tongue, k: Strike): string => {
  if (k.name ?? k.kept) return k.name ?? k.kept!.label;
  const r = k.recognised;
  return r && r.answer !== "new" && r.candidates.length > 0 ? whoOf(t, k) : t.notNamed;
};

function agoOf({ state: s, t, now }: App, id: string): string {
  const onset = s.onsets.get(id);
  if (onset === undefined) return "";
  const seconds = Math.max(0, (now - onset) / 1000);
  return seconds < 3600 ? t.ago(seconds) : t.clock(new Date(onset));
}
