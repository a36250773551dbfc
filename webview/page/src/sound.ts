// The target as a tone. It starts quiet, grows slowly and never passes a cap, since it may come out of headphones that
// somebody left turned up.

/** The gain it starts at, the cap it grows to, and how long that takes. Chosen without a listening test: well below full scale. */
export const START = 0.02;
export const CAP = 0.16;
export const GROW = 2.5; // s
/** It ends by itself: nobody leaves the ear muted by walking away. In seconds. */
export const LONGEST = 20;

/** A tone that can be started and stopped; one at a time. */
export class Tone {
  private context: AudioContext | null = null;
  private playing: { gain: GainNode; nodes: OscillatorNode[] } | null = null;

  /** To be called from the key or tap itself: browsers let sound begin only there. */
  ready(): void {
    this.context ??= new AudioContext();
    void this.context.resume();
  }

  get on(): boolean {
    return this.playing !== null;
  }

  start(hz: number): void {
    this.stop();
    const c = this.context;
    if (!c || !(hz > 0) || hz > c.sampleRate / 2) return;
    const gain = c.createGain();
    const now = c.currentTime;
    gain.gain.setValueAtTime(0, now);
    gain.gain.linearRampToValueAtTime(START, now + 0.03);
    gain.gain.exponentialRampToValueAtTime(CAP, now + GROW);
    gain.connect(c.destination);
    // A bare sine is hard to place by ear when low; two soft harmonics make it clear without another pitch.
    const nodes = [1, 0.25, 0.1].map((share, k) => {
      const o = c.createOscillator();
      o.frequency.value = Math.min(hz * (k + 1), c.sampleRate / 2 - 1);
      const g = c.createGain();
      g.gain.value = hz * (k + 1) < c.sampleRate / 2 ? share / 1.35 : 0;
      o.connect(g).connect(gain);
      o.start(now);
      return o;
    });
    this.playing = { gain, nodes };
  }

  /** A few short soft tones, e.g. to tell a verdict. Each is [Hz, start in s, length in s]. */
  brief(tones: readonly (readonly [number, number, number])[]): void {
    const c = this.context;
    if (!c || c.state !== "running") return;
    for (const [hz, from, long] of tones) {
      const [o, g, at] = [c.createOscillator(), c.createGain(), c.currentTime + from];
      o.frequency.value = hz;
      g.gain.setValueAtTime(0, at);
      g.gain.linearRampToValueAtTime(CAP / 2, at + long / 3);
      g.gain.linearRampToValueAtTime(0, at + long);
      o.connect(g).connect(c.destination);
      o.start(at);
      o.stop(at + long);
    }
  }

  stop(): void {
    const p = this.playing;
    const c = this.context;
    this.playing = null;
    if (!p || !c) return;
    p.gain.gain.cancelScheduledValues(c.currentTime);
    p.gain.gain.setTargetAtTime(0, c.currentTime, 0.02);
    for (const n of p.nodes) n.stop(c.currentTime + 0.2);
  }
}
