// Numbers that flicker cannot be read: the answer to one strike changes at most four times a second. Pure.

/** The least time between two changes, in ms. */
export const LEAST = 250;

/** What is on show, and since when. */
export interface Paced<T> {
  readonly value: T;
  readonly key: string; // of what the eye sees of it
  readonly strike: string | null; // whose answer it is
  readonly settled: boolean;
  readonly at: number; // ms
}

/**
 * What is to be on show now: next at once if it looks the same, is about another strike, settles this one, or the last
 * change is long enough ago; else the old one, to be asked again after wait ms.
 */
export function paced<T>(old: Paced<T> | null, next: Omit<Paced<T>, "at">, now: number): { show: Paced<T>; wait: number } {
  if (old?.key === next.key && old.strike === next.strike) return { show: { ...next, at: old.at }, wait: Infinity };
  const settles = old !== null && next.settled && !old.settled;
  if (old === null || old.strike !== next.strike || settles || now - old.at >= LEAST) return { show: { ...next, at: now }, wait: Infinity };
  return { show: old, wait: LEAST - (now - old.at) };
}
