// A frame of sound as /ear takes it: a header of 16 bytes, then the samples of one channel, little-endian. Pure.

const VERSION = 1;
const FLOAT32 = 1;
const HEADER = 16;
/** The most samples a frame may hold. */
export const MOST = 2048;

/** Packs samples, full scale 1, that begin at clock since capture began. */
export function packed(sequence: number, clock: number, samples: Float32Array): ArrayBuffer {
  if (samples.length < 1 || samples.length > MOST) throw new RangeError(`a frame of ${samples.length} samples: 1 to ${MOST} can be sent`);
  const out = new ArrayBuffer(HEADER + 4 * samples.length);
  const v = new DataView(out);
  v.setUint8(0, VERSION);
  v.setUint8(1, FLOAT32);
  v.setUint16(2, samples.length, true);
  v.setUint32(4, sequence >>> 0, true);
  v.setBigUint64(8, BigInt(clock), true);
  for (let i = 0; i < samples.length; i++) v.setFloat32(HEADER + 4 * i, samples[i]!, true);
  return out;
}
