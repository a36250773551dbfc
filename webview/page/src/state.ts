// What the page knows of the daemon, and how each thing that happens changes it. Pure: no clock, no network, no page.
// Times are milliseconds since 1970, handed in.

import type { Bench, Drift, Row } from "./benchmessage.ts";
import type { EarState, Hello, Instrument, Level, Message, Phone, Room, Session, Shelf, Strike, Strikes, Wanted } from "./message.ts";

/** How the page stands to the daemon; shut: this device is not paired. */
export type Link = "connecting" | "open" | "gone" | "shut";

/** Sound lost since the page was opened, and when last. */
export interface Lost {
  readonly samples: number;
  readonly at: number | null;
}

export interface State {
  readonly link: Link;
  readonly hello: Hello | null; // of the last connection
  readonly outdated: boolean; // the daemon is of another version than this page
  readonly session: Session | null;
  readonly instrument: Instrument | null;
  readonly ear: EarState | null;
  readonly level: Level | null;
  readonly room: Room | null;
  readonly lost: Lost;
  readonly wanted: Wanted | null;
  readonly shelf: Shelf | null;
  readonly phones: readonly Phone[]; // browsers that lend their microphones
  readonly bench: Bench | null; // null: not told of yet
  readonly drift: Drift | null; // null: not asked for yet
  readonly row: Row | null; // as it was placed last
  readonly strikes: readonly Strike[]; // by id, so by time; the newest last
  readonly earlier: number; // how many the daemon has before them
  readonly onsets: ReadonlyMap<string, number>; // when each strike began, by the page's clock
  readonly takenBack: boolean; // the last strike looked like a note and was none
  readonly thrown: Strike | null; // can be taken back
  readonly fault: string | null; // what was refused, in words
}

export const initial: State = {
  link: "connecting", hello: null, outdated: false, session: null, instrument: null, ear: null, level: null, room: null,
  lost: { samples: 0, at: null }, wanted: null, shelf: null, phones: [], bench: null, drift: null, row: null, strikes: [], earlier: 0, onsets: new Map(), takenBack: false, thrown: null, fault: null,
};

/** Anything that can happen to it. */
export type Event =
  | { type: "message"; message: Message; at: number }
  | { type: "caught-up"; after: string | null; answer: Strikes; at: number }
  | { type: "link"; link: Link }
  | { type: "session"; session: Session }
  | { type: "wanted"; wanted: Wanted }
  | { type: "bench"; bench: Bench }
  | { type: "drift"; drift: Drift }
  | { type: "row"; row: Row }
  | { type: "thrown"; strike: Strike }
  | { type: "restored" }
  | { type: "fault"; words: string | null };

/** How many strikes the page holds; the daemon keeps the sound of ten minutes, which is fewer. */
export const HELD = 200;

export function reduce(s: State, e: Event): State {
  switch (e.type) {
    case "message":
      return heard(s, e.message, e.at);
    case "caught-up":
      return caughtUp(s, e.after, e.answer, e.at);
    case "link":
      return s.link === e.link ? s : { ...s, link: e.link, level: e.link === "open" ? s.level : null };
    case "session":
      return newer(s, e.session);
    case "wanted":
      return newerWanted(s, e.wanted);
    case "bench":
      return newerBench(s, e.bench);
    case "drift":
      return { ...s, drift: e.drift };
    case "row":
      return { ...s, row: e.row };
    case "thrown": // the daemon's word that it is gone may have come first
      return { ...without(s, e.strike.id), thrown: e.strike };
    case "restored":
      return { ...s, thrown: null };
    case "fault":
      return s.fault === e.words ? s : { ...s, fault: e.words };
  }
}

function heard(s: State, m: Message, at: number): State {
  switch (m.type) {
    case "hello":
      return welcomed(s, m, at);
    case "session":
      return newer(s, m.session);
    case "instrument":
      return { ...s, instrument: m.instrument };
    case "strike":
      return struck(s, m.strike, at);
    case "trail":
      return { ...told(s, m.strikes, at), earlier: m.earlier };
    case "gone":
      return without(s, m.id);
    case "level":
      return { ...s, level: m.level, lost: lostMore(s, m.level, at) };
    case "room":
      return { ...s, room: m.room };
    case "state":
      return { ...s, ear: m.state, level: m.state.code === "hearing" ? s.level : null };
    case "missed":
      return s; // live asks for what was missed
    case "wanted":
      return newerWanted(s, m.wanted);
    case "bench":
      return newerBench(s, m.bench);
    case "phones":
      return { ...s, phones: m.phones };
    case "shelf":
      return newerShelf(s, m.shelf);
  }
}

/** A new connection: all that it says is so, whatever was thought before. */
function welcomed(s: State, m: Hello, at: number): State {
  const outdated = s.hello !== null && s.hello.version !== m.version;
  return {
    ...told({ ...s, strikes: [] }, m.strikes, at),
    link: "open", hello: m, outdated: s.outdated || outdated, session: m.session, instrument: m.instrument, ear: m.state,
    earlier: m.earlier, wanted: m.wanted, shelf: m.shelf, phones: m.phones, bench: null, drift: null, fault: null,
  };
}

/** The session with the higher revision holds; an answer that comes late changes nothing. */
function newer(s: State, session: Session): State {
  if (s.session && session.revision < s.session.revision) return s;
  return { ...s, session, fault: null };
}

function newerWanted(s: State, wanted: Wanted): State {
  return s.wanted && wanted.revision < s.wanted.revision ? s : { ...s, wanted };
}

function newerBench(s: State, bench: Bench): State {
  return s.bench && bench.revision < s.bench.revision ? s : { ...s, bench };
}

function newerShelf(s: State, shelf: Shelf): State {
  return s.shelf && shelf.revision < s.shelf.revision ? s : { ...s, shelf };
}

function struck(s: State, k: Strike, at: number): State {
  if (k.stage === "withdrawn") {
    const latest = s.strikes[s.strikes.length - 1];
    return { ...without(s, k.id), takenBack: s.takenBack || latest?.id === k.id };
  }
  const before = s.strikes.find((x) => x.id === k.id);
  if (before && before.revision > k.revision) return s;
  const isNew = !before && !(s.strikes.length && s.strikes[s.strikes.length - 1]!.id > k.id);
  return { ...told(s, [k], at, isNew || before !== undefined), takenBack: s.takenBack && !isNew };
}

/** The answer to "what follows this strike?" is the whole truth about what follows it, as far as it reaches. */
function caughtUp(s: State, after: string | null, { until, strikes }: Strikes, at: number): State {
  const beside = (k: Strike) => (after !== null && k.id <= after) || until === null || k.id > until;
  return told({ ...s, strikes: s.strikes.filter(beside) }, strikes, at);
}

/** Takes tellings in; fresh: they come as it sounds. */
function told(s: State, strikes: readonly Strike[], at: number, fresh = false): State {
  const byId = new Map(s.strikes.map((k) => [k.id, k]));
  const onsets = new Map(s.onsets);
  for (const k of strikes) {
    if (k.stage === "withdrawn") continue;
    byId.set(k.id, k);
    onsets.set(k.id, Math.min(onsets.get(k.id) ?? Infinity, onsetOf(k, at, fresh)));
  }
  const all = [...byId.values()].sort((a, b) => (a.id < b.id ? -1 : 1)).slice(-HELD);
  for (const id of onsets.keys()) if (!byId.has(id)) onsets.delete(id);
  return { ...s, strikes: all, onsets, thrown: s.thrown && byId.has(s.thrown.id) ? null : s.thrown };
}

/**
 * When a strike began, by the page's clock. A telling that comes as it sounds is as old as the sound it rests on,
 * whatever the daemon's clock says; one that is fetched later is dated by the daemon. The earliest guess holds: what
 * delays a message makes it look later.
 */
function onsetOf(k: Strike, at: number, fresh: boolean): number {
  const dated = fresh || !k.time ? NaN : Date.parse(k.time);
  return Math.min(at - k.used_s * 1000, Number.isFinite(dated) ? dated : Infinity);
}

function without(s: State, id: string): State {
  if (!s.strikes.some((k) => k.id === id)) return s;
  const onsets = new Map(s.onsets);
  onsets.delete(id);
  return { ...s, strikes: s.strikes.filter((k) => k.id !== id), onsets };
}

/** The daemon counts from when the source was opened; the page adds up what came on top, so that a new source hides nothing. */
function lostMore(s: State, l: Level, at: number): Lost {
  const before = s.level?.lost ?? 0;
  const more = l.lost >= before ? l.lost - before : l.lost;
  return more > 0 ? { samples: s.lost.samples + more, at } : s.lost;
}

/** The instruments to choose from: those measured here, then the usual ones. */
export const instrumentsOf = (s: State): string[] => [...new Set([...(s.shelf?.instruments ?? []), ...(s.hello?.instruments ?? [])])];

/** The strike the answer is about: the frozen one, else the newest; none after one that was taken back. */
export function shown(s: State): Strike | null {
  const frozen = s.session?.frozen ? s.strikes.find((k) => k.id === s.session?.frozen_id) : undefined;
  if (frozen) return frozen;
  return s.takenBack ? null : (s.strikes[s.strikes.length - 1] ?? null);
}

/** The strikes of the trail, newest first. */
export function trailOf(s: State): Strike[] {
  const now = shown(s);
  return s.strikes.filter((k) => k !== now).reverse();
}
