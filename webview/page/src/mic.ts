// This device's microphone, as unaltered as the browser lets it be.

/** What browsers do to speech, and what ruins the ring of a bowl. All is asked to be off. */
export const ALTERING = ["echoCancellation", "noiseSuppression", "autoGainControl"] as const;

export interface Mic {
  readonly rate: number; // Hz
  readonly settings: Record<string, unknown>;
  stop(): void;
}

/** Whether this page may ask for a microphone at all: browsers allow it on trusted pages only. */
export const canListen = (): boolean => isSecureContext && "mediaDevices" in navigator && "AudioWorkletNode" in window;

/** What a browser did not switch off, or does not say that it has. */
export const leftOn = (settings: Record<string, unknown>): string[] => ALTERING.filter((k) => settings[k] !== false);

/**
 * Opens the microphone; each piece of its sound goes to heard with the clock of its first sample. ended is called when
 * the device is taken away. It throws what getUserMedia throws, e.g. NotAllowedError.
 */
export async function openMic(heard: (clock: number, samples: Float32Array) => void, ended: () => void): Promise<Mic> {
  const audio: MediaTrackConstraints = { channelCount: 1, ...Object.fromEntries(ALTERING.map((k) => [k, false])) };
  const stream = await navigator.mediaDevices.getUserMedia({ audio });
  const track = stream.getAudioTracks()[0]!;
  const settings = { ...track.getSettings() } as Record<string, unknown>;
  const context = contextAt(settings["sampleRate"]);
  const stop = () => {
    track.stop();
    context.onstatechange = null;
    void context.close();
  };
  try {
    await context.audioWorklet.addModule("ear.js");
    await context.resume();
    const node = new AudioWorkletNode(context, "listener", { numberOfInputs: 1, numberOfOutputs: 0, channelCount: 1, channelCountMode: "explicit" });
    const clock = new Clock(context.sampleRate);
    node.port.onmessage = ({ data }: MessageEvent<{ clock: number; samples: Float32Array }>) => heard(data.clock + clock.missed, data.samples);
    // A call or a locked screen halts the audio thread and its clock: what was not heard meanwhile is added to it.
    context.onstatechange = () => {
      clock.runs(context.state === "running", performance.now());
      if (context.state !== "running" && context.state !== "closed") void context.resume();
    };
    context.createMediaStreamSource(stream).connect(node);
    track.onended = ended;
  } catch (e) {
    stop();
    throw e;
  }
  return { rate: context.sampleRate, settings, stop };
}

/** At the microphone's own rate where the browser says it and allows it: nothing is resampled then. */
function contextAt(rate: unknown): AudioContext {
  try {
    return new AudioContext(typeof rate === "number" ? { sampleRate: rate } : {});
  } catch {
    return new AudioContext();
  }
}

/** How many samples the audio thread's clock has missed while it stood still. */
export class Clock {
  missed = 0;
  private since: number | null = null;

  constructor(private readonly rate: number) {}

  runs(running: boolean, now: number): void {
    if (!running) this.since ??= now;
    else if (this.since !== null) {
      this.missed += Math.round(((now - this.since) / 1000) * this.rate);
      this.since = null;
    }
  }
}
