// Lending this device's microphone: from the tap that asks for it to the one that ends it.

import { chooseSource, tokenOf } from "./ask.ts";
import { EarLine, type EarSocket, type Ended } from "./earline.ts";
import type { Session, Told } from "./message.ts";
import { leftOn, openMic, type Mic } from "./mic.ts";

/** What is known of lending. */
export interface Lent {
  readonly stage: "off" | "asking" | "on" | "away"; // away: the line is down and will come back
  readonly id: string | null; // by which the daemon knows this device
  readonly told: Told | null;
  readonly rate: number;
  readonly lost: number; // samples that were not sent
  readonly altered: readonly string[]; // what the browser did not switch off
  readonly why: Ended | "no-microphone" | "not-allowed" | null; // why it ended
  readonly words: string; // more about that, in English
}

export const notLent: Lent = { stage: "off", id: null, told: null, rate: 0, lost: 0, altered: [], why: null, words: "" };

export class Lender {
  lent: Lent = notLent;
  private mic: Mic | null = null;
  private line: EarLine | null = null;
  private awake: WakeLockSentinel | null = null;

  constructor(
    private readonly changed: () => void,
    private readonly took: (session: Session) => void,
    private readonly fault: (words: string) => void,
  ) {}

  /** Opens the microphone and makes it the ear. To be called from a tap. */
  async begin(): Promise<void> {
    if (this.lent.stage !== "off") return this.take();
    this.be({ ...notLent, stage: "asking" });
    try {
      this.mic = await openMic((clock, samples) => this.line?.frame(clock, samples), () => this.ended("no-microphone", ""));
    } catch (e) {
      const name = e instanceof DOMException ? e.name : "";
      return this.be({ ...notLent, why: name === "NotAllowedError" || name === "SecurityError" ? "not-allowed" : "no-microphone", words: e instanceof Error ? e.message : "" });
    }
    const { rate, settings } = this.mic;
    this.be({ ...this.lent, rate, altered: leftOn(settings) });
    this.line = new EarLine(
      {
        connect: () => new WebSocket(`${location.protocol === "https:" ? "wss" : "ws"}://${location.host}/ear`) as unknown as EarSocket,
        token: tokenOf,
        later: (ms, then) => {
          const timer = setTimeout(then, ms);
          return () => clearTimeout(timer);
        },
        chance: Math.random,
      },
      { told: (t) => this.told(t), away: () => this.be({ ...this.lent, stage: "away", lost: this.line?.lost ?? 0 }), ended: (why, words) => this.ended(why, words) },
      { rate_hz: rate, settings },
    );
    void this.stayAwake();
  }

  /** Ends it. */
  end(): void {
    this.close();
    this.be(notLent);
  }

  /** To be called when the page can be seen again or the network is back. */
  back(): void {
    this.line?.retry();
    if (this.lent.stage !== "off") void this.stayAwake();
  }

  /** Makes this microphone, which is lent already, the ear. */
  private async take(): Promise<void> {
    if (!this.lent.id) return;
    try {
      this.took(await chooseSource("phone", this.lent.id));
    } catch (e) {
      this.fault(e instanceof Error ? e.message : String(e));
    }
  }

  private told(told: Told): void {
    const first = this.lent.stage === "asking";
    this.be({ ...this.lent, stage: "on", id: told.id, told, lost: this.line?.lost ?? 0 });
    if (first) void this.take();
  }

  private ended(why: Lent["why"], words: string): void {
    this.close();
    this.be({ ...notLent, why, words });
  }

  private close(): void {
    this.line?.stop();
    this.mic?.stop();
    this.line = this.mic = null;
    void this.awake?.release();
    this.awake = null;
  }

  /** A screen that goes dark takes the microphone with it. Browsers let go of the lock whenever the page is hidden. */
  private async stayAwake(): Promise<void> {
    if (!("wakeLock" in navigator) || document.hidden || (this.awake && !this.awake.released)) return;
    try {
      this.awake = await navigator.wakeLock.request("screen");
      if (this.lent.stage === "off") void this.awake.release();
    } catch {
      // Low power, or forbidden: the screen then goes dark as it is used to.
    }
  }

  private be(lent: Lent): void {
    this.lent = lent;
    this.changed();
  }
}
