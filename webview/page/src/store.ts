// The page's one store: what is known, how it is shown, and the deeds that change either.

import type { App, Deeds } from "./app.ts";
import { changeSession, chooseSource, nameStrike, restore, soundTone, throwAway, type Change } from "./ask.ts";
import { levelStep } from "./draw/level.ts";
import type { Session } from "./message.ts";
import { LONGEST, Tone } from "./sound.ts";
import { initial, reduce, shown, type Event, type State } from "./state.ts";
import { tongueFor } from "./tongue/tongue.ts";
import { keep, recalled, type View } from "./view.ts";

/** How long a refusal stays on show, and how long what was thrown away can be taken back here, in ms. */
const FAULT_SHOWN = 8_000;
const UNDO_SHOWN = 15_000;
/** The daemon lets go of a tone that is not asked for again: say so well within its lease, in ms. */
const TONE_AGAIN = 4_000;

export class Store {
  state: State = initial;
  view: View = recalled(localStorage);
  private readonly tone = new Tone();
  private sounds = false; // whether the target is to sound, from the key on
  private toneTimers: number[] = [];
  private faultTimer = 0;
  private undoTimer = 0;
  private wish: number | null = null; // the target asked for and not answered yet

  constructor(private readonly changed: () => void) {}

  /** Lets something happen. Nothing is drawn for a level that looks the same. */
  tell(e: Event): void {
    const before = this.state;
    this.state = reduce(before, e);
    if (this.state === before) return;
    if (this.tone.on && this.state.session && !this.state.session.tone.on) this.silence();
    if (e.type === "message" && e.message.type === "level" && sameLevel(before, this.state)) return;
    this.changed();
  }

  readonly deeds: Deeds = {
    change: (c) => void this.change(c),
    source: (choice, input) => void this.try(chooseSource(choice, input).then((s) => this.session(s))),
    freeze: () => {
      const k = shown(this.state);
      if (this.state.session?.frozen) void this.change({ frozen: false });
      else if (k) void this.change({ frozen: true, frozen_id: k.id });
    },
    tone: () => void (this.sounds ? this.stopTone() : this.startTone()),
    keep: () => {
      const link = document.querySelector<HTMLAnchorElement>("#acts a[download]");
      if (link) link.click();
      else this.fault(this.app(0).t.keepNot);
    },
    step: (by) => this.step(by),
    zoom: (zoom) => this.deeds.show({ zoom }),
    look: () => this.deeds.show({ look: getComputedStyle(document.documentElement).colorScheme === "dark" ? "shop" : "hall" }),
    undo: () => {
      const k = this.state.thrown;
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
      this.view = { ...this.view, ...v };
      keep(localStorage, this.view);
      this.changed();
    },
  };

  /** What the parts of the page are given. */
  app(now: number): App {
    return { state: this.state, view: this.view, t: tongueFor(this.view.tongue, navigator.languages), sounding: this.sounds, now, deeds: this.deeds };
  }

  private session(session: Session): void {
    this.tell({ type: "session", session });
  }

  private async change(c: Change): Promise<void> {
    await this.try(changeSession(c).then((s) => this.session(s)));
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
    this.sounds = true;
    this.tone.ready();
    this.changed();
    const begun = await this.try(
      soundTone(true).then((s) => {
        this.session(s);
        if (this.sounds && s.tone.on && s.tone.frequency_hz) this.tone.start(s.tone.frequency_hz);
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
