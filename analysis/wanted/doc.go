// Package wanted holds the list of what a player is hunting for, and every
// strike against it.
//
// # The typed list
//
// One place a line, the place first, the rest in any order and each at most
// once:
//
//	# for the second movement
//	F#5 +30 +-15 bottle x2
//	A4 quarter-flat
//	440 Hz +-5 glass
//
//	place      a note: letter, accidentals (# or b), octave, C4 being middle C;
//	           or a frequency: 440 Hz, 1.25 kHz
//	quarter    quarter-sharp, quarter-flat, three-quarters-sharp or
//	           three-quarters-flat, after a note: 50 or 150 cents from it
//	bend       +30 or -15: cents beside the note, on purpose, at most 100
//	tolerance  +-15: cents either way that are near enough, 0.5 to 100; without
//	           it, what the player calls near enough otherwise (Usual)
//	kind       bar, bell, glass, bottle, plate, drum or blown; without it, any
//	count      x2: how many are wanted, at most 99; without it, one
//
// A line that begins with # and an empty line say nothing and stay where they
// are: a # anywhere else is a sharp. Cents may carry a unit (+30 c, +30 cents),
// signs may be typographic (−, ±, ×, ♯, ♭), and a decimal comma is read.
//
// Quarter-tones are named by the accidental-value words of MusicXML 4.0 (W3C
// Music Notation Community Group, public text; from memory, unchecked), with a
// space for the hyphen allowed. Signs for them differ from school to school
// and are on no keyboard; the words are in every score program.
//
// German names are read where they can mean one thing only: Fis5, Es4, As3, H4.
// A plain B in a list that has such names is refused, since it may be B or B
// flat. Syllables (la4, si3) are refused always: by French count la3 is the
// 440 Hz that others call A4, and nothing in the name says whose count it is.
//
// What cannot be read is told with line and column, and what to write instead;
// the line itself stays in the list where it was, so that nothing typed is
// lost, and the other lines count.
//
// # Holding a strike against the list
//
// A place lies at its note, on the instrument's reference pitch and where the
// instrument's note was measured there, plus quarter-tone and bend. The strike
// lies away from it by some cents, known with a standard deviation: that of the
// pitch and that of the input's clock together, and a little more while too
// little of it was heard to tell near pairs apart. From the two follows the
// chance that it truly lies within the tolerance.
//
// A place that is not ticked is filled when its count of objects has been
// found, and is open until then. A strike fits a place when the kinds do not
// differ (either may be unknown) and the chance is at least SureChance.
//
// Of several open places that fit, the strike is for the one that is hardest
// to fill: the one that names its kind, then the one with the smallest
// tolerance, then the one that is nearest, then the one that comes first. Where
// none is open, a filled one counts for which it is better than what fills it,
// nearer by more than twice the standard deviation of that comparison.
//
// The answer is then Yes. It is Yes only of a strike that is settled or was
// heard for 80 ms, since talk and things set down may sound like a note for a
// moment before they are withdrawn; only of one whose ring time is known to a
// fifth or whose pitch is known to 0.4 cents, since talk may also go on like a
// note, but does not die away like a struck thing; and only of a pitch
// that most listeners name: where its likelihood is under half, or less than
// that of a second pitch further away than the place is wide, the answer is
// Nearly at best.
//
// Otherwise it is Nearly, for the place of which one of these is true (the
// first, and of several the nearest place): it would fit but is not yet known
// well enough, or has the likelihood against it; the second pitch some hear
// would fit; it lies at most NearCents outside the tolerance; what is usually
// done with its kind would bring it there (see Guess: likely ones only).
//
// Otherwise it is NotWanted, with the nearest place that is open.
package wanted
