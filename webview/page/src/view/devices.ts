// Whose microphone is the ear, and the devices that are paired. Part of setting up.

import { html, nothing, type TemplateResult } from "lit/html.js";
import type { App } from "../app.ts";
import type { Device } from "../message.ts";
import { canListen } from "../mic.ts";
import { decimals } from "../number.ts";

/** Lending this device's microphone, and the microphones others lend. */
export function lending(app: App): TemplateResult {
  const { t, lent, state: s, deeds } = app;
  const others = s.phones.filter((p) => p.id !== lent.id);
  const lost = (lent.told?.lost_samples ?? 0) + lent.lost;
  const rate = t.hz(decimals(lent.rate, 0, t.mark));
  const stage = { off: "", asking: t.doors.asking, away: t.doors.away, on: lent.told?.in_use ? t.doors.inUse : t.doors.waits }[lent.stage];
  return html`${canListen()
      ? lent.stage === "off"
        ? html`<button @click=${deeds.lend}>${t.doors.listenHere}</button>`
        : html`${lent.stage === "on" && !lent.told?.in_use ? html`<button @click=${deeds.lend}>${t.doors.listenAgain}</button>` : nothing}
            <button @click=${deeds.lendNoMore}>${t.doors.stopHere}</button>`
      : html`<p class="note">${t.doors.cannot}</p>`}
    ${lent.why ? html`<p class="fault" role="alert">${t.doors.why[lent.why]}${lent.words ? html` <span lang="en">${lent.words}</span>` : nothing}</p>` : nothing}
    ${stage ? html`<p class="note" role="status">${stage}</p>` : nothing}
    ${lent.stage === "on" || lent.stage === "away"
      ? html`<p class="note" id="lent">${t.doors.sent(rate, lost ? t.millis(decimals((lost / lent.rate) * 1000, 0, t.mark)) : t.doors.none)}</p>`
      : nothing}
    ${lent.altered.length ? html`<p class="fault">${t.doors.alteredBy(lent.altered.map((k) => t.doors.alters[k] ?? k).join(", "))}</p>` : nothing}
    ${others.length ? html`<p class="note">${t.doors.lenders}</p>${others.map((p) => html`<button aria-pressed=${p.in_use ? "true" : "false"} @click=${() => deeds.source("phone", p.id)}>${p.in_use ? t.doors.using(p.name) : t.doors.use(p.name)}</button>${p.words ? html`<p class="note" lang="en">${p.words}</p>` : nothing}`)}` : nothing}
    <p class="note">${t.doors.private}</p>`;
}

/** The devices that are paired; on ringwell's own computer a code to pair another. */
export function devices({ t, doors, deeds, view }: App): TemplateResult | typeof nothing {
  const { share, devices, pairing } = doors;
  if (!share) return nothing;
  if (!share.on) return html`<section><h3>${t.doors.section}</h3><p class="note">${t.doors.off}</p></section>`;
  return html`<section>
    <h3>${t.doors.section}</h3>
    ${share.here ? html`<button @click=${deeds.offer}>${pairing ? t.doors.pairAgain : t.doors.pair}</button>` : nothing}
    ${pairing && share.here
      ? html`<img class="code" src=${`/api/pairing/code.svg?${encodeURIComponent(pairing.expires)}`} width="240" height="240" alt=${t.doors.code}>
          <p class="note">${t.doors.scan} ${t.doors.expires(t.clock(new Date(pairing.expires)))}</p>
          <p class="note">${t.doors.byHand} <span class="print">${pairing.url}</span></p>`
      : nothing}
    ${devices.length ? html`<ul class="devices">${devices.map((d) => row(t, d, share.here || share.device?.id === d.id, share.device?.id === d.id, view.open === d.id, deeds))}</ul>` : html`<p class="note">${t.doors.none_}</p>`}
    <p class="note"><a href="/pair">${t.doors.certificate}</a></p>
    ${share.fingerprint ? html`<p class="note">${t.doors.fingerprint} <span class="print">${share.fingerprint}</span></p>` : nothing}
  </section>`;
}

function row(t: App["t"], d: Device, mine: boolean, you: boolean, sure: boolean, deeds: App["deeds"]): TemplateResult {
  const save = (e: SubmitEvent) => {
    e.preventDefault();
    deeds.nameDevice(d.id, (e.currentTarget as HTMLFormElement).querySelector("input")!.value.trim());
  };
  if (!mine) return html`<li><bdi>${d.name}</bdi> <small>${t.doors.seen(t.clock(new Date(d.seen)))}</small></li>`;
  return html`<li><form @submit=${save}>
      <label>${t.doors.name} <small>${you ? t.doors.you : t.doors.seen(t.clock(new Date(d.seen)))}</small><input name="name" maxlength="80" autocomplete="off" .value=${d.name}></label>
      <button type="submit">${t.doors.rename}</button>
      <button type="button" @click=${() => (sure ? deeds.removeDevice(d.id) : deeds.show({ open: d.id }))}>${sure ? t.doors.removeSure : t.doors.remove}</button>
    </form></li>`;
}
