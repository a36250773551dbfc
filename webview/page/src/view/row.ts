// A whole row at the bench: which vessel for which note, in what order, and a table to print.

import { html, nothing, type TemplateResult } from "lit/html.js";
import type { App } from "../app.ts";
import type { Row, Way } from "../benchmessage.ts";
import { aimName, amountOf } from "../benchsay.ts";
import { rowFirst, rowKey, vesselsOf } from "../driftsay.ts";
import { decimals } from "../number.ts";
import { shown } from "../state.ts";
import { numberOf, radio, textOf } from "./form.ts";

const WAYS: readonly Way[] = ["struck", "blown"];

export function rowView(app: App): TemplateResult {
  const { state: s, t, view, deeds } = app;
  const w = t.drift;
  const place = (e: Event) => {
    e.preventDefault();
    const f = e.currentTarget as HTMLFormElement;
    const text = { vessels: textOf(f, "vessels"), aims: textOf(f, "aims") };
    deeds.show({ rowText: text });
    const vessels = vesselsOf(text.vessels);
    if (typeof vessels === "number") return deeds.bench.say(w.lineWrong(vessels));
    const aims = text.aims.split("\n").map((x) => x.trim()).filter(Boolean);
    deeds.bench.place({ way: view.benchWay, pour: view.benchPour, vessels, aims });
  };
  const typed = (e: Event) => {
    const f = (e.target as HTMLElement).closest("form")!;
    deeds.show({ rowText: { vessels: textOf(f, "vessels"), aims: textOf(f, "aims") } });
  };
  const take = (e: Event) => {
    const f = (e.target as HTMLElement).closest("form")!;
    const heard = shown(s)?.heard;
    if (!heard) return deeds.bench.say(w.noStrike);
    const text = textOf(f, "vessels").trimEnd();
    const sound = `${numberOf(f, "in") ?? 0}=${heard.frequency_hz.toFixed(1)}`;
    deeds.show({ rowText: { ...view.rowText, vessels: `${text}${/:\s*$/.test(text) ? " " : text.includes(":") && !text.split("\n").pop()!.includes(":") ? ": " : text.split("\n").pop()!.includes("=") ? ", " : ": "}${sound}` } });
  };
  return html`<form class="work typing" @submit=${place}>
      <fieldset><legend>${t.bench.way}</legend>${WAYS.map((x) => radio("way", x, t.bench.ways[x], view.benchWay === x, () => deeds.show({ benchWay: x })))}</fieldset>
      <label>${w.vessels}<textarea name="vessels" rows="4" spellcheck="false" autocapitalize="none" placeholder=${w.vesselsHint} .value=${view.rowText.vessels} @change=${typed}></textarea></label>
      <div class="fields"><label>${w.inIt}<input type="number" name="in" step="any" min="0" inputmode="decimal" value="0"></label><button type="button" @click=${take}>${w.takeStrike}</button></div>
      <label>${w.aims}<textarea name="aims" rows="4" spellcheck="false" autocapitalize="none" placeholder="F#5 +30 +-5" .value=${view.rowText.aims} @change=${typed}></textarea></label>
      <p class="choose"><button class="first" type="submit">${w.place}</button></p>
    </form>
    ${s.row ? table(app, s.row) : nothing}`;
}

function table({ t, view, deeds }: App, r: Row): TemplateResult {
  const w = t.drift;
  const vessels = vesselsOf(view.rowText.vessels);
  const done = r.placed.filter((p) => view.rowDone.includes(rowKey(p))).length;
  const toggle = (key: string) => deeds.show({ rowDone: view.rowDone.includes(key) ? view.rowDone.filter((k) => k !== key) : [...view.rowDone, key] });
  return html`<section class="paper"><div class="head"><h2>${w.progress(done, r.placed.length)}</h2><button @click=${() => print()}>${w.print}</button></div>
    <div class="book" tabindex="0" role="region" aria-label=${w.rowBegin}><table><thead><tr>${w.rowColumns.map((c) => html`<th scope="col">${c}</th>`)}<td></td></tr></thead>
      <tbody>${r.placed.map((p) => {
        const key = rowKey(p);
        const first = rowFirst(t, p);
        const vessel = typeof vessels === "number" ? undefined : vessels.find((v) => v.name === p.vessel);
        const spec = vessel && { way: view.benchWay, pour: view.benchPour, holds_ml: vessel.holds_ml, already_ml: vessel.sounds[0]!.in_ml, aim: p.aim.replace(" bent ", " "), vessel: p.vessel };
        return html`<tr><th scope="row">${aimName(t, p.aim)}</th><td>${p.vessel}</td><td>${first.words} ${first.doubt}</td><td>${amountOf(t, p.fill_ml, p.sigma_ml).n}</td><td>${amountOf(t, p.fill_g, p.sigma_ml).n}</td><td>${w.chance(decimals(Math.min(99, Math.round(p.chance * 100)), 0, t.mark))}</td>
          <td class="name">${spec ? html`<button @click=${() => deeds.bench.followVessel(spec, vessel.sounds)}>${w.follows}</button>` : nothing} <button aria-pressed=${view.rowDone.includes(key) ? "true" : "false"} @click=${() => toggle(key)}>${w.done}</button></td></tr>`;
      })}</tbody></table></div>
    <p class="note told-small">${r.bare.length ? w.bare(r.bare.map((a) => aimName(t, a)).join(", ")) : nothing} ${r.spare.length ? w.spare(r.spare.join(", ")) : nothing}</p></section>`;
}
