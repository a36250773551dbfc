// What can be done with the strike at hand.

import { html, nothing, type TemplateResult } from "lit/html.js";
import type { App } from "../app.ts";
import { soundOf } from "../ask.ts";
import { aimName } from "../benchsay.ts";
import { atHand, placeName, takeable } from "../hunt.ts";
import { signed } from "../number.ts";
import { shown } from "../state.ts";
import { noteName } from "../tongue/tongue.ts";

export function acts(app: App): TemplateResult {
  const { state: s, view, t, deeds, sounding } = app;
  if (view.place === "wanted") return huntActs(app);
  if (view.place === "bench") return benchActs(app);
  const strike = shown(s);
  const frozen = s.session?.frozen ?? false;
  return html`
    ${s.shelf?.writable
      ? html`<button class="first" ?disabled=${!strike || strike.stage !== "final" || strike.kept !== null} @click=${deeds.keep}>${strike?.kept ? t.shelf.isKept : t.keep} <kbd aria-hidden="true">K</kbd></button>`
      : strike?.sound ? html`<a href=${soundOf(strike.id)} download aria-label=${t.keepSound}>${t.keep} <kbd aria-hidden="true">K</kbd></a>` : nothing}
    <button aria-pressed=${sounding ? "true" : "false"} @click=${deeds.tone}>${sounding ? t.stopTone : hearWords(app)} <kbd aria-hidden="true">T</kbd></button>
    <button aria-pressed=${frozen ? "true" : "false"} ?disabled=${!frozen && !strike} @click=${deeds.freeze}>${t.freeze} <kbd aria-hidden="true">${t.space}</kbd></button>
    <button aria-pressed=${view.zoom > 0.5 ? "true" : "false"} @click=${() => deeds.zoom(view.zoom > 0.5 ? 0 : 1)}>${t.whole} <kbd aria-hidden="true">Z</kbd></button>
    <button aria-pressed=${view.numbers ? "true" : "false"} ?disabled=${!strike} @click=${() => deeds.show({ numbers: !view.numbers })}>${t.numbers} <kbd aria-hidden="true">N</kbd></button>
    <button @click=${() => deeds.show({ far: true })}>${t.far} <kbd aria-hidden="true">F</kbd></button>
  `;
}

/** While hunting: one key takes what was struck. */
function huntActs(app: App): TemplateResult {
  const { state: s, view, t, deeds, sounding } = app;
  const strike = shown(s);
  const frozen = s.session?.frozen ?? false;
  const place = atHand(s, view.open);
  const bend = place?.bend_cents ? ` ${signed(place.bend_cents, t.mark)}` : "";
  return html`
    <button class="first" ?disabled=${!takeable(strike?.verdict ?? null)} @click=${() => deeds.found(null, null)}>${t.hunt.found} <kbd aria-hidden="true">K</kbd></button>
    <button aria-pressed=${sounding ? "true" : "false"} ?disabled=${!place} @click=${deeds.tone}>${sounding ? t.stopTone : place ? t.hear(placeName(t, place, "written") + bend) : t.hearNothing} <kbd aria-hidden="true">T</kbd></button>
    <button aria-pressed=${frozen ? "true" : "false"} ?disabled=${!frozen && !strike} @click=${deeds.freeze}>${t.freeze} <kbd aria-hidden="true">${t.space}</kbd></button>
    <button aria-pressed=${view.huntZoom > 0.5 ? "true" : "false"} @click=${() => deeds.zoom(view.huntZoom > 0.5 ? 0 : 1)}>${t.whole} <kbd aria-hidden="true">Z</kbd></button>
    <button @click=${() => deeds.show({ far: true })}>${t.far} <kbd aria-hidden="true">F</kbd></button>
  `;
}

/** At the bench: the aim to the ear, and what was done last taken back. */
function benchActs({ state: s, view, t, deeds, sounding }: App): TemplateResult {
  const b = view.benchTab === "water" ? s.bench : null;
  return html`
    ${b?.aim ? html`<button aria-pressed=${sounding ? "true" : "false"} @click=${deeds.tone}>${sounding ? t.stopTone : t.hear(aimName(t, b.aim.name, "written"))} <kbd aria-hidden="true">T</kbd></button>` : nothing}
    ${b && (b.undo || b.asks) ? html`<button @click=${deeds.bench.undo}>${t.bench.undo} <kbd aria-hidden="true">U</kbd></button>` : nothing}
    <button @click=${() => deeds.show({ far: true })}>${t.far} <kbd aria-hidden="true">F</kbd></button>
  `;
}

/** What T would sound: the note aimed at, else the one the strike lies nearest to. */
function hearWords({ state: s, t }: App): string {
  const k = s.session;
  const l = shown(s)?.landing;
  const midi = k?.aim && k.target !== null ? k.target : l?.midi;
  if (midi === undefined) return t.hearNothing;
  const label = s.instrument?.notes.find((n) => n.midi === midi)?.label ?? "C4";
  const bend = k?.aim && k.bend_cents ? ` ${signed(k.bend_cents, t.mark)}` : "";
  return t.hear(noteName(t, "written", midi, label) + bend);
}
