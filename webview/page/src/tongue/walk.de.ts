// German: measuring an instrument of one's own.

import type { WalkWords } from "./walk.en.ts";

export const walk: WalkWords = {
  link: "Instrument vermessen",
  title: "Ein eigenes Instrument vermessen",
  sub: "Seine Töne nacheinander anschlagen, vom tiefsten an. ringwell nimmt dann, was sie sind, und nicht, was so ein Instrument gewöhnlich ist.",
  name: "Sein Name",
  like: "Ein Instrument wie",
  prepared: "Präpariert: ein Ton kann mehrere Tonhöhen haben oder keine",
  remove: "Entfernen",
  measured: (n, of) => `${n} von ${of} Tönen`,
  strike: "Anschlagen:",
  allDone: "Alle Töne sind gemacht",
  back: "Zurück",
  again: "Diesen Ton noch einmal",
  skip: "Auslassen",
  finish: "Fertig",
  giveUp: "Aufgeben",
  table: "Seine Töne: wie weit von ihrem gewöhnlichen Platz, oder ihre Tonhöhen",
  columns: ["Ton", "Gemessen", "Schläge"],
  and: ", ",
  skipped: "ausgelassen",
  noPitch: "keine Tonhöhe",
};
