// What was put away: taken back, or emptied for good by typing its name.

import { html, nothing, type TemplateResult } from "lit/html.js";
import type { App } from "../app.ts";

export function awayList({ t, desk }: App): TemplateResult | typeof nothing {
  const g = desk.gone;
  if (!g) return nothing;
  const row = (what: string, id: string, name: string) =>
    html`<li><bdi>${name}</bdi> <button @click=${() => void desk.takeBack(`shelf/${what}/${encodeURIComponent(id)}`)}>${t.shelf.takeBack}</button>
      ${what === "objects" ? html`<form @submit=${(e: SubmitEvent) => empty(e, id)}><label>${t.shelf.emptyName} <input name="name" autocomplete="off"></label><button type="submit">${t.shelf.emptyIt}</button></form>` : nothing}</li>`;
  const empty = (e: SubmitEvent, id: string) => {
    e.preventDefault();
    void desk.ask("POST", "shelf/empty", { object: id, name: String(new FormData(e.currentTarget as HTMLFormElement).get("name")) });
  };
  const time = (x: string | null) => (x ? new Date(x).toLocaleString(t.code === "en" ? "en-GB" : t.code) : t.notKnown);
  return html`<div class="head"><h2>${t.shelf.away}</h2></div>
    <ul class="away">${g.objects.map((o) => row("objects", o.id, o.name))}${g.voices.map((v) => row("voices", v.id, v.label))}${g.strikes.map((k) => row("strikes", k.id, t.shelf.strikeAt(time(k.time))))}</ul>`;
}
