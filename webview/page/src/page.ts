// Puts the place that is open on the page: the answer, the rail, what is wanted, the trail and the numbers.

import { html, render } from "lit/html.js";
import type { App } from "./app.ts";
import { aimName, benchSayOf } from "./benchsay.ts";
import { drawCurve } from "./draw/curve.ts";
import { drawDrift } from "./draw/driftplot.ts";
import { drawLevel } from "./draw/level.ts";
import { Rail } from "./draw/rail.ts";
import { drawRoom } from "./draw/room.ts";
import { drawRow } from "./draw/trail.ts";
import { huntSayOf } from "./hunt.ts";
import { huntPictureOf, huntRowOf, nearestTo } from "./huntpicture.ts";
import { driftSayOf, rowSayOf, voiceShown } from "./driftsay.ts";
import type { Strike } from "./message.ts";
import { paced, type Paced } from "./pace.ts";
import { pictureOf, type Picture, type Scene } from "./picture.ts";
import { sayOf, type Said } from "./say.ts";
import { shown } from "./state.ts";
import { comparedOf, lineOf, spokenOf } from "./words.ts";
import { acts } from "./view/acts.ts";
import { AnswerView } from "./view/answer.ts";
import { bench } from "./view/bench.ts";
import { dialogs } from "./view/dialogs.ts";
import { shelf } from "./view/shelf.ts";
import { healthWords, whoOf } from "./shelfwords.ts";
import { fitEditor, hunt } from "./view/hunt.ts";
import { foot } from "./view/foot.ts";
import { numbers } from "./view/numbers.ts";
import { zoomOf } from "./view.ts";
import { strip } from "./view/strip.ts";
import { nameOf, trail } from "./view/trail.ts";

const by = <T extends Element>(id: string): T => document.getElementById(id) as unknown as T;

/** What changes together: words and picture of one answer. */
interface Scenery {
  readonly said: Said;
  readonly picture: Picture;
}

export class Page {
  private readonly answer: AnswerView;
  private readonly rail: Rail;
  private on: Paced<Scenery> | null = null;
  private drawnPicture = "";
  private spoken = "";
  private under = "";
  private width = 0; // of the trail
  private readonly rows = new WeakMap<Element, string>(); // what each small drawing shows

  constructor(changed: () => void) {
    this.answer = new AnswerView(by("answer"), changed);
    this.rail = new Rail(by<SVGSVGElement>("rail"), changed);
    new ResizeObserver(([e]) => {
      this.width = e!.contentRect.width;
      changed();
    }).observe(by("trail"));
    new ResizeObserver(changed).observe(by("bench"));
  }

  /** Shows what is so. Returns how long that may stand, in ms. */
  show(app: App): number {
    const { state: s, view, t, now } = app;
    const compared = s.strikes.find((k) => k.id === view.compare);
    const said = saidOf(app, compared ?? null);
    const scene = sceneOf(app, said.strike || s.link === "open" ? shown(s) : null);
    const picture = pictureIn(app, scene);
    // What a person changes waits for nothing, so it is part of whose answer this is.
    const whose = [view.place, view.benchTab, view.driftVoice, view.rowDone.length, s.fault, said.strike, zoomOf(view), view.open, s.wanted?.revision, s.bench?.revision, s.session?.revision, s.instrument?.name, picture.deaf, t.code].join();
    const next = paced(this.on, { value: { said, picture }, key: JSON.stringify([said, picture]), strike: whose, settled: said.settled }, now);
    this.on = next.show;
    const own = this.on;
    render(strip(app), by("strip"));
    this.showAnswer(app, own.value);
    render(html`${acts(app)}`, by("acts"));
    render(html`${numbers(app)}`, by("numbers"));
    render(html`${hunt(app)}`, by("hunt"));
    render(html`${bench(app)}`, by("bench"));
    app.desk.look(view.place, view.part, view.find, `${s.shelf?.revision}.${s.session?.revision}`);
    render(html`${shelf(app)}`, by("shelf"));
    render(html`${view.place === "shelf" ? "" : trail(app)}`, by("trail"));
    render(foot(app), by("foot"));
    render(html`${dialogs(app)}`, by("dialogs"));
    openDialog();
    fitEditor();
    this.drawSmall(app, own.value.picture);
    return next.wait;
  }

  /** Moves what moves. Returns how long it may rest, in ms. */
  frame(now: number, still: boolean): number {
    return this.rail.frame(now, still);
  }

  /** The spans of the two natural stops as things are, for a pinch. */
  stops(app: App): [Picture["span"], Picture["span"]] {
    const scene = sceneOf(app, shown(app.state));
    return [pictureIn(app, { ...scene, zoom: 0 }).span, pictureIn(app, { ...scene, zoom: 1 }).span];
  }

  private showAnswer({ state: s, view, t, now }: App, { said, picture }: Scenery): void {
    this.answer.show(said.answer, view.far);
    const k = said.strike ? s.strikes.find((x) => x.id === said.strike) : undefined;
    const who = k ? whoOf(t, k) : "";
    if (by("who").textContent !== who) by("who").textContent = who;
    this.showUnder(said.under);
    const key = JSON.stringify(picture) + said.strike;
    if (key !== this.drawnPicture) {
      this.drawnPicture = key;
      this.rail.show(picture, (said.strike && s.onsets.get(said.strike)) || now, now, t.mark);
      by("rail").setAttribute("aria-label", t.railOf(`${lineOf(said.answer)}. ${said.under.join(" ")}`));
    }
    // Once a strike, when it has settled; again only if it turns out to be another note.
    const note = `${said.strike} ${said.answer.what}`;
    if (said.settled && note !== this.spoken) {
      this.spoken = note;
      by("spoken").textContent = spokenOf(t, said.answer);
    }
  }

  /** As many sentences as fit the two lines kept free for them. */
  private showUnder(sentences: readonly string[]): void {
    const key = JSON.stringify([sentences, innerWidth, innerHeight]);
    if (key === this.under) return;
    this.under = key;
    const sub = by<HTMLElement>("sub");
    sub.textContent = "";
    for (let n = sentences.length; n > 0; n--) {
      sub.textContent = sentences.slice(0, n).join(" ").replace(/(\d) (c|s|ms|Hz)\b/g, "$1\u00a0$2"); // a number stays with its unit
      if (sub.scrollHeight <= sub.clientHeight + 2) break;
    }
  }

  private drawSmall(app: App, picture: Picture): void {
    const level = document.querySelector("svg.level");
    if (level) this.once(level, level.getAttribute("data-step")!, () => drawLevel(level, Number(level.getAttribute("data-step"))));
    const room = document.querySelector("svg.room");
    if (room && app.state.room) this.once(room, JSON.stringify(app.state.room), () => drawRoom(room, app.state.room!, 320, 64));
    const byId = new Map([...app.state.strikes, ...app.desk.strikes()].map((k) => [k.id, k]));
    const frame = JSON.stringify([picture.span, picture.aim, this.width]);
    this.drawWanted(app);
    this.drawBench(app);
    for (const svg of document.querySelectorAll<SVGElement>("svg.thin[data-row]")) {
      const id = svg.dataset["row"] ?? "";
      const k = byId.get(id) ?? null;
      const key = `${frame}${k ? `${k.id}.${k.revision}` : "empty"}`;
      this.once(svg, key, () => drawRow(svg, { id: id || "empty", stones: rowStones(app, k), picture }, this.width, svg.clientHeight));
    }
  }

  private drawWanted({ state: s }: App): void {
    const w = s.wanted;
    if (!w) return;
    const reference = s.instrument?.reference_hz ?? 440;
    for (const svg of document.querySelectorAll<SVGElement>("svg.thin[data-place]")) {
      const p = w.places.find((x) => x.id === svg.dataset["place"]);
      if (!p) continue;
      const other = nearestTo(p, w, s.strikes)?.strike ?? null;
      const key = JSON.stringify([p, other?.id, other?.revision, reference, this.width]);
      this.once(svg, key, () => drawRow(svg, { id: p.id, ...huntRowOf(p, reference, other) }, this.width, svg.clientHeight));
    }
  }

  private drawBench({ state: s, view, t }: App): void {
    const plot = document.querySelector("svg.drift");
    const voice = voiceShown(s.drift, view.driftVoice);
    if (plot && voice) this.once(plot, JSON.stringify([voice, plot.clientWidth, plot.clientHeight, t.code]), () => drawDrift(plot, voice, t.drift.celsiusUnit, plot.clientWidth, plot.clientHeight));
    const svg = document.querySelector("svg.curve");
    const b = s.bench;
    if (!svg || !b?.job || !b.advice || !b.aim) return;
    const { job, advice: a, aim } = b;
    const [W, H] = [svg.clientWidth, svg.clientHeight];
    const curve = { holds: job.holds_ml, path: a.path, sounds: a.sounds, aimFill: a.aim_ml, now: a.fill_ml, tolerance: aim.tolerance_cents, aim: aimName(t, aim.name, "written"), ml: t.bench.ml };
    this.once(svg, JSON.stringify([curve, W, H]), () => drawCurve(svg, curve, W, H));
  }

  private once(e: Element, key: string, draw: () => void): void {
    if (this.rows.get(e) === key) return;
    this.rows.set(e, key);
    draw();
  }
}

function sceneOf({ state: s, view }: App, strike: Strike | null): Scene {
  return {
    strike, instrument: s.instrument, aims: s.session?.aim ?? false, target: s.session?.target ?? null, bend: s.session?.bend_cents ?? 0,
    tolerance: s.session?.tolerance_cents ?? 0, zoom: zoomOf(view),
    deaf: s.link !== "open" || s.ear?.code === "deaf" || s.ear?.code === "silent",
    example: s.strikes.length === 0,
  };
}

const pictureIn = (app: App, scene: Scene): Picture =>
  app.view.place === "wanted" ? huntPictureOf(app.t, app.state, scene, app.view.open) : pictureOf(app.t, scene);

function saidOf({ state: s, view, t }: App, compared: Strike | null): Said {
  if (view.place === "bench") return view.benchTab === "drift" ? driftSayOf(t, s, view.driftVoice) : view.benchTab === "row" ? rowSayOf(t, s, view.rowDone) : benchSayOf(t, s);
  if (view.place !== "wanted") {
    const said = sayOf(t, s, compared ? { id: compared.id, who: nameOf(t, compared) } : null);
    const k = said.strike ? s.strikes.find((x) => x.id === said.strike) : undefined;
    return k?.health?.suspect && !s.fault ? { ...said, under: [...healthWords(t, k.health), ...said.under] } : said;
  }
  const now = shown(s);
  return huntSayOf(t, s, compared && now && compared !== now ? comparedOf(t, now, compared, nameOf(t, compared)) : null);
}

const rowStones = (app: App, k: Strike | null) => pictureOf(app.t, { ...sceneOf(app, k), deaf: false, example: k === null }).stones;

function openDialog(): void {
  const d = document.querySelector("dialog");
  if (d && !d.open) d.showModal();
  const field = document.querySelector<HTMLInputElement>("input[data-focus]");
  if (field && field.dataset["focused"] !== "yes") {
    field.dataset["focused"] = "yes";
    field.focus();
  }
}
