// The page's one store: what is known, how it is shown, and the deeds that change either.

import type { App, Deeds, Doors } from "./app.ts";
import { changeSession, changeWanted, chooseSource, devices, nameDevice, nameStrike, offerPairing, removeDevice, restore, shared, soundTone, throwAway, writeWanted, type Change } from "./ask.ts";
import { benchDeeds } from "./benchdeeds.ts";
import { voiceShown } from "./driftsay.ts";
import { Desk } from "./desk.ts";
import { levelStep } from "./draw/level.ts";
import { atHand } from "./hunt.ts";
import { Lender } from "./lend.ts";
import type { Session, Wanted } from "./message.ts";
import { LONGEST, Tone } from "./sound.ts";
import { signal } from "./signal.ts";
import { initial, reduce, shown, type Event, type State } from "./state.ts";
import { tongueFor } from "./tongue/tongue.ts";
import { keep, partOf, placeOf, recalled, type View } from "./view.ts";

/** How long a refusal stays on show, and how long what was thrown away can be taken back here, in ms. */
const FAULT_SHOWN = 8_000;
const UNDO_SHOWN = 15_000;
/** A verdict on what was struck longer ago is no news, in ms. */
const STALE = 10_000;
/** The daemon lets go of a tone that is not asked for again: say so well within its lease, in ms. */
const TONE_AGAIN = 4_000;
/** How long the daemon may take to note a strike, in ms. */
const NOTED = 500;

export class Store {
  state: State = initial;
  view: View = { ...recalled(localStorage), place: placeOf(location.hash), part: partOf(location.hash) };
  private doors: Doors = { share: null, devices: [], pairing: null };
  readonly desk = new Desk(
    () => this.changed(),
    (deed) => this.try(deed),
  );
  private readonly lender = new Lender(
    () => this.changed(),
    (s) => this.session(s),
    (words) => this.fault(words),
  );
  private readonly tone = new Tone();
  private signalled = ""; // the strike whose verdict was told by sound or vibration
  private earlier: Session["source"] | null = null; // what was the ear before this device was
  private sounds = false; // whether the target is to sound, from the key on
  private toneTimers: number[] = [];
  private faultTimer = 0;
  private undoTimer = 0;
  private driftTimer = 0;
  private before: Promise<unknown> = Promise.resolve(); // the change that was asked for last
  private wish: number | null = null; // the target asked for and not answered yet

  constructor(private readonly changed: () => void) {}

  /** Lets something happen. Nothing is drawn for a level that looks the same. */
  tell(e: Event): void {
    const before = this.state;
    this.state = reduce(before, e);
    if (this.state === before) return;
    this.cue(e);
    this.drifts(e);
    if (this.tone.on && this.state.session && !this.state.session.tone.on) this.silence();
    if (e.type === "message" && e.message.type === "level" && sameLevel(before, this.state)) return;
    this.changed();
  }

  readonly deeds: Deeds = {
    bench: benchDeeds({
      state: () => this.state,
      view: () => this.view,
      t: () => this.app(0).t,
      tell: (e) => this.tell(e),
      show: (v) => this.deeds.show(v),
      fault: (words) => this.fault(words),
      try: (deed) => this.try(deed),
    }),
    change: (c) => void this.change(c),
    source: (choice, input) => void this.try(chooseSource(choice, input).then((s) => this.session(s))),
    freeze: () => {
      const k = shown(this.state);
      if (this.state.session?.frozen) void this.change({ frozen: false });
      else if (k) void this.change({ frozen: true, frozen_id: k.id });
    },
    tone: () => void (this.sounds ? this.stopTone() : this.startTone()),
    keep: () => {
      const k = shown(this.state);
      if (this.state.shelf?.writable && k) {
        if (!k.kept) void this.desk.keep(k.id, {});
        return;
      }
      const link = document.querySelector<HTMLAnchorElement>("#acts a[download]");
      if (link) link.click();
      else this.fault(this.app(0).t.keepNot);
    },
    step: (by) => this.step(by),
    zoom: (zoom) => this.deeds.show(this.view.place === "wanted" ? { huntZoom: zoom } : { zoom }),
    look: () => this.deeds.show({ look: getComputedStyle(document.documentElement).colorScheme === "dark" ? "shop" : "hall" }),
    lend: () => {
      const from = this.state.session?.source;
      if (from && from.choice !== "phone") this.earlier = from;
      void this.lender.begin();
    },
    lendNoMore: () => {
      const was = this.lender.lent.told?.in_use ? this.earlier : null;
      this.lender.end();
      if (was && this.state.hello?.sources.includes(was.choice)) this.deeds.source(was.choice, was.input);
    },
    offer: () => void this.try(offerPairing().then((pairing) => this.opened({ pairing }))),
    nameDevice: (id, name) => void this.try(nameDevice(id, name).then(() => this.askDoors())),
    removeDevice: (id) => void this.try(removeDevice(id).then(() => this.askDoors())).then(() => this.deeds.show({ open: null })),
    go: (to, part = "") => {
      this.deeds.show({ far: false, dialog: null });
      if (this.view.place !== to || this.view.part !== part) location.hash = part ? `${to}/${part}` : to;
    },
    walk: (how) => {
      if (this.state.shelf?.walk) void this.desk.ask("PATCH", "shelf/walk", { [how]: true });
    },
    found: (strike, place) => {
      const id = strike ?? shown(this.state)?.id;
      if (id) void this.hunt(changeWanted({ found: { strike: id, place } }));
    },
    wanted: (c) => void this.hunt(changeWanted(c)),
    write: (text) =>
      void this.hunt(writeWanted(text)).then((ok) => {
        const w = this.state.wanted;
        if (ok && w) this.deeds.show({ draft: w.errors.length ? { text: w.text, of: w.revision } : null });
      }),
    edit: (on) => {
      const w = this.state.wanted;
      if (!on) this.deeds.show({ draft: null });
      else if (w && !this.view.draft) this.deeds.show({ draft: { text: w.text, of: w.revision } });
    },
    undo: () => {
      const k = this.state.thrown;
      const voice = this.view.benchTab === "drift" ? voiceShown(this.state.drift, this.view.driftVoice) : null;
      if (!k && this.view.place === "bench" && this.view.benchTab !== "water") return voice?.readings.length ? this.deeds.bench.undoReading(voice.voice) : undefined;
      if (!k && this.view.place === "bench" && (this.state.bench?.undo || this.state.bench?.asks)) return this.deeds.bench.undo();
      if (!k && this.desk.away) return void this.desk.takeBack();
      if (!k && this.view.place === "wanted" && this.state.wanted?.undo) return this.deeds.wanted({ undo: true });
      if (k) void this.try(restore(k.id).then(() => this.tell({ type: "restored" })));
    },
    throwAway: (id) => {
      const strike = this.state.strikes.find((k) => k.id === id);
      if (!strike) return;
      void this.try(
        throwAway(id).then(() => {
          this.tell({ type: "thrown", strike });
          clearTimeout(this.undoTimer);
          this.undoTimer = setTimeout(() => this.tell({ type: "restored" }), UNDO_SHOWN);
        }),
      );
    },
    name: (id, name) => void this.try(nameStrike(id, name || null).then(() => this.deeds.show({ naming: null, open: null }))),
    show: (v) => {
      const at = Object.keys(v) as (keyof View)[];
      if (at.every((k) => this.view[k] === v[k])) return;
      if (v.dialog === "setup") void this.try(this.askDoors());
      else if (v.dialog === null) this.doors = { ...this.doors, pairing: null };
      this.view = { ...this.view, ...v };
      if ((v.place || v.benchTab) && this.view.place === "bench" && this.view.benchTab === "drift") this.deeds.bench.refresh();
      keep(localStorage, this.view);
      this.changed();
    },
  };

  /** What the parts of the page are given. */
  app(now: number): App {
    return { state: this.state, view: this.view, t: tongueFor(this.view.tongue, navigator.languages), sounding: this.sounds, lent: this.lender.lent, doors: this.doors, now, desk: this.desk, deeds: this.deeds };
  }

  private async hunt(answer: Promise<Wanted>): Promise<boolean> {
    return this.try(answer.then((wanted) => this.tell({ type: "wanted", wanted })));
  }

  /** What drifts is asked for anew when it may have changed; the daemon notes a strike a moment after it tells of it. */
  private drifts(e: Event): void {
    if (this.view.place !== "bench" || this.view.benchTab !== "drift" || e.type !== "message") return;
    const m = e.message;
    if (m.type !== "hello" && m.type !== "bench" && m.type !== "instrument" && !(m.type === "strike" && m.strike.stage === "final")) return;
    clearTimeout(this.driftTimer);
    this.driftTimer = setTimeout(() => this.deeds.bench.refresh(), m.type === "strike" ? NOTED : 0);
  }

  /** Tells the verdict of a strike by sound or vibration, once, when it has settled. */
  private cue(e: Event): void {
    const { place, cue, buzz } = this.view;
    if (place !== "wanted" || !(cue || buzz) || e.type !== "message" || e.message.type !== "strike") return;
    const k = e.message.strike;
    if (k.stage === "early" || k.stage === "withdrawn" || k.id === this.signalled || !k.verdict) return;
    if (k !== this.state.strikes.at(-1) || e.at - (this.state.onsets.get(k.id) ?? 0) > STALE) return; // an old one that was named, say
    this.signalled = k.id;
    signal(k.verdict.answer, cue ? this.tone : null, buzz);
  }

  /** To be called when the page can be seen again or the network is back. */
  back(): void {
    this.lender.back();
  }

  private async askDoors(): Promise<void> {
    const share = await shared();
    this.opened({ share, devices: share.on ? await devices() : [] });
  }

  private opened(doors: Partial<Doors>): void {
    this.doors = { ...this.doors, ...doors };
    this.changed();
  }

  private session(session: Session): void {
    this.tell({ type: "session", session });
  }

  /** One change after the other: sent at once, two quick presses of a key may arrive in the other order. */
  private change(c: Change): Promise<unknown> {
    return (this.before = this.before.then(() => this.try(changeSession(c).then((s) => this.session(s)))));
  }

  /** Does it, or says why not, for a while. */
  private async try(deed: Promise<unknown>): Promise<boolean> {
    try {
      await deed;
      return true;
    } catch (e) {
      // A daemon that has gone is told of by the line to it.
      if (!(e instanceof TypeError)) this.fault(e instanceof Error ? e.message : String(e));
      return false;
    }
  }

  fault(words: string): void {
    this.tell({ type: "fault", words });
    clearTimeout(this.faultTimer);
    this.faultTimer = setTimeout(() => this.tell({ type: "fault", words: null }), FAULT_SHOWN);
  }

  private step(by: number): void {
    const notes = this.state.instrument?.notes ?? [];
    const k = this.state.session;
    if (!k || notes.length === 0) return;
    const from = this.wish ?? (k.aim ? k.target : null) ?? shown(this.state)?.landing?.midi ?? 69;
    const to = by > 0 ? notes.find((n) => n.midi > from) : notes.findLast((n) => n.midi < from);
    if (!to) return;
    this.wish = to.midi;
    void this.change({ aim: true, target: to.midi }).then(() => {
      if (this.wish === to.midi) this.wish = null;
    });
  }

  private async startTone(): Promise<void> {
    const place = this.view.place === "wanted" ? atHand(this.state, this.view.open) : this.view.place === "bench" ? (this.state.bench?.aim ?? null) : null;
    this.sounds = true;
    this.tone.ready();
    this.changed();
    const begun = await this.try(
      soundTone(true).then((s) => {
        this.session(s);
        const hz = place?.target_hz ?? s.tone.frequency_hz;
        if (this.sounds && s.tone.on && hz) this.tone.start(hz);
      }),
    );
    if (!begun) this.silence();
    if (!this.tone.on) return;
    const again = setInterval(() => void this.try(soundTone(true).then((s) => this.session(s))), TONE_AGAIN);
    this.toneTimers = [again, setTimeout(() => void this.stopTone(), LONGEST * 1000)];
  }

  private async stopTone(): Promise<void> {
    this.silence();
    await this.try(soundTone(false).then((s) => this.session(s)));
  }

  /** Ends the sound here, whoever ended it. */
  private silence(): void {
    for (const t of this.toneTimers) clearTimeout(t);
    this.toneTimers = [];
    this.sounds = false;
    this.tone.stop();
    this.changed();
  }

  /** To be called from every tap and key: where verdicts are to sound, browsers let them begin only there. */
  touched(): void {
    if (this.view.cue) this.tone.ready();
  }

  /** To be called when the page is left. */
  leave(): void {
    if (this.sounds) void this.stopTone();
  }
}

function sameLevel(a: State, b: State): boolean {
  const [x, y] = [a.level, b.level];
  return (
    x !== null && y !== null && levelStep(x.rms) === levelStep(y.rms) && x.clipped === y.clipped && x.muted === y.muted && a.lost === b.lost
  );
}
