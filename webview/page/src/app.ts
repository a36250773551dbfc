// What the parts of the page are given: what is known, how it is shown, and what can be done.

import type { Change, WantedChange } from "./ask.ts";
import type { BenchDeeds } from "./benchdeeds.ts";
import type { Lent } from "./lend.ts";
import type { Desk } from "./desk.ts";
import type { Device, Pairing, Share } from "./message.ts";
import type { State } from "./state.ts";
import type { Tongue } from "./tongue/tongue.ts";
import type { Place, View } from "./view.ts";

export interface App {
  readonly state: State;
  readonly view: View;
  readonly t: Tongue;
  readonly sounding: boolean; // this page sounds the target
  readonly now: number; // ms since 1970
  readonly lent: Lent; // this device's microphone
  readonly doors: Doors;
  readonly desk: Desk; // what lies open of the shelf
  readonly deeds: Deeds;
}

/** Who may come in, as last asked; null: not asked yet. */
export interface Doors {
  readonly share: Share | null;
  readonly devices: readonly Device[];
  readonly pairing: Pairing | null; // the code on show
}

/** What a person can do. */
export interface Deeds {
  change(c: Change): void;
  source(choice: string, input: string): void;
  freeze(): void;
  tone(): void;
  keep(): void; // on the shelf; without one, as a file
  go(to: Place, part?: string): void;
  walk(how: "back" | "again" | "skip"): void; // along the instrument being measured
  found(strike: string | null, place: string | null): void; // null: the strike at hand, the place of its verdict
  wanted(c: WantedChange): void;
  write(text: string): void; // the wanted list
  edit(on: boolean): void; // begins or leaves the typing of it
  lend(): void; // makes this device's microphone the ear
  lendNoMore(): void;
  offer(): void; // shows a pairing code
  nameDevice(id: string, name: string): void;
  removeDevice(id: string): void;
  step(by: number): void; // to the next note of the instrument
  zoom(to: number): void;
  look(): void; // hall and shop in turn
  undo(): void;
  throwAway(id: string): void;
  name(id: string, name: string): void;
  show(v: Partial<View>): void;
  readonly bench: BenchDeeds;
}
