// English: measuring an instrument of one's own.

export const walk = {
  link: "Measure an instrument",
  title: "Measure an instrument of your own",
  sub: "Strike its notes one after the other, from the lowest. ringwell then uses what they are instead of what such an instrument usually is.",
  name: "Its name",
  like: "An instrument like",
  prepared: "Prepared: a note may have several pitches, or none",
  remove: "Remove",
  measured: (n: number, of: number) => `${n} of ${of} notes`,
  strike: "Strike",
  allDone: "All notes are done",
  back: "Back",
  again: "This note again",
  skip: "Skip",
  finish: "Finish",
  giveUp: "Give up",
  table: "Its notes: how far from their usual place, or their pitches",
  columns: ["Note", "Measured", "Strikes"],
  and: ", ",
  skipped: "skipped",
  noPitch: "no pitch",
};

export type WalkWords = typeof walk;
