// The call-over: strike each object once; one line each, large, and printable.

import { html, nothing, type TemplateResult } from "lit/html.js";
import { repeat } from "lit/directives/repeat.js";
import type { App } from "../app.ts";
import { decimals, distance } from "../number.ts";

export function callOver(app: App): TemplateResult {
  const { state: s, t, desk } = app;
  const c = s.shelf?.call_over;
  if (!c) {
    const begin = (e: SubmitEvent) => {
      e.preventDefault();
      const where = String(new FormData(e.currentTarget as HTMLFormElement).get("kept_at") ?? "").trim();
      void desk.ask("POST", "shelf/call-over", where ? { kept_at: where } : {});
    };
    return html`<div class="head"><h2>${t.shelf.callOver}</h2></div><p class="teach">${t.shelf.callOverSub}</p>
      <form class="finder" @submit=${begin}><label>${t.shelf.onlyAt} <input name="kept_at" autocomplete="off"></label><button type="submit" data-begin>${t.shelf.begin}</button></form>`;
  }
  const moved = (l: (typeof c.lines)[number]): string => {
    if (l.moved_cents === null) return "";
    const away = distance(l.moved_cents, l.sigma_cents, t.mark);
    const by = away === "0" ? t.shelf.notMoved : l.moved_cents > 0 ? t.high(away) : t.low(away);
    return l.temperature_c === null ? by : t.shelf.atDegrees(by, decimals(l.temperature_c, 0, t.mark));
  };
  return html`<div class="head"><h2 aria-live="polite">${t.shelf.answered(c.present + c.suspect, c.of)}</h2>
      <button @click=${() => print()}>${t.shelf.print}</button>
      <button @click=${() => void desk.ask("DELETE", "shelf/call-over")}>${t.shelf.end}</button></div>
    ${c.strangers ? html`<p class="teach">${t.shelf.strangers(c.strangers)}</p>` : nothing}
    ${c.unsure.map((u) => html`<p class="head unsure"><span>${t.shelf.whichOne}</span> ${u.candidates.map((x) => html`<button @click=${() => void desk.ask("PATCH", "shelf/call-over", { strike: u.strike, object: x.object })}><bdi>${x.label}</bdi></button>`)}</p>`)}
    <ol class="calls">${repeat(c.lines, (l) => l.object, (l) => html`<li data-answer=${l.answer}><span aria-hidden="true">${{ present: "✓", suspect: "!", missing: "–" }[l.answer]}</span> <a href=${`#shelf/object/${l.object}`}><bdi>${l.name}</bdi></a> <span>${t.shelf.answers[l.answer]}${l.answer === "missing" || !moved(l) ? "" : `, ${moved(l)}`}</span></li>`)}</ol>`;
}
