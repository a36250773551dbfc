// A voice on its object's card: how it is struck and held, and its history.

import { html, nothing, type TemplateResult } from "lit/html.js";
import { repeat } from "lit/directives/repeat.js";
import type { App } from "../app.ts";
import { decimals } from "../number.ts";
import type { Kept, Voice } from "../shelfform.ts";
import { readOf } from "../words.ts";
import { landingOf } from "./shelf.ts";

const PARTS = ["place", "beater", "support", "fill"] as const;

/** The most voices offered for a strike that was kept as another's. */
const OFFERED = 300;

export function voice(app: App, v: Voice): TemplateResult {
  const { state: s, t, desk } = app;
  const kept = desk.kept.get(v.id) ?? [];
  const on = s.shelf?.stand?.voice === v.id;
  const alike = desk.alike.get(v.id) ?? [];
  return html`<section class="voice" data-voice=${v.id}>
    <div class="head"><h3><bdi>${v.label}</bdi> <small>${landingOf(t, v)}</small></h3>
      <button aria-pressed=${on ? "true" : "false"} @click=${() => void desk.ask("PATCH", "shelf", { stand: on ? null : v.id })}>${on ? t.shelf.standOff : t.shelf.standOn}</button>
      <button @click=${() => void desk.putAway("voices", v.id, v.label)}>${t.shelf.putVoiceAway}</button>
    </div>
    ${kept.length ? html`<svg class="thin" data-row=${kept.at(-1)!.id} aria-hidden="true"></svg>` : nothing}
    ${alike.length ? html`<p class="teach">${t.shelf.alike} ${alike.map((a, i) => html`${i ? ", " : ""}<a href=${`#shelf/object/${a.object}`}><bdi>${a.label}</bdi></a>`)}</p>` : nothing}
    <details class="entries-of"><summary>${t.shelf.voiceOf}</summary>
      <form class="entries" @submit=${(e: SubmitEvent) => save(app, e, "PATCH", `shelf/voices/${encodeURIComponent(v.id)}`)}>${parts(app, v)}<button type="submit">${t.shelf.save}</button></form></details>
    <ol class="history" aria-label=${t.shelf.history}>${repeat(kept.toReversed(), (k) => k.id, (k) => struck(app, k))}</ol>
  </section>`;
}

/** A form for another voice of an object. */
export function newVoice(app: App, path: string): TemplateResult {
  const { t } = app;
  return html`<details class="entries-of another"><summary>${t.shelf.newVoice}</summary>
    <form class="entries" @submit=${(e: SubmitEvent) => save(app, e, "POST", `${path}/voices`)}>${parts(app, null)}<button type="submit">${t.shelf.addVoice}</button></form></details>`;
}

function parts({ t }: App, v: Voice | null): TemplateResult {
  const pin = v?.pinned_hz ?? null;
  return html`${PARTS.map((p) => html`<label>${t.shelf.voiceFields[p]} <input name=${p} maxlength="80" autocomplete="off" .value=${v?.[p] ?? ""}></label>`)}
    <label>${t.shelf.voiceFields["pinned_hz"]} <input name="pinned_hz" inputmode="decimal" autocomplete="off" .value=${pin === null ? "" : String(pin).replace(".", t.mark)}></label>`;
}

function save({ t, desk }: App, e: SubmitEvent, how: "PATCH" | "POST", path: string): void {
  e.preventDefault();
  const form = e.currentTarget as HTMLFormElement;
  const said = Object.fromEntries(new FormData(form)) as Record<string, string>;
  const pin = said["pinned_hz"]?.trim().replace(",", ".") ?? "";
  if (pin !== "" && !(Number(pin) > 0)) return desk.refuse(t.shelf.notNumber);
  void desk.ask(how, path, { ...said, pinned_hz: pin === "" ? null : Number(pin) }).then((ok) => ok && how === "POST" && form.reset());
}

function struck({ state: s, view, t, desk, deeds }: App, k: Kept): TemplateResult {
  const laid = view.laid === k.id;
  const compare = () => {
    if (laid) return deeds.show({ laid: null });
    if (view.laid === null) return deeds.show({ laid: k.id });
    const a = view.laid;
    deeds.show({ laid: null });
    deeds.go("shelf", `compare/${a}/${k.id}`);
  };
  const when = k.time ? dayOf(t.code, k.time) : t.notKnown;
  const around = [k.temperature_c === null ? "" : t.shelf.degrees(decimals(k.temperature_c, 0, t.mark)), k.room, k.note].filter(Boolean).join(", ");
  const change = (e: SubmitEvent) => {
    e.preventDefault();
    const said = new FormData(e.currentTarget as HTMLFormElement);
    const voice = String(said.get("voice"));
    void desk.ask("PATCH", `shelf/strikes/${encodeURIComponent(k.id)}`, { note: String(said.get("note")).trim(), ...(voice === k.voice ? {} : { voice }) });
  };
  return html`<li data-strike=${k.id}><span>${when}, ${readOf(t, k, s.instrument)}${around ? html` <small><bdi>${around}</bdi></small>` : nothing}</span>
    <audio controls preload="none" src=${k.recording} aria-label=${t.shelf.soundAt(when)}></audio>
    <button aria-pressed=${laid ? "true" : "false"} @click=${compare}>${laid ? t.compareOff : view.laid ? t.shelf.compareWith : t.compare}</button>
    <button @click=${() => void desk.putAway("strikes", k.id, when)}>${t.shelf.putAway}</button>
    <details><summary>${t.shelf.noteAndVoice}</summary><form class="entries" @submit=${change}>
      <label>${t.shelf.note} <input name="note" maxlength="500" autocomplete="off" .value=${k.note}></label>
      <label>${t.shelf.isVoice} <select name="voice">${voicesFor(desk).map((x) => html`<option value=${x.id} ?selected=${x.id === k.voice}>${x.label}</option>`)}</select></label>
      <button type="submit">${t.shelf.save}</button></form></details></li>`;
}

/** The voices a strike may be moved to: first those of this object. */
function voicesFor(desk: App["desk"]): Voice[] {
  const here = desk.thing?.voices ?? [];
  const others = (desk.voices ?? []).filter((v) => v.object !== desk.thing?.id);
  return [...here, ...others].slice(0, OFFERED);
}

export const dayOf = (code: string, time: string): string => new Date(time).toLocaleString(code === "en" ? "en-GB" : code, { dateStyle: "medium", timeStyle: "short" });
