// English: what every tongue must be able to say. Words before signs; what it is, then what it lacks; no praise.

import { bench } from "./bench.en.ts";
import { doors } from "./doors.en.ts";
import { drift } from "./drift.en.ts";
import { hunt } from "./hunt.en.ts";
import { shelf } from "./shelf.en.ts";
import { walk } from "./walk.en.ts";

const NAMES = ["C", "C sharp", "D", "E flat", "E", "F", "F sharp", "G", "G sharp", "A", "B flat", "B"];

export const en = {
  code: "en",
  bench,
  drift,
  hunt,
  shelf,
  walk,
  doors,
  name: "English",
  mark: ".",

  // notes
  said: (midi: number): string => pitchName(NAMES, midi, (n, o) => (n.length > 1 ? `${n} ${o}` : n + o)),
  written: (midi: number): string => en.said(midi).replace(" sharp ", "♯").replace(" flat ", "♭"),
  letter: (midi: number): string => en.written(midi).replace(/-?\d+$/, ""),

  // the answer
  waiting: "Strike something",
  waitingSub: "Once, and let it ring. A stone will lie here, tied to its nearest post.",
  howFar: "how far",
  bent: (note: string, bend: string) => `${note} ${bend}`,
  high: (c: string) => `${c} c high`,
  low: (c: string) => `${c} c low`,
  about: (lack: string) => `about ${lack}`,
  on: "on it",
  near: "or near it",
  between: (a: string, b: string) => `Between ${a} and ${b}`,
  betweenSub: (up: string, a: string, down: string, b: string) => `${up} c above ${a}, ${down} c below ${b}.`,
  above: "above its top note",
  below: "below its lowest note",
  beyondSub: (instrument: string, edge: string, semitones: string, up: boolean) =>
    `The ${instrument} ${up ? "ends" : "begins"} at ${edge}, ${semitones} ${up ? "lower" : "higher"}.`,
  semitones: (n: string) => (n === "1" ? "a semitone" : `${n} semitones`),
  octavesSub: (n: number, up: boolean, place: string) =>
    `${["", "An octave", "Two octaves", "Three octaves"][n] ?? `${n} octaves`} ${up ? "down" : "up"} it would be ${place}.`,
  aimedSub: (semitones: string, up: boolean, note: string) => `${semitones} ${up ? "above" : "below"} ${note}, which is aimed at.`,
  knock: "No pitch: a knock",
  knockSub: (rang: string | null) =>
    `${rang ? `It rang ${rang}, too short to place.` : "Too short to place."} Let it hang free, or strike nearer its rim.`,
  noPitch: "No one pitch",
  noPitchSub: (rings: string | null) => `${rings ? `It rings ${rings}, but` : "It rings, but"} no pitch leads: its stones lie where they lie.`,
  listening: "Still listening: the stone’s foot shows how far it may lie.",
  listeningShort: "Still listening.",
  takenBackSub: "What looked like a note was none. Strike again.",

  // what is told below
  rings: (t: string) => `Rings ${t}.`,
  ringsOnly: (t: string) => `Rings ${t},`,
  atNote: (note: string) => `at ${note}`,
  lasts: (n: number, longest: boolean) =>
    longest ? `Of its ${count(n)} stones this one lasts.` : `Of its ${count(n)} stones another lasts longer.`,
  others: (list: string) => `Also sounding: ${list}.`,
  someHear: (place: string) => `Some will hear ${place}.`,
  strikeNote: "A strike note (no partial there).",
  periodic: "A steady sound: blown, bowed or rubbed.",
  within: (c: string) => `Within the ±${c} c asked for.`,
  beats: (n: string) => `beats ${n} a second`,
  beatsSub: (n: string) => `Two stones that beat ${n} a second.`,
  writtenAs: (note: string, instrument: string) => `Written ${note} for the ${instrument}.`,
  frozen: "Frozen: new strikes join the trail.",
  compared: (who: string, far: string, ring: string | null) => `Beside ${who}: ${far}${ring ? `, rings ${ring}` : ""}.`,
  higher: (c: string, doubt: string) => `${c} c higher ±${doubt}`,
  lower: (c: string, doubt: string) => `${c} c lower ±${doubt}`,
  same: (doubt: string) => `at the same place ±${doubt}`,
  longer: (t: string) => `${t} longer`,
  shorter: (t: string) => `${t} shorter`,
  rolls: (strokes: number, rate: string) => `A roll: ${strokes} strokes, ${rate} a second.`,
  glides: (from: string, to: string, rate: string) => `It glides from ${from} to ${to}, ${rate} c a second.`,
  wobbles: (rate: string, cents: string) => `It wobbles ${rate} a second, ${cents} c to either side.`,
  remarks: {
    clipped: "Too loud: the top was cut off. Step back or turn the ear down.",
    damped: "A hand or a support stopped it.",
    "struck-again": "The next strike cut its ring short.",
    same: "It was still ringing and was struck again.",
    two: "Perhaps two things, struck at almost the same moment.",
    beside: "Something else was still ringing.",
    glide: "Its pitch glides.",
    wobble: "It wobbles slowly.",
    lost: "Sound was lost while it rang: strike again.",
  } as Record<string, string>,

  // what may be wrong
  gone: "ringwell has stopped",
  goneSub: "Start it again where it ran: sh cmd/run.sh. This page comes back by itself.",
  connecting: "Looking for the ear",
  connectingSub: "This page is asking ringwell what it hears.",
  deaf: "The ear hears nothing",
  deafSub: "Look to the microphone and its cable. This goes when it hears again.",
  silent: "Only silence comes in",
  silentSub: "Look to the cable and to the microphone’s switch. This goes when it hears again.",
  opening: "Opening the ear",
  openingSub: "A moment, then strike something.",
  ended: "The recording is over",
  endedSub: "Its strikes stay on the trail.",
  toneSub: "The target sounds; the ear waits until it ends.",

  // times
  seconds: (n: string) => `${n} s`,
  millis: (n: string) => `${n} ms`,
  ago: (s: number) => (s < 10 ? "just now" : s < 60 ? `${Math.floor(s / 10) * 10} s ago` : `${Math.floor(s / 60)} min`),
  clock: (d: Date) => `${d.getHours()}.${String(d.getMinutes()).padStart(2, "0")}`,

  // the strip
  strip: "What is always true",
  ear: "ear",
  level: "level",
  levels: { good: "good", quiet: "faint", loud: "too loud", muted: "muted", none: "none" },
  nothingLost: "nothing lost",
  lost: (t: string, at: string) => `${t} of sound lost, last at ${at}`,
  range: (lo: string, hi: string) => `${lo} to ${hi}`,
  reference: (note: string) => `${note} = `,
  aimNearest: "aim: nearest note",
  aimNote: (note: string) => `aim: ${note}`,
  aimNone: "no aim",

  // what can be done
  keep: "Keep",
  keepNot: "No sound of a strike is kept yet: let it ring out, then press K.",
  keepSound: "Keep sound",
  hear: (note: string) => `Hear ${note}`,
  hearNothing: "Hear the target",
  stopTone: "Stop the tone",
  freeze: "Freeze",
  whole: "Whole",
  far: "Far",
  numbers: "Numbers",
  leaveFar: "Leave the far view",
  setup: "Set up",
  keys: "Keys",
  cautions: "Cautions",
  close: "Close",
  space: "space",
  listen: "Listen",
  places: "Places",

  // the rail and its numbers
  railOf: (answer: string) => `Rail of pitch. ${answer}`,
  stonesHigher: (n: number) => (n === 1 ? "1 stone higher" : `${n} stones higher`),
  stonesLower: (n: number) => (n === 1 ? "1 stone lower" : `${n} stones lower`),
  table: "Stones of this strike",
  columns: ["Sounds", "Frequency", "Uncertain by", "Loudness", "Rings", "Beats"],
  heardMark: "heard",
  secondMark: "heard by some",
  notKnown: "not known",
  place: (note: string, lack: string) => (lack ? `${note}, ${lack}` : note),

  // the trail
  trail: "Strikes before this one, newest first",
  firstRow: "earlier strikes line up here",
  notNamed: "not named",
  choices: "Keep, name, compare or throw away",
  give: "Name",
  nameIt: "What is it?",
  nameSave: "Save",
  compare: "Compare",
  compareOff: "Compare no more",
  throwAway: "Throw away",
  noSound: "no sound kept",
  thrownAway: (at: string) => `Thrown away: strike at ${at}.`,
  undo: "Undo",
  earlier: (n: number) => `${n} earlier`,

  // setting up
  sectionEar: "Ear",
  sectionAim: "Aim",
  sectionPage: "This page",
  soundFrom: "Sound from",
  sources: { mic: "microphone", demo: "demo scene", phone: "a browser’s microphone" } as Record<string, string>,
  input: "Input, its name or part of it",
  inputDefault: "the usual one",
  inputUse: "Use it",
  kind: "What is struck",
  kinds: {
    unknown: "not said",
    bar: "bar: plank, pipe, tube",
    bell: "bell",
    glass: "glass, bowl, jar",
    bottle: "bottle",
    plate: "plate: slate, tile, lid",
    drum: "drum, skin",
    blown: "blown or bowed",
  } as Record<string, string>,
  instrument: "Instrument",
  instruments: {} as Record<string, string>,
  referenceLabel: (note: string) => `${note} in Hz, 415 to 466`,
  aimLabel: "Aim at",
  aims: { nearest: "the nearest note", note: "one note", none: "nothing: only name it" },
  aimKey: "Note",
  bend: "Bend, cents beside the note",
  tolerance: "Near enough, cents either side",
  look: "Look",
  looks: { system: "as the system", hall: "hall, dark", shop: "shop, light" },
  language: "Language",
  room: "Background of the room",
  roomWords: (loud: string, quiet: string) => `Strongest round ${loud}, faintest round ${quiet}.`,
  roomUnknown: "Not heard yet: be still for a few seconds.",
  roomColumns: ["Round", "Below the strongest"],
  hz: (n: string) => `${n} Hz`,
  db: (n: string) => `${n} dB`,
  keyList: [
    ["space", "freeze, let go"],
    ["T", "sound the target"],
    ["K", "keep the sound"],
    ["← →", "aim a note down, up"],
    ["0", "aim at the nearest again"],
    ["↑ ↓", "nearer, wider"],
    ["Z", "near, whole"],
    ["F", "far view"],
    ["N", "numbers"],
    ["S", "set up"],
    ["L", "hall, shop"],
    ["U", "undo"],
    ["1", "Listen"],
    ["?", "this list"],
    ["esc", "close"],
  ] as [string, string][],
  plusMinus: "±: two times in three the true place lies within it.",
  cautionList: [
    "Loud strikes close to the ear harm hearing: keep your distance, wear protection, rest.",
    "Never strike glass or ceramics that are chipped or cracked. Wear eye protection; sweep up shards, never with bare hands.",
    "Old slates, tiles, boards and brake drums may carry asbestos. Never blow off, brush, sand, saw or drill them; if in doubt leave them alone.",
    "Old glazes and paints may hold lead: do not sand them, and do not drink from what you strike.",
    "Follow your local codes, and leave what they reserve to licensed people.",
  ],
  licences: "Licences of what this page is made with",
};

export type Tongue = typeof en;

/** Puts a name and an octave together; MIDI 60 is in octave 4. */
export function pitchName(names: readonly string[], midi: number, join: (name: string, octave: number) => string): string {
  return join(names[((midi % 12) + 12) % 12]!, Math.floor(midi / 12) - 1);
}

const count = (n: number): string => ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"][n] ?? String(n);
