// The line to the daemon: a websocket that only listens. It comes back by itself after any loss, and fetches the
// strikes that were missed.

import { decode, decodeStrikes, type Message, type Strikes } from "./message.ts";

/** What live needs of the browser; the tests give their own. */
export interface Outside {
  connect(): Socket;
  strikesAfter(id: string | null): Promise<unknown>;
  letIn(): Promise<boolean>; // asks the daemon: false: this device is not paired; it rejects where none answers soon
  later(ms: number, then: () => void): () => void; // returns what calls it off
  chance(): number; // 0..1
}

/** The part of a WebSocket that is used. */
export interface Socket {
  onopen: ((e: any) => void) | null;
  onmessage: ((e: { data: any }) => void) | null;
  onclose: ((e: { code?: number }) => void) | null;
  close(): void;
}

/** Who is told. */
export interface Listener {
  message(m: Message): void;
  caughtUp(after: string | null, answer: Strikes): void;
  link(l: "open" | "gone" | "shut"): void; // shut: this device is not paired, and no more is tried
  fault(e: unknown): void; // a message that cannot be read; the line stays up
}

/** The first wait before another try, in ms; each further one is half as long again, up to LONGEST. */
export const FIRST = 250;
export const LONGEST = 4000;
/** How long a connection may take until its first message before it is tried anew, in ms. */
export const OPENING = 5000;
/** A line that is silent for so long, in ms, may be dead without having been closed: the daemon is asked. */
export const QUIET = 2000;
/** The close that says that this device is no longer paired. */
const UNPAIRED = 4003;

/** Keeps a line up until stop is called. retry() tries at once (the page became visible, the network came back); doubt() asks whether the line is up (the network went). */
export function live(out: Outside, to: Listener): { stop(): void; retry(): void; doubt(): void } {
  let stopped = false;
  let tries = 0;
  let socket: Socket | null = null;
  let cancel: (() => void) | null = null;
  let up = false;
  let rest: (() => void) | null = null; // calls off the doubt that silence brings
  // While strikes that were missed are on their way, what comes on the socket waits: taken after the answer, it ends up
  // right whichever of the two is older.
  let held: Message[] | null = null;

  const open = () => {
    cancel = null;
    const s = out.connect();
    socket = s;
    held = null;
    const giveUp = out.later(OPENING, () => s.close());
    s.onmessage = (e) => {
      giveUp();
      if (socket !== s) return;
      if (!up) to.link("open");
      up = true;
      tries = 0;
      listen();
      if (typeof e.data === "string") take(e.data);
    };
    s.onclose = (e) => {
      giveUp();
      if (socket !== s) return;
      if (e.code === UNPAIRED) return shut();
      if (!up) void out.letIn().then((may) => may || shut(), () => undefined);
      lose();
    };
  };

  /** The line is down: says so, and tries again after a while. */
  const lose = () => {
    rest?.();
    socket = null;
    if (up || tries >= 2) to.link("gone");
    up = false;
    if (!stopped) cancel = out.later(waitFor(tries++, out.chance()), open);
  };

  /** The line is down for good. */
  const shut = () => {
    rest?.();
    cancel?.();
    cancel = null;
    stopped = true;
    const s = socket;
    socket = null;
    s?.close();
    to.link("shut");
  };

  const listen = () => {
    rest?.();
    rest = out.later(QUIET, doubt);
  };

  const doubt = () => {
    const s = socket;
    if (!s || !up) return;
    out.letIn().then(
      (may) => {
        if (socket !== s) return;
        if (may) listen();
        else shut();
      },
      () => {
        if (socket !== s) return;
        lose();
        s.close(); // which may take long where nobody answers
      },
    );
  };

  const take = (frame: string) => {
    let m: Message | null;
    try {
      m = decode(frame);
    } catch (e) {
      return to.fault(e);
    }
    if (!m) return;
    if (held) return void held.push(m);
    if (m.type === "missed") catchUp(m.after);
    to.message(m);
  };

  const catchUp = (after: string | null) => {
    const waiting: Message[] = (held = []);
    out
      .strikesAfter(after)
      .then(
        (body) => held === waiting && to.caughtUp(after, decodeStrikes(body)),
        (e) => to.fault(e),
      )
      .catch((e) => to.fault(e))
      .then(() => {
        if (held !== waiting) return; // another line since, whose first message says all anew
        held = null;
        for (const [i, m] of waiting.entries()) {
          if (m.type === "missed") catchUp(m.after);
          to.message(m);
          if (held) return void (held as Message[]).push(...waiting.slice(i + 1));
        }
      });
  };

  open();
  return {
    stop() {
      stopped = true;
      rest?.();
      cancel?.();
      socket?.close();
    },
    retry() {
      if (!cancel || stopped) return;
      cancel();
      open();
    },
    doubt,
  };
}

/** The wait before try number n (from 0), in ms: longer each time, and never the same for all pages at once. */
export const waitFor = (n: number, chance: number): number => Math.min(LONGEST, FIRST * 1.5 ** n) * (0.75 + chance / 2);
