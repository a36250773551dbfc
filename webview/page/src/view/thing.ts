// An object's card: photo, fields, states, and its voices.

import { html, nothing, type TemplateResult } from "lit/html.js";
import { repeat } from "lit/directives/repeat.js";
import type { App } from "../app.ts";
import { SIZES, STATES, type Thing } from "../shelfform.ts";
import { dayOf, newVoice, voice } from "./voice.ts";

export function thingCard(app: App): TemplateResult | typeof nothing {
  const { t, desk, deeds } = app;
  const o = desk.thing;
  if (!o) return nothing;
  const path = `shelf/objects/${encodeURIComponent(o.id)}`;
  return html`<article class="thing" aria-labelledby="thing-name">
    <div class="head"><h2 id="thing-name"><bdi>${o.name}</bdi></h2>
      ${o.put_away
        ? html`<button @click=${() => void desk.takeBack(path)}>${t.shelf.takeBack}</button>`
        : html`<button @click=${() => void desk.putAway("objects", o.id, o.name).then((ok) => ok && deeds.go("shelf"))}>${t.shelf.putAway}</button>`}
    </div>
    ${repeat(o.voices, (v) => v.id, (v) => voice(app, v))}
    ${o.put_away ? nothing : newVoice(app, path)}
    <div class="two">
      ${fields(app, o, path)}
      <div>${photo(app, o, path)}${states(app, o, path)}</div>
    </div>
  </article>`;
}

function photo({ t, desk }: App, o: Thing, path: string): TemplateResult {
  const send = (e: Event) => {
    const file = (e.target as HTMLInputElement).files?.[0];
    if (file) void desk.ask("PUT", `${path}/photo`, file);
  };
  return html`<section class="photo"><h3>${t.shelf.photo}</h3>
    ${o.photo ? html`<img src=${o.photo} alt=${t.shelf.photoOf(o.name)}><button @click=${() => void desk.ask("DELETE", `${path}/photo`)}>${t.shelf.photoOff}</button>` : nothing}
    <label>${t.shelf.photoAdd} <input type="file" name="photo" accept="image/jpeg,image/png,image/webp" @change=${send}></label>
  </section>`;
}

function fields({ t, desk, state: s }: App, o: Thing, path: string): TemplateResult {
  const save = (e: SubmitEvent) => {
    e.preventDefault();
    const said = new FormData(e.currentTarget as HTMLFormElement);
    const of: Record<string, unknown> = {};
    for (const [name, v] of said) of[name] = (SIZES as readonly string[]).includes(name) ? (String(v).trim() === "" ? null : Number(String(v).replace(",", "."))) : v;
    if (SIZES.some((z) => Number.isNaN(of[z]))) return void desk.refuse(t.shelf.notNumber);
    void desk.ask("PATCH", path, of);
  };
  const text = (name: "name" | "material" | "kept_at" | "found_at" | "found_on") => html`<label>${t.shelf.fields[name]} <input name=${name} autocomplete="off" .value=${o[name]}></label>`;
  return html`<form class="entries" @submit=${save}>
    ${text("name")}
    <label>${t.kind} <select name="kind">${(s.hello?.kinds ?? []).map((k) => html`<option value=${k} ?selected=${k === o.kind}>${t.kinds[k] ?? k}</option>`)}</select></label>
    ${text("material")}${text("kept_at")}${text("found_at")}${text("found_on")}
    ${SIZES.map((z) => html`<label>${t.shelf.fields[z]} <input name=${z} inputmode="decimal" autocomplete="off" .value=${o[z] === null ? "" : String(o[z]).replace(".", t.mark)}></label>`)}
    <label class="all">${t.shelf.fields["notes"]} <textarea name="notes" rows="3" .value=${o.notes}></textarea></label>
    <button type="submit">${t.shelf.save}</button>
  </form>`;
}

function states({ t, desk }: App, o: Thing, path: string): TemplateResult {
  const save = (e: SubmitEvent) => {
    e.preventDefault();
    const said = new FormData(e.currentTarget as HTMLFormElement);
    void desk.ask("POST", `${path}/state`, { state: said.get("state"), note: said.get("note") });
  };
  return html`<section class="states"><h3>${t.shelf.state}</h3>
    <form class="entries" @submit=${save}>
      <label>${t.shelf.stateNow} <select name="state">${STATES.map((x) => html`<option value=${x} ?selected=${x === o.state}>${t.shelf.states[x]}</option>`)}</select></label>
      <label>${t.shelf.note} <input name="note" autocomplete="off"></label>
      <button type="submit">${t.shelf.setState}</button>
    </form>
    <ol>${o.states.map((x) => html`<li>${t.shelf.since(t.shelf.states[x.state] ?? x.state, dayOf(t.code, x.since))}${x.note ? html`: <bdi>${x.note}</bdi>` : nothing}</li>`)}</ol>
  </section>`;
}
