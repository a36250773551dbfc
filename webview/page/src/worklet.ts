// The microphone's samples, as they come, in pieces of a fiftieth of a second with the clock they began at. It runs in
// the browser's audio thread, as a file of its own.

declare class AudioWorkletProcessor {
  readonly port: MessagePort;
}
declare function registerProcessor(name: string, processor: new () => AudioWorkletProcessor): void;
declare const currentFrame: number;

/** Samples a piece: what the audio thread gives at once, eight times. */
const PIECE = 1024;

class Listener extends AudioWorkletProcessor {
  private piece = new Float32Array(PIECE);
  private filled = 0;
  private clock = 0; // of the piece's first sample

  process(inputs: Float32Array[][]): boolean {
    const sound = inputs[0]?.[0];
    // Where the microphone gives nothing the clock runs on, so that what is missing is seen.
    if (!sound) return this.send();
    if (this.filled === 0) this.clock = currentFrame;
    this.piece.set(sound, this.filled);
    this.filled += sound.length;
    return this.filled + sound.length > PIECE ? this.send() : true;
  }

  private send(): true {
    if (this.filled === 0) return true;
    const samples = this.piece.slice(0, this.filled);
    this.filled = 0;
    this.port.postMessage({ clock: this.clock, samples }, [samples.buffer]);
    return true;
  }
}

registerProcessor("listener", Listener);
