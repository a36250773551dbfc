// The foot: the places there are, and what is always within reach. A place is added here when it exists.

import { html, nothing, type TemplateResult } from "lit/html.js";
import type { App } from "../app.ts";
import { canListen } from "../mic.ts";
import type { Place } from "../view.ts";

export function foot({ state: s, t, view, lent, desk, deeds }: App): TemplateResult {
  const undo = s.thrown ? html`<p class="undo" role="status">${t.thrownAway(t.clock(new Date(thrownAt(s.thrown.time))))} <button @click=${deeds.undo}>${t.undo} <kbd aria-hidden="true">U</kbd></button></p>` : nothing;
  const away = !s.thrown && desk.away ? html`<p class="undo" role="status">${t.shelf.wentAway(desk.away.name)} <button @click=${deeds.undo}>${t.undo} <kbd aria-hidden="true">U</kbd></button></p>` : nothing;
  const here = lent.stage === "asking" || lent.stage === "away" || (lent.told?.in_use ?? false);
  const place = (p: Place, name: string, key: string) =>
    html`<a href=${`#${p}`} aria-current=${view.place === p ? "page" : nothing} @click=${() => deeds.show({ far: false })}>${name} <kbd aria-hidden="true">${key}</kbd></a>`;
  return html`${undo}${away}
    <div class="places">
      <nav aria-label=${t.places}>${place("listen", t.listen, "1")}${place("wanted", t.hunt.wanted, "2")}${place("bench", t.bench.bench, "3")}${place("shelf", t.shelf.shelf, "4")}</nav>
      ${canListen() ? html`<button class="lend" aria-pressed=${here ? "true" : "false"} @click=${here ? deeds.lendNoMore : deeds.lend}>${here ? t.doors.earStop : t.doors.earHere}</button>` : nothing}
      <button class="wide" @click=${() => deeds.show({ dialog: "setup" })}>${t.setup} <kbd aria-hidden="true">S</kbd></button>
      <button class="wide" @click=${() => deeds.show({ dialog: "keys" })}>${t.keys} <kbd aria-hidden="true">?</kbd></button>
      <button class="wide" @click=${() => deeds.show({ dialog: "cautions" })}>${t.cautions}</button>
    </div>
    ${view.far ? html`<button class="leave" @click=${() => deeds.show({ far: false })}>${t.leaveFar}</button>` : nothing}`;
}

const thrownAt = (time: string | null): number => (time ? Date.parse(time) : NaN) || Date.now();
