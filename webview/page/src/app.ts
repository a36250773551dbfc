// What the parts of the page are given: what is known, how it is shown, and what can be done.

import type { Change } from "./ask.ts";
import type { State } from "./state.ts";
import type { Tongue } from "./tongue/tongue.ts";
import type { View } from "./view.ts";

export interface App {
  readonly state: State;
  readonly view: View;
  readonly t: Tongue;
  readonly sounding: boolean; // this page sounds the target
  readonly now: number; // ms since 1970
  readonly deeds: Deeds;
}

/** What a person can do. */
export interface Deeds {
  change(c: Change): void;
  source(choice: string, input: string): void;
  freeze(): void;
  tone(): void;
  keep(): void;
  step(by: number): void; // to the next note of the instrument
  zoom(to: number): void;
  look(): void; // hall and shop in turn
  undo(): void;
  throwAway(id: string): void;
  name(id: string, name: string): void;
  show(v: Partial<View>): void;
}
