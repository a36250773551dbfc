// What lies open of the shelf: fetched when it is looked at, and again when the shelf says that something has changed.

import { ask } from "./ask.ts";
import {
  decodeAlike, decodeAway, decodeComparison, decodeKepts, decodePairs, decodeThing, decodeVoices,
  type Away, type Beating, type Comparison, type Kept, type Thing, type Voice,
} from "./shelfform.ts";
import type { Find, Place } from "./view.ts";

const at = encodeURIComponent;

/** What was put away last here, and how it is taken back. */
export interface PutAway {
  readonly name: string;
  readonly path: string;
}

/** One thing that lies open; null: not fetched yet. */
export class Desk {
  voices: readonly Voice[] | null = null;
  thing: Thing | null = null;
  kept: ReadonlyMap<string, readonly Kept[]> = new Map(); // by voice, oldest first
  alike: ReadonlyMap<string, readonly Voice[]> = new Map(); // by voice, the most alike first
  compared: Comparison | null = null;
  pairs: readonly Beating[] | null = null; // the slowest beat first
  gone: Away | null = null; // what can be taken back
  refused: string | null = null; // why what is looked at cannot be shown
  away: PutAway | null = null;
  private asked = "";
  private open = "";

  constructor(
    private readonly changed: () => void,
    private readonly attempt: (deed: Promise<unknown>) => Promise<boolean>,
  ) {}

  /** Fetches what a place shows, unless that is what was fetched last. */
  look(place: Place, part: string, find: Find, revision: string): void {
    if (place !== "shelf") return;
    const key = JSON.stringify([part, find, revision]);
    if (key === this.asked) return;
    this.asked = key;
    if (part !== this.open) [this.thing, this.compared, this.pairs, this.gone, this.kept, this.alike] = [null, null, null, null, new Map(), new Map()];
    this.open = part;
    this.fetch(part, find).then(
      (put) => {
        if (this.asked !== key) return; // something else is looked at by now
        this.refused = null;
        put();
        this.changed();
      },
      (e: unknown) => {
        if (this.asked !== key) return;
        if (e instanceof TypeError) this.asked = ""; // the daemon has gone; the line to it tells of that
        else this.refused = e instanceof Error ? e.message : String(e);
        this.changed();
      },
    );
  }

  private async fetch(part: string, find: Find): Promise<() => void> {
    const [what, a = "", b = ""] = part.split("/");
    if (what === "object") {
      const thing = decodeThing(await ask("GET", `/api/shelf/objects/${at(a)}`));
      const voices = this.voices ?? decodeVoices(await ask("GET", "/api/shelf/voices"));
      const kept = new Map<string, Kept[]>();
      const alike = new Map<string, Voice[]>();
      for (const v of thing.voices) {
        kept.set(v.id, decodeKepts(await ask("GET", `/api/shelf/voices/${at(v.id)}/strikes`)));
        if (v.strikes > 0) alike.set(v.id, decodeAlike(await ask("GET", `/api/shelf/voices/${at(v.id)}/alike?n=3`)).map((x) => x.voice));
      }
      return () => ([this.thing, this.kept, this.alike, this.voices] = [thing, kept, alike, voices]);
    }
    if (what === "compare") {
      const c = decodeComparison(await ask("GET", `/api/shelf/compare?a=${at(a)}&b=${at(b)}`));
      return () => (this.compared = c);
    }
    if (what === "pairs") {
      const pairs = decodePairs(await ask("GET", `/api/shelf/pairs?beat_max_hz=${at(a || "8")}`));
      return () => (this.pairs = pairs);
    }
    if (what === "away") {
      const gone = decodeAway(await ask("GET", "/api/shelf/away"));
      return () => (this.gone = gone);
    }
    const asks = new URLSearchParams(Object.entries(find).filter(([, v]) => v.trim() !== ""));
    const voices = decodeVoices(await ask("GET", `/api/shelf/voices?${asks}`));
    return () => (this.voices = voices);
  }

  /** Every strike that lies open, for the small drawings. */
  strikes(): Kept[] {
    return [...this.kept.values()].flat();
  }

  /** Asks for a change of the shelf; what it changes is fetched when the shelf says so. */
  ask(method: "POST" | "PUT" | "PATCH" | "DELETE", path: string, body?: unknown): Promise<boolean> {
    return this.attempt(ask(method, `/api/${path}`, body));
  }

  /** Says why something cannot be. */
  refuse(words: string): void {
    this.refused = words;
    this.changed();
  }

  keep(strike: string, as: Record<string, string>): Promise<boolean> {
    return this.ask("POST", `strikes/${at(strike)}/keep`, as);
  }

  /** Puts an object, a voice or a strike away. */
  async putAway(what: "objects" | "voices" | "strikes", id: string, name: string): Promise<boolean> {
    const path = `shelf/${what}/${at(id)}`;
    const done = await this.ask("DELETE", path);
    if (done) this.away = { name, path };
    this.changed();
    return done;
  }

  /** Takes back what was put away last here, or what is named. */
  async takeBack(path = this.away?.path): Promise<void> {
    if (!path || !(await this.ask("POST", `${path}/restore`, {}))) return;
    if (this.away?.path === path) this.away = null;
    this.changed();
  }
}
