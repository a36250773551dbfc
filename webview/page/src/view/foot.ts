// The foot: the places there are, and what is always within reach. A place is added here when it exists.

import { html, nothing, type TemplateResult } from "lit/html.js";
import type { App } from "../app.ts";

export function foot({ state: s, t, view, deeds }: App): TemplateResult {
  const undo = s.thrown ? html`<p class="undo" role="status">${t.thrownAway(t.clock(new Date(thrownAt(s.thrown.time))))} <button @click=${deeds.undo}>${t.undo} <kbd aria-hidden="true">U</kbd></button></p>` : nothing;
  return html`${undo}
    <div class="places">
      <nav aria-label=${t.places}><a href="#listen" aria-current="page">${t.listen} <kbd aria-hidden="true">1</kbd></a></nav>
      <button @click=${() => deeds.show({ dialog: "setup" })}>${t.setup} <kbd aria-hidden="true">S</kbd></button>
      <button @click=${() => deeds.show({ dialog: "keys" })}>${t.keys} <kbd aria-hidden="true">?</kbd></button>
      <button @click=${() => deeds.show({ dialog: "cautions" })}>${t.cautions}</button>
    </div>
    ${view.far ? html`<button class="leave" @click=${() => deeds.show({ far: false })}>${t.leaveFar}</button>` : nothing}`;
}

const thrownAt = (time: string | null): number => (time ? Date.parse(time) : NaN) || Date.now();
