// The shelf: the table of its voices with what is looked for, or the part of it that is open.

import { html, nothing, type TemplateResult } from "lit/html.js";
import { repeat } from "lit/directives/repeat.js";
import type { App } from "../app.ts";
import { distance, decimals } from "../number.ts";
import { STATES, type Voice } from "../shelfform.ts";
import { noteName, type Tongue } from "../tongue/tongue.ts";
import { awayList } from "./away.ts";
import { callOver } from "./callover.ts";
import { comparison } from "./comparison.ts";
import { map } from "./map.ts";
import { pairs } from "./pairs.ts";
import { thingCard } from "./thing.ts";
import { walk } from "./walk.ts";

/** The most rows drawn at once; a narrower search shows the rest. */
const ROWS = 300;

export function shelf(app: App): TemplateResult | typeof nothing {
  const { state: s, view, t, desk } = app;
  if (view.place !== "shelf" || !s.shelf) return nothing;
  const what = view.part.split("/")[0];
  const body = { object: thingCard, compare: comparison, away: awayList, "call-over": callOver, pairs, walk }[what ?? ""] ?? table;
  return html`${s.shelf.demo ? html`<p class="fault" role="status">${t.shelf.demo}</p>` : nothing}
    ${s.shelf.notice ? html`<p class="fault" role="alert" lang="en">${s.shelf.notice}</p>` : nothing}
    ${s.shelf.stand ? stand(app) : nothing}
    ${view.part ? html`<p class="head"><a href="#shelf">${t.shelf.all}</a></p>` : nothing}
    ${desk.refused ? html`<p class="fault" role="alert" lang="en">${desk.refused}</p>` : nothing}
    ${body(app)}`;
}

function stand({ state: s, t, desk }: App): TemplateResult {
  const on = s.shelf!.stand!;
  return html`<p class="head stand" role="status"><span>${t.shelf.onStand(on.label, on.kept)}</span> <button @click=${() => void desk.ask("PATCH", "shelf", { stand: null })}>${t.shelf.standOff}</button></p>`;
}

function table(app: App): TemplateResult {
  const { state: s, t, desk, deeds } = app;
  const k = s.shelf!;
  const links = html`${k.away ? html`<a href="#shelf/away">${t.shelf.awayLink(k.away)}</a>` : nothing}`;
  if (k.voices === 0 && k.objects === 0) return html`<div class="head"><h2>${t.shelf.empty}</h2><a href="#shelf/walk">${t.walk.link}</a>${links}</div><p class="teach">${t.shelf.emptySub}</p>`;
  const voices = desk.voices ?? [];
  return html`<div class="head">
      <h2>${t.shelf.counts(k.objects, k.voices, k.strikes)}</h2>
      <button @click=${() => deeds.go("shelf", "call-over")}>${t.shelf.callOver} <kbd aria-hidden="true">C</kbd></button>
      <a href="#shelf/pairs">${t.shelf.pairs}</a>
      <a href="#shelf/walk">${t.walk.link}</a>
      ${links}
      <a href="/api/shelf/export/voices.csv" download>CSV</a>
      <a href="/api/shelf/export/shelf.jsonl" download>${t.shelf.everything}</a>
    </div>
    ${now(app)}
    ${finder(app)}
    ${desk.voices && voices.length === 0 ? html`<p class="teach" role="status">${t.shelf.noneFound}</p>` : nothing}
    ${voices.length ? map(app, voices) : nothing}
    ${voices.length ? rows(t, voices) : nothing}
    ${voices.length > ROWS ? html`<p class="teach">${t.shelf.more(voices.length - ROWS)}</p>` : nothing}`;
}

/** What is kept with each strike from now on. */
function now({ state: s, t, desk }: App): TemplateResult {
  const k = s.shelf!;
  const warm = (e: Event) => {
    const said = (e.target as HTMLInputElement).value.trim().replace(",", ".");
    const c = said === "" ? null : Number(said);
    if (Number.isNaN(c)) return desk.refuse(t.shelf.notNumber);
    void desk.ask("PATCH", "shelf", { temperature_c: c });
  };
  const room = (e: Event) => void desk.ask("PATCH", "shelf", { room: (e.target as HTMLInputElement).value.trim() });
  const said = [k.temperature_c === null ? "" : t.shelf.degrees(decimals(k.temperature_c, Number.isInteger(k.temperature_c) ? 0 : 1, t.mark)), k.room].filter(Boolean).join(", ");
  return html`<details class="entries-of"><summary>${t.shelf.now(said)}</summary><form class="entries now" @submit=${(e: Event) => e.preventDefault()}>
    <label>${t.shelf.temperature} <input name="temperature_c" inputmode="decimal" maxlength="8" autocomplete="off" .value=${k.temperature_c === null ? "" : String(k.temperature_c).replace(".", t.mark)} @change=${warm}></label>
    <label>${t.shelf.room} <input name="room" maxlength="80" autocomplete="off" .value=${k.room} @change=${room}></label>
  </form></details>`;
}

function rows(t: Tongue, voices: readonly Voice[]): TemplateResult {
  return html`<div class="book"><table class="voices">
    <caption>${t.shelf.table}</caption>
    <thead><tr>${t.shelf.columns.map((c, i) => html`<th scope="col" class=${i > 0 && i < 4 ? "n" : ""}>${c}</th>`)}</tr></thead>
    <tbody>${repeat(voices.slice(0, ROWS), (v) => v.id, (v) => html`<tr data-state=${v.state}>
      <th scope="row"><a href=${`#shelf/object/${v.object}`}><bdi>${v.label}</bdi></a></th>
      <td class="n">${landingOf(t, v)}</td>
      <td class="n">${v.ring_s === null ? t.notKnown : t.seconds(decimals(v.ring_s, v.ring_s < 10 ? 1 : 0, t.mark))}</td>
      <td class="n">${v.strikes}</td>
      <td>${t.shelf.states[v.state] ?? v.state}</td>
      <td><bdi>${[v.material, v.kept_at].filter(Boolean).join(", ")}</bdi></td>
    </tr>`)}</tbody>
  </table></div>`;
}

/** "F sharp 5, 12 c high" with the digits its spread leaves. */
export function landingOf(t: Tongue, v: Voice): string {
  if (!v.landing) return t.notKnown;
  const away = distance(v.landing.cents, v.spread_cents, t.mark);
  return t.place(noteName(t, "said", v.landing.midi, v.landing.note), away === "0" ? "" : v.landing.cents > 0 ? t.high(away) : t.low(away));
}

function finder({ t, view, deeds }: App): TemplateResult {
  const put = (name: string) => (e: Event) => deeds.show({ find: { ...view.find, [name]: (e.target as HTMLInputElement).value } });
  const text = (name: string) => html`<label>${t.shelf.find[name]} <input name=${name} maxlength="80" autocomplete="off" .value=${view.find[name] ?? ""} @input=${put(name)}></label>`;
  const choice = (name: string, of: readonly (readonly [string, string])[]) =>
    html`<label>${t.shelf.find[name]} <select name=${name} @change=${put(name)}><option value="">${t.shelf.any}</option>${of.map(([v, w]) => html`<option value=${v} ?selected=${view.find[name] === v}>${w}</option>`)}</select></label>`;
  const far = ["bend_cents", "within_cents", "material", "kept_at", "ring_min_s", "ring_max_s"];
  return html`<form class="finder" role="search" @submit=${(e: Event) => e.preventDefault()}>
    ${text("words")}${text("near")}
    ${choice("kind", Object.entries(t.kinds).filter(([k]) => k !== "unknown"))}
    ${choice("state", STATES.map((x) => [x, t.shelf.states[x]!] as const))}
    <details ?open=${far.some((f) => view.find[f])}><summary>${t.shelf.moreFind}</summary><div class="finder inner">${far.map(text)}</div></details>
    ${Object.values(view.find).some(Boolean) ? html`<button type="button" @click=${() => deeds.show({ find: {} })}>${t.shelf.findAll}</button>` : nothing}
  </form>`;
}
