// The strip: whose ear, its level, lost sound, instrument, reference and aim. Each opens the place where it is set.

import { html, nothing, type TemplateResult } from "lit/html.js";
import type { App } from "../app.ts";
import { levelStep } from "../draw/level.ts";
import { decimals, signed } from "../number.ts";
import { instrumentName, noteName, type Tongue } from "../tongue/tongue.ts";

export function strip({ state: s, t, view, lent, deeds }: App): TemplateResult {
  const open = () => deeds.show({ dialog: "setup" });
  const bad = s.link !== "open" || ["deaf", "silent"].includes(s.ear?.code ?? "");
  const altered = s.phones.some((p) => p.in_use && p.processed);
  const notes = s.instrument?.notes ?? [];
  const [lo, hi] = [notes[0], notes[notes.length - 1]];
  const item = (cls: string, body: unknown) => html`<li><button class=${cls} @click=${open}>${body}</button></li>`;
  return html`<ul class="strip" aria-label=${t.strip}>
    ${item(bad || altered ? "wrong" : "", html`<span><span class="long">${t.ear}: </span><bdi>${lent.told?.in_use ? t.doors.thisDevice : s.ear?.source || t.levels.none}</bdi>${altered ? html`, ${t.doors.altered}` : nothing}</span>`)}
    ${item("", html`<svg class="level" viewBox="0 0 28 19" aria-hidden="true" data-step=${levelStep(s.level?.rms ?? 0)}></svg><span><span class="long">${t.level} </span>${levelWord(t, s)}</span>`)}
    ${item(s.lost.samples ? "" : "long", lostWords(t, s))}
    ${s.instrument && lo && hi
      ? item("", html`<span>${instrumentName(t, s.instrument.name)}<span class="long">, ${t.range(noteName(t, "written", lo.midi, lo.label), noteName(t, "written", hi.midi, hi.label))}</span></span>`)
      : nothing}
    ${s.instrument ? item("", html`<span><span class="long">${t.reference(t.written(69))}</span>${t.hz(decimals(s.instrument.reference_hz, Number.isInteger(s.instrument.reference_hz) ? 0 : 1, t.mark))}</span>`) : nothing}
    ${s.session && view.place === "listen" ? item("last", aimWords(t, s)) : nothing}
  </ul>`;
}

function levelWord(t: Tongue, s: App["state"]): string {
  if (s.session?.muted || s.level?.muted) return t.levels.muted;
  if (!s.level) return t.levels.none;
  if (s.level.clipped) return t.levels.loud;
  const last = s.strikes[s.strikes.length - 1];
  if (last && last.peak >= 0.99) return t.levels.loud;
  return last && last.peak < FAINT ? t.levels.quiet : t.levels.good;
}

/** A strike that peaks lower than this, full scale 1, is worth coming nearer for: 40 dB down. */
const FAINT = 0.01;

function lostWords(t: Tongue, s: App["state"]): string {
  if (!s.lost.samples || s.lost.at === null) return t.nothingLost;
  const seconds = s.lost.samples / (s.ear?.sample_rate_hz ?? 48000);
  const long = seconds < 1 ? t.millis(decimals(Math.max(1, Math.round(seconds * 1000)), 0, t.mark)) : t.seconds(decimals(seconds, 1, t.mark));
  return t.lost(long, t.clock(new Date(s.lost.at)));
}

/** "aim: A4 +30" */
export function aimWords(t: Tongue, s: App["state"]): string {
  const k = s.session!;
  if (!k.aim) return t.aimNone;
  const bend = k.bend_cents ? ` ${signed(k.bend_cents, t.mark)}` : "";
  if (k.target === null) return t.aimNearest + bend;
  const label = s.instrument?.notes.find((n) => n.midi === k.target)?.label ?? "C4";
  return t.aimNote(noteName(t, "written", k.target, label)) + bend;
}
