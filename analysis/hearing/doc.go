// Package hearing says which pitch a listener names when an object is struck,
// and how sure one can be of it. It is pure: partials in, pitches out.
//
// A strike's partials are made into tones as the ear can tell them apart
// (tones.go), each with a salience: its amplitude over the time the ear
// gathers, weighted by the dominance region and by what masks it (masking.go).
// Candidates are every tone and every frequency of which three tones in a row
// could be harmonics (candidates.go). Each is asked which known sort of thing
// the tones would make it: harmonic, bell, tube, bar, glass, bowl, plate,
// kettledrum (pattern.go). One model with three weights turns each candidate
// into a share of listeners (score.go). What the player says is in the hand
// leaves fewer sorts to choose from (kind.go) and counts beside what the sound
// says alone (heard.go). Where a pitch lies, and how sharply, is settled last
// (place.go).
//
// # What a player should know
//
// Common practice where no source is named. Some sounds have no one pitch, and
// no tool can give them one. Then two are told, each with the share of listeners
// expected to name it, and the first with less than 0.85. It is so with
//
//   - a bell: it hums an octave or so under the note it strikes with, and
//     its minor third may be as loud. The strike note comes from three partials
//     above it and fades first. A bell whose prime is a semitone out of true
//     sounds as two notes.
//   - a kettledrum or hand drum: its modes stand like the second, third and
//     fourth harmonic of a note that is not there; some hear that one.
//   - a bar, tile or pipe struck away from its middle, or with a hard stick: the
//     second mode, a twelfth or so up, speaks first and the lowest rings on.
//     Strike it again with a softer one.
//   - a glass, a bowl or a slate whose second mode is as loud as the lowest.
//   - small metal things, desk bells, triangles, cymbals, pot lids: many modes
//     of like strength, none of them in charge.
//   - dull wood, cork, thick pottery: a ring of a few waves is as broad as a
//     semitone. It has a height rather than a pitch, and the ± says how broad.
//   - two modes a few hertz apart: one tone that beats. It is heard between the
//     two, and the ± reaches from one to the other; one could tune to either.
//   - mixtures of harmonics with some left out, as of a string struck at a
//     third of its length: the octave is a matter of taste.
//
// Saying what is in the hand helps with most of these. It takes a side: told
// that a drum is a drum, the lowest ringing mode is the answer, and told that
// it is a bell, the strike note. It never makes certain what the sound alone
// leaves open.
//
// A strike note is heard, not measured: its ± holds how far the partials that
// make it disagree, and the 0.2 % within which a listener can place it at all,
// however exactly each of them is known.
//
// Sources, named at each use by author and year:
//
//   - B.R. Glasberg & B.C.J. Moore, Hearing Research 47
//     (1990) 103-138: ERB.
//   - E. Zwicker & E. Terhardt, J. Acoust. Soc. Am. 68 (1980) 1523-1525: Bark.
//   - ISO/IEC 11172-3, Annex D, psychoacoustic model 1: masking.
//   - E. Terhardt, G. Stoll & M. Seewann, J. Acoust. Soc. Am. 71 (1982)
//     679-688: dominance, subharmonic coincidence, where virtual pitch ends.
//   - B.C.J. Moore, B.R. Glasberg & R.W. Peters, J. Acoust. Soc. Am. 77 (1985)
//     1853-1860: how far a partial may be mistuned and still belong.
//   - E. Terhardt & M. Seewann, Acustica 54 (1984) 129-144: strike notes.
//
// All were read second hand, through texts that quote their formulas; where a
// number could not be seen even so, the place says "unchecked".
package hearing
