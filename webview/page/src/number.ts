// Numbers as a player may read them: only as many digits as their uncertainty earns.
// Every uncertainty is one standard deviation: two times in three the truth lies within it.

/** One part per million of frequency, in cents: 1200 log2(1 + 1e-6). */
const CENTS_PER_PPM = 1200 * Math.log2(1 + 1e-6);

/**
 * The uncertainty in cents against a note of an instrument: what the strike left open, and the input's own clock. The
 * clock cancels between two sounds heard by one input, so leave it out (0) there. Null where it is not known.
 */
export const against = (sigma: number | null, clockPPM: number): number | null =>
  sigma === null ? null : Math.hypot(sigma, clockPPM * CENTS_PER_PPM);

/**
 * The step of the last digit shown of a distance in cents. Tens where one cent means nothing yet (7 c: then even the
 * next ten is a guess one time in three), tenths only where they are all but known, whole cents between.
 */
export const step = (sigma: number | null): number => (sigma === null || sigma >= 7 ? 10 : sigma >= 0.15 ? 1 : 0.1);

/** A distance without its sign, e.g. "12" or "12.3"; "0" where nothing is left of it. */
export function distance(cents: number, sigma: number | null, mark: string): string {
  const s = step(sigma);
  const n = Math.round(Math.abs(cents) / s) * s;
  return decimals(n, n > 0 && s < 1 ? 1 : 0, mark);
}

/**
 * An uncertainty in cents, rounded up to one digit, as the terminal shows it: never claimed smaller than it is, and never
 * less than the tenth that is shown at most.
 */
export function doubt(sigma: number, mark: string): string {
  const up = (unit: number) => Math.ceil(sigma / unit - 1e-9);
  if (up(0.1) < 10) return decimals(Math.max(1, up(0.1)) / 10, 1, mark);
  if (up(1) < 10) return decimals(up(1), 0, mark);
  return decimals(up(10) * 10, 0, mark);
}

/** A quantity with the decimals its uncertainty leaves, at most most of them; unknown uncertainty leaves one digit. */
export function earned(x: number, sigma: number | null, most: number, mark: string): string {
  const s = sigma ?? Math.abs(x) / 3;
  const places = s > 0 ? Math.min(most, Math.max(0, -Math.floor(Math.log10(s * 2)))) : most;
  return decimals(x, places, mark);
}

/** x with so many decimals and the language's decimal mark; a true minus sign. */
export const decimals = (x: number, places: number, mark: string): string =>
  (x < 0 ? "−" : "") + Math.abs(x).toFixed(places).replace(".", mark);

/** With its sign written out, as bends are: "+30", "−12.5", "0". */
export const signed = (x: number, mark: string): string => {
  const places = Number.isInteger(x) ? 0 : 1;
  return (x > 0 ? "+" : "") + decimals(x, places, mark);
};
