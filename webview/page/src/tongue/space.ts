// French sets a space before : ; ? and !, at which no line may break.

/** The same words, and the same functions that make words, with such spaces bound to what they follow. */
export function spaced<T>(words: T): T {
  if (typeof words === "string") return words.replace(/ ([:;?!])/g, "\u00a0$1") as T;
  if (typeof words === "function") return ((...given: unknown[]) => spaced((words as (...given: unknown[]) => unknown)(...given))) as T;
  if (Array.isArray(words)) return words.map(spaced) as T;
  if (typeof words === "object" && words !== null) return Object.fromEntries(Object.entries(words).map(([k, v]) => [k, spaced(v)])) as T;
  return words;
}
