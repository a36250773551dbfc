// The line on which this page sends what its microphone hears. It comes back by itself; what could not be sent meanwhile
// is counted.

import { decodeTold, type Told } from "./message.ts";
import { waitFor } from "./live.ts";
import { packed } from "./pcm.ts";

/** The part of a WebSocket that is used. */
export interface EarSocket {
  readonly bufferedAmount: number;
  onopen: ((e: any) => void) | null;
  onmessage: ((e: { data: any }) => void) | null;
  onclose: ((e: { code: number; reason: string }) => void) | null;
  send(data: string | ArrayBuffer): void;
  close(): void;
}

/** What the line needs of the browser; the tests give their own. */
export interface EarOutside {
  connect(): EarSocket;
  token(anew: boolean): Promise<string>;
  later(ms: number, then: () => void): () => void;
  chance(): number;
}

export interface EarListener {
  told(t: Told): void; // about once a second
  away(): void; // the line is down and will be tried again
  ended(why: Ended, words: string): void; // it will not
}

/** Why it is not tried again: another window of this device lends now, the pairing has ended, or a fault. */
export type Ended = "replaced" | "revoked" | "refused";

/** Closes of /ear after which trying again would not help. */
const ENDS: Record<number, Ended> = { 4001: "replaced", 4003: "revoked", 1003: "refused", 1007: "refused" };
/** The token was not this page's: the daemon has started anew. */
const TOKEN = 1008;
/** A line on which the daemon has told nothing for so long is down, in ms: it tells once a second. */
export const QUIET = 3000;
/** More than this waiting to be sent is no longer sound for now, in bytes: ten seconds of it. */
const FULL = 2_000_000;

export class EarLine {
  /** Samples that were not even sent: the line was down. What came before it was first up is not missing to anybody. */
  lost = 0;
  private socket: EarSocket | null = null;
  private ready = false;
  private begun = false;
  private sequence = 0;
  private tries = 0;
  private stopped = false;
  private cancel: (() => void) | null = null;
  private rest: (() => void) | null = null; // calls off what silence brings
  private anew = false;

  constructor(
    private readonly out: EarOutside,
    private readonly to: EarListener,
    private readonly hello: { rate_hz: number; settings: Record<string, unknown> },
  ) {
    void this.open();
  }

  /** Sends samples that begin at clock, or counts them. */
  frame(clock: number, samples: Float32Array): void {
    const s = this.socket;
    if (!s || !this.ready) {
      if (this.begun) this.lost += samples.length;
      return;
    }
    const n = this.sequence++;
    if (s.bufferedAmount > FULL) return; // the daemon counts it: sequence and clock tell
    s.send(packed(n, clock, samples));
  }

  /** Tries at once, where it waits to try. */
  retry(): void {
    if (!this.cancel || this.stopped) return;
    this.cancel();
    this.cancel = null;
    void this.open();
  }

  stop(): void {
    this.stopped = true;
    this.cancel?.();
    this.rest?.();
    this.socket?.close();
  }

  /** Waits for the next telling; where none comes the line is given up without waiting for its close, which may take minutes. */
  private listen(s: EarSocket): void {
    this.rest?.();
    this.rest = this.out.later(QUIET, () => {
      if (this.socket !== s) return;
      this.lose();
      s.close();
    });
  }

  private lose(): void {
    this.rest?.();
    this.socket = null;
    this.ready = false;
    if (!this.stopped) this.again();
  }

  private async open(): Promise<void> {
    let token: string;
    try {
      token = await this.out.token(this.anew);
    } catch {
      return this.again();
    }
    this.anew = false;
    if (this.stopped) return;
    const s = this.out.connect();
    this.socket = s;
    this.listen(s);
    s.onopen = () => s.send(JSON.stringify({ v: 1, type: "hello", token, ...this.hello }));
    s.onmessage = (e) => {
      const told = typeof e.data === "string" ? decodeTold(e.data) : null;
      if (!told || this.socket !== s) return;
      if (!this.ready) this.sequence = 0;
      this.ready = this.begun = true;
      this.tries = 0;
      this.listen(s);
      this.to.told(told);
    };
    s.onclose = (e) => {
      if (this.socket !== s) return;
      const ended = this.stopped ? undefined : ENDS[e.code];
      if (ended) this.stopped = true;
      this.anew = e.code === TOKEN;
      this.lose();
      if (ended) this.to.ended(ended, e.reason);
    };
  }

  private again(): void {
    if (this.stopped) return;
    this.to.away();
    this.cancel = this.out.later(waitFor(this.tries++, this.out.chance()), () => {
      this.cancel = null;
      void this.open();
    });
  }
}
