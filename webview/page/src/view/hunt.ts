// What is wanted: a row with a thin rail for each place, and what can be done with one.

import { html, nothing, type TemplateResult } from "lit/html.js";
import { repeat } from "lit/directives/repeat.js";
import type { App } from "../app.ts";
import { soundOf } from "../ask.ts";
import { fullName, progressOf } from "../hunt.ts";
import { nearestTo } from "../huntpicture.ts";
import type { WantedPlace } from "../message.ts";
import { decimals } from "../number.ts";
import { shown } from "../state.ts";
import { lackOf } from "../words.ts";
import { editor } from "./editor.ts";

export { fitEditor } from "./editor.ts";

export function hunt(app: App): TemplateResult | typeof nothing {
  const { state: s, view, t, deeds } = app;
  const w = s.wanted;
  if (view.place !== "wanted" || !w) return nothing;
  const { found, all } = progressOf(w);
  const typing = view.draft !== null || w.places.length === 0;
  return html`<div class="head">
      <h2>${w.places.length ? t.hunt.progress(found, all) : t.hunt.editFirst}</h2>
      ${typing ? nothing : html`<button @click=${() => deeds.edit(true)}>${t.hunt.edit} <kbd aria-hidden="true">E</kbd></button>`}
      ${w.undo ? html`<button @click=${() => deeds.wanted({ undo: true })}>${t.hunt.undo} <kbd aria-hidden="true">U</kbd></button>` : nothing}
    </div>
    ${w.notice ? html`<p class="fault" role="alert" lang="en">${w.notice}</p>` : nothing}
    ${typing ? editor(app, w) : nothing}
    ${w.places.length ? html`<ol class="trail wanted" aria-label=${t.hunt.list}>${repeat(w.places, (p) => p.id, (p) => row(app, p))}</ol>` : nothing}`;
}

function row(app: App, p: WantedPlace): TemplateResult {
  const { state: s, t, view, deeds } = app;
  const open = view.open === p.id;
  const read = readOf(app, p);
  const now = shown(s)?.verdict?.place === p.id && shown(s)?.verdict?.answer !== "not-wanted";
  const kind = p.kind === "unknown" ? "" : `, ${t.kinds[p.kind] ?? p.kind}`;
  const tolerance = `±${decimals(p.tolerance_cents, Number.isInteger(p.tolerance_cents) ? 0 : 1, t.mark)}`;
  return html`<li data-state=${p.state} class=${[open ? "open" : "", now ? "now" : ""].join(" ").trim()}>
    <svg class="thin" data-place=${p.id} aria-hidden="true"></svg>
    <button class="row" aria-expanded=${open ? "true" : "false"} @click=${() => deeds.show({ open: open ? null : p.id, naming: null })}>
      <span class="line"><span class="who">${p.state === "ticked" ? html`<span aria-hidden="true">✓ </span>` : nothing}${fullName(t, p)} <small>${tolerance}${kind}${p.count > 1 ? ` ×${p.count}` : ""}</small></span><span class="read">${read}</span></span>
      <span class="unseen">${t.hunt.choices}</span>
    </button>
    ${open ? choices(app, p) : nothing}
  </li>`;
}

/** What stands at the right of a row: what fills it, or how near anything has come. */
function readOf({ state: s, t }: App, p: WantedPlace): string {
  if (p.state === "ticked") return t.hunt.isTicked;
  const names = p.fills.map((f) => f.name ?? foundAt(t, f.found));
  const have = p.count > 1 ? [t.hunt.have(p.fills.length, p.count)] : [];
  if (names.length) return [...have, names.join(", ")].join(": ");
  const near = nearestTo(p, s.wanted!, s.strikes);
  if (!near) return t.hunt.nothingNear;
  const sigma = near.strike.heard?.sigma_cents ?? null;
  const { lack } = lackOf(t, near.cents, sigma, false);
  return near.strike === shown(s) ? t.hunt.now(lack) : t.hunt.near(near.strike.name, lack);
}

const foundAt = (t: App["t"], time: string | null): string => (time ? t.hunt.foundAt(t.clock(new Date(time))) : t.hunt.noName);

function choices({ state: s, t, deeds }: App, p: WantedPlace): TemplateResult {
  const ids = s.wanted!.places.map((q) => q.id);
  const i = ids.indexOf(p.id);
  const move = (by: number) => {
    const order = ids.slice();
    order.splice(i + by, 0, ...order.splice(i, 1));
    deeds.wanted({ order });
  };
  const last = shown(s);
  const mine = p.fills.some((f) => f.strike === last?.id);
  return html`<span class="choose">
    ${last?.heard && !mine ? html`<button @click=${() => deeds.found(last.id, p.id)}>${t.hunt.takeLast}</button>` : nothing}
    ${p.state === "ticked" ? html`<button @click=${() => deeds.wanted({ untick: p.id })}>${t.hunt.untick}</button>` : html`<button @click=${() => deeds.wanted({ tick: p.id })}>${t.hunt.tick}</button>`}
    <button ?disabled=${i === 0} @click=${() => move(-1)}>${t.hunt.up}</button>
    <button ?disabled=${i === ids.length - 1} @click=${() => move(1)}>${t.hunt.down}</button>
    ${p.fills.map((f) => {
      const who = f.name ?? foundAt(t, f.found);
      return html`<button @click=${() => deeds.wanted({ lost: f.strike })}>${t.hunt.lose(who)}</button>${f.sound ? html`<a href=${soundOf(f.strike)} download>${t.hunt.soundOf(who)}</a>` : nothing}`;
    })}
  </span>`;
}
