// Package hearing says which pitch a listener names when an object is struck,
// and how sure one can be of it. It is pure: partials in, pitches out.
//
// A strike's partials are made into tones as the ear can tell them apart
// (tones.go), each with a salience: its amplitude over the time the ear
// gathers, weighted by the dominance region and by what masks it (masking.go).
// Candidates are every tone and every frequency of which three tones in a row
// could be harmonics (candidates.go). One model with three weights turns each
// candidate into a share of listeners (score.go). What the player says is in
// the hand is a prior (kind.go).
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
