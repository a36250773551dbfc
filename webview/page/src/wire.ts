// Reading of untrusted JSON: each reader takes a value and the path it stands at, and returns it typed or throws a
// Malformed that names the path.

/** What is thrown where a message is not what it should be. */
export class Malformed extends Error {}

export type Reader<T> = (value: unknown, at: string) => T;

const wrong = (wanted: string, got: unknown, at: string): never => {
  throw new Malformed(`${at}: got ${JSON.stringify(got)?.slice(0, 40) ?? "nothing"}, wanted ${wanted}`);
};

export const str: Reader<string> = (v, at) => (typeof v === "string" ? v : wrong("a text", v, at));
export const num: Reader<number> = (v, at) =>
  typeof v === "number" && Number.isFinite(v) ? v : wrong("a number", v, at);
export const bool: Reader<boolean> = (v, at) => (typeof v === "boolean" ? v : wrong("true or false", v, at));

/** A value that may be null; one that is missing is taken as null, so that a later field does no harm. */
export const maybe =
  <T>(read: Reader<T>): Reader<T | null> =>
  (v, at) =>
    v === null || v === undefined ? null : read(v, at);

export const list =
  <T>(read: Reader<T>): Reader<T[]> =>
  (v, at) =>
    Array.isArray(v) ? v.map((x, i) => read(x, `${at}[${i}]`)) : wrong("a list", v, at);

/** One of the words known; any other is read as the last, which stands for what is not known yet. */
export const word =
  <const T extends readonly string[]>(...known: T): Reader<T[number]> =>
  (v, at) =>
    known.find((k) => k === str(v, at)) ?? known[known.length - 1]!;

type Shape<S> = { [K in keyof S]: S[K] extends Reader<infer T> ? T : never };

/** An object with these fields; others are ignored. */
export const object =
  <S extends Record<string, Reader<unknown>>>(fields: S): Reader<Shape<S>> =>
  (v, at) => {
    if (typeof v !== "object" || v === null || Array.isArray(v)) return wrong("an object", v, at);
    const from = v as Record<string, unknown>;
    return Object.fromEntries(Object.entries(fields).map(([k, read]) => [k, read(from[k], at ? `${at}.${k}` : k)])) as Shape<S>;
  };
