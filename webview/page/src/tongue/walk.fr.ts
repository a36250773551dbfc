// French: measuring an instrument of one's own.

import type { WalkWords } from "./walk.en.ts";

export const walk: WalkWords = {
  link: "Mesurer un instrument",
  title: "Mesurer un instrument à soi",
  sub: "Frapper ses notes l’une après l’autre, en partant de la plus grave. ringwell prend alors ce qu’elles sont, et non ce qu’un tel instrument est d’ordinaire.",
  name: "Son nom",
  like: "Un instrument comme",
  prepared: "Préparé : une note peut avoir plusieurs hauteurs, ou aucune",
  remove: "Retirer",
  measured: (n, of) => `${n} notes sur ${of}`,
  strike: "Frapper :",
  allDone: "Toutes les notes sont faites",
  back: "Retour",
  again: "Cette note encore",
  skip: "Passer",
  finish: "Terminer",
  giveUp: "Abandonner",
  table: "Ses notes : l’écart à leur place ordinaire, ou leurs hauteurs",
  columns: ["Note", "Mesure", "Coups"],
  and: ", ",
  skipped: "passée",
  noPitch: "sans hauteur",
};
