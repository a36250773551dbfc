// English: the place Bench, its water. Big plain words and one number.

type Way = "struck" | "blown";

export const bench = {
  bench: "Bench",

  // what stands in the large type
  begin: "What shall it become?",
  beginSub: "Say what it holds, what it is aimed at, and how you pour. Then this line says what to do.",
  add: (n: string) => `Add ${n} ml`,
  take: (n: string) => `Take out ${n} ml`,
  there: (aim: string) => `There: ${aim}`,
  cannot: "Out of reach",
  asIs: { struck: "Strike it as it is", blown: "Blow it as it is" },
  now: { struck: "Strike it now", blown: "Blow it now" },
  again: { struck: "Strike it again", blown: "Blow it again" },
  was: { struck: "Was it struck?", blown: "Was it blown?" },
  bent: (note: string, bend: string) => `${note}, bent ${bend}`,

  // what stands under it
  wasSub: (heard: Way, meant: Way) => `That sounds ${heard}, and ${meant} is meant: water moves the two opposite ways.`,
  meant: { struck: "Struck is meant: water lowers it.", blown: "Blown is meant: water raises it." },
  doubt: { struck: "Water moved it up. Was it blown?", blown: "Water moved it down. Was it struck?" },
  then: { struck: "Say what went in, then strike again.", blown: "Say what went in, then blow again." },
  teach: (all: string) => `Not yet all of it: this much shows best. About ${all} ml in all bring it there.`,
  onScale: (g: string) => `${g} g on the scale.`,
  inIt: (ml: string, g: string) => `${ml} ml in it, ${g} g.`,
  lies: (lack: string) => `It lies ${lack}.`,
  tooMuch: "Too much went in: that is usual.",
  mayNotReach: "Whether it can be reached is not sure yet.",
  oneMore: "One sound more tells.",
  promise: (how: string, c: string) => `Poured ${how}, within ±${c} c can be promised.`,
  nearer: "Weigh it or take a syringe to come nearer.",
  refusal: {
    "struck-above": (c: string, aim: string) => `Water only lowers what is struck, and empty it lies ${c} c below ${aim} already. Take a smaller or thicker one.`,
    "struck-below": (range: string, aim: string, c: string) => `Full is ${range} c below empty; ${aim} lies ${c} c beyond. Take a larger or thinner one.`,
    "blown-below": (c: string, aim: string) => `Water only raises what is blown, and empty it lies ${c} c above ${aim} already. Take a larger bottle.`,
    "blown-above": (range: string, aim: string, c: string) => `With water up to the neck it is ${range} c above empty; ${aim} lies ${c} c beyond. Take a smaller bottle.`,
  },
  keepIt: "K keeps it with its fill.",

  // beginning a job
  way: "How it will sound",
  ways: { struck: "struck: glass, jar, bowl. Water lowers it", blown: "blown: bottle, jar. Water raises it" },
  vessel: "What it is",
  vesselHint: "blue jam jar",
  holds: { struck: "Holds to the brim, ml", blown: "Holds to the foot of the neck, ml" },
  already: "In it already, ml",
  aim: "Aim, its note and bend in cents",
  aimHint: "F#5 +30 +-5",
  pour: "How you pour",
  pours: { scale: "on a scale", syringe: "by syringe", eye: "by eye" },
  byHow: { scale: "on a scale", syringe: "by syringe", eye: "by eye" },
  pourNote: { scale: "True to 3 %, and to 0.5 ml at best.", syringe: "True to 3 %, and to 0.5 ml at best.", eye: "True to about 3 ml: after the first sound the page says how near that comes." },
  more: "Measures and temperatures, if you know them",
  water: "Water, °C",
  stage: "Air where it is played, °C",
  bore: "Neck, inner width, mm",
  neck: "Neck, length, mm",
  body: "Body, inner width, mm",
  start: "Begin",
  cautionsTitle: "Mind your hands",

  // following it
  job: (vessel: string, aim: string) => `${vessel || "This one"}: to ${aim}`,
  undo: "Undo",
  putAway: "Put away",
  keep: "Keep with its fill",
  kept: (label: string) => `Kept on the shelf: ${label}.`,
  keepNot: "Strike it once more with this fill: there is no sound of it to keep.",
  fill: (ml: string) => `${ml} ml of water`,
  aVessel: "Vessel",
  pouredIn: "Poured in",
  takenOut: "Taken out",
  amount: { ml: "What went in or out, ml", g: "What went in or out, g" },
  unit: { ml: "in g", g: "in ml" },
  pending: (ml: string) => `${ml} ml since the last sound.`,
  pouredTooMuch: "Poured too much? Say what really went in: the next line says how much to take out.",
  typed: "No ear here: type what was heard, Hz",
  enter: "Enter",
  follow: "Strikes count by themselves",
  yesWas: { struck: "It was struck: leave it out", blown: "It was blown: leave it out" },
  noWas: { struck: "It was struck, as meant", blown: "It was blown, as meant" },
  changeAim: "Another aim",
  change: "Change",

  // the picture and its tables
  curve: (n: number) => `Pitch against fill: ${n === 1 ? "one sound" : `${n} sounds`}, the predicted curve and its 95 % band.`,
  curveTitle: "Path",
  ml: (n: string) => `${n} ml`,
  sounds: "Sounds so far",
  soundColumns: ["In it", "Heard", "Against the aim"],
  partials: "Where every partial will be at the aim",
  partialColumns: ["At the first sound", "Lands at", "Moves by", "Nearest note"],
  heardMark: "heard",

  cautions: {
    both: [
      "No hot water into cold glass. Do not strike what is chipped or cracked.",
      "Wet floors are slippery, and shards in water are not seen: wear gloves, and drain first.",
      "Keep water away from everything on mains power, this computer among it, and from the microphone.",
      "Old glazes may hold lead: never drink from it.",
      "Follow your local codes, and leave what they reserve to licensed people.",
    ],
    blown: ["Wash a found bottle before a mouth touches it, and never blow a chipped rim."],
  },
  keys: [
    ["P", "Bench: what was poured"],
    ["W R D", "Bench: water, row, drift"],
    ["3", "Bench"],
  ] as [string, string][],
};

export type BenchWords = typeof bench;
