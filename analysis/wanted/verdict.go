package wanted

import (
	"math"

	"ringwell/analysis"
)

// Answer is what a player is told of an object in the hand.
type Answer string

const (
	Yes       Answer = "yes"
	Nearly    Answer = "nearly"
	NotWanted Answer = "not-wanted"
)

// Reason is why, as a code.
type Reason string

const (
	Fits       Reason = "fits"           // Yes: an open place
	Better     Reason = "better"         // Yes: nearer than what fills the place
	FillsIt    Reason = "fills"          // Yes: this strike is what fills the place
	Unsure     Reason = "unsure"         // Nearly: not known well enough, or not yet
	Split      Reason = "split"          // Nearly: too few listeners hear this pitch, or the ear is undecided
	SecondFits Reason = "second"         // Nearly: another pitch that some hear fits
	NearBy     Reason = "near"           // Nearly: by pitch alone
	Reachable  Reason = "reachable"      // Nearly: what is done with its kind would bring it there
	Far        Reason = "far"            // NotWanted: no place is near
	OtherKind  Reason = "other-kind"     // NotWanted: the pitch fits, but another kind is wanted there
	Filled     Reason = "filled"         // NotWanted: what fills the place is as good
	NoPitch    Reason = "no-pitch"       // NotWanted: nothing to hold against the list
	AllFound   Reason = "nothing-wanted" // NotWanted: no place is open
)

// Verdict is a strike held against the list.
type Verdict struct {
	Answer Answer
	Reason Reason
	Place  int // index of the place it is about, -1 for none

	// Of the pitch it rests on, as seen from that place.
	Cents  analysis.Cents // above it; negative is below
	Sigma  analysis.Cents // one standard deviation of Cents
	Within analysis.Cents // the tolerance it was held against
	Chance float64        // that it truly lies within, 0..1

	Beats int    // index of the fill it is better than, -1 for none
	Guess *Guess // what would bring it there; nil where nothing is known to
	Other *Other // the second pitch, nil where listeners agree
}

// Other is what the second pitch of a strike would do.
type Other struct {
	Frequency  analysis.Hz
	Likelihood float64
	Place      int // index of the place it would fit, -1 for none
}

// Hand is what is held against a list.
type Hand struct {
	Strike        string  // ID
	Early         bool    // its pitch may still move
	Used          float64 // seconds of sound it rests on; 0: enough
	Heard, Second *analysis.Pitch
	ClockPPM      float64
	// Ring is the standard deviation of the ring time of the partial heard, as a
	// share of it: infinite where that is not known, 0 where it does not matter.
	Ring float64
	Kind analysis.Kind // what the player says it is; Unknown if nothing
}

// HandOf returns what matters of a strike; kind is what the player says is in
// the hand.
func HandOf(s analysis.Strike, kind analysis.Kind) Hand {
	return Hand{Strike: s.ID, Early: s.Stage == analysis.Early, Used: s.Used, Heard: s.Heard, Second: s.Second, ClockPPM: s.ClockPPM, Ring: ringOf(s), Kind: kind}
}

// tooSoon reports whether what is heard may still turn out to be no note.
func (h Hand) tooSoon() bool {
	return h.Early && (h.Used < yesSeconds || h.Ring == 0 && h.Heard.Sigma > yesSigma)
}

// ringOf is Hand.Ring of a strike. A pitch that rests on no partial has none.
func ringOf(s analysis.Strike) float64 {
	if s.Heard == nil || s.Heard.Partial < 0 || s.Heard.Partial >= len(s.Partials) {
		return 0
	}
	p := s.Partials[s.Heard.Partial]
	if !(p.T60 > 0) {
		return math.Inf(1)
	}
	return p.SigmaT60 / p.T60
}
