package analysis

import "time"

// Stage says how far a strike's answer may still move.
type Stage string

const (
	// Early: worth saying, still moving; its sigma says how far.
	Early Stage = "early"
	// Settled: two windows in a row agree and the place is known; ring times
	// and weak partials may still be refined.
	Settled Stage = "settled"
	// Final: nothing more will come of this strike.
	Final Stage = "final"
	// Withdrawn: what looked like a note was none (a knock, a cough). The
	// strike with this ID is to be forgotten.
	Withdrawn Stage = "withdrawn"
)

// Kind is the kind of thing a player says is in the hand. It sharpens the
// choice among candidate pitches; Unknown is always allowed.
type Kind string

const (
	Unknown Kind = "unknown"
	Bar     Kind = "bar"
	Bell    Kind = "bell"
	Glass   Kind = "glass"
	Bottle  Kind = "bottle"
	Plate   Kind = "plate"
	Drum    Kind = "drum"
	Blown   Kind = "blown"
)

// Kinds lists every Kind, Unknown first.
func Kinds() []Kind { return []Kind{Unknown, Bar, Bell, Glass, Bottle, Plate, Drum, Blown} }

// Basis says what a pitch rests on.
type Basis string

const (
	// OnPartial: the pitch is one of the strike's own partials.
	OnPartial Basis = "partial"
	// StrikeNote: heard where no partial need lie, from a run of partials
	// that stand like harmonics (bells, tubes, missing fundamentals).
	StrikeNote Basis = "strike-note"
	// Periodic: a sound that repeats itself (blown, bowed, rubbed).
	Periodic Basis = "periodic"
)

// Pitch is one pitch a listener may name.
type Pitch struct {
	Frequency  Hz
	Sigma      Cents // one standard deviation, statistical only: the input's clock error stands beside it in Strike.ClockPPM
	Basis      Basis
	Partial    int     // index into Strike.Partials it rests on, -1 for none
	Likelihood float64 // share of listeners expected to name it, 0..1
}

// Partial is one damped sinusoid of a strike, or one member of a near pair.
type Partial struct {
	Frequency  Hz
	Sigma      Cents   // one standard deviation
	Level      float64 // dB at the onset, relative to the strike's strongest (0)
	SigmaLevel float64 // dB
	T60        float64 // seconds until 60 dB lower; 0 is unknown (cut short, or does not decay)
	SigmaT60   float64 // seconds; 0 where T60 is unknown
	Beat       float64 // Hz: rate at which two near modes beat; 0 where none
	SigmaBeat  float64 // Hz
	Pair       int     // the two members of a near pair share one positive id; 0 for none

	// Cov is the covariance of (ln amplitude, phase in rad, angular frequency
	// in rad/s, decay rate in neper/s), all at the onset; zero where not known.
	Cov [4][4]float64
	// Cross is the covariance of this partial's four parameters (rows) with
	// its pair mate's (columns); zero where Pair is 0.
	Cross [4][4]float64
}

// Remark is something a player should know of a strike: a code for programs
// and the words beside it for people.
type Remark struct {
	Code  string
	Words string
}

// The codes of remarks.
const (
	RemarkClipped     = "clipped"      // the top was cut off
	RemarkDamped      = "damped"       // a hand or a support stopped it
	RemarkStruckAgain = "struck-again" // another strike cut the ring short
	RemarkSame        = "same"         // it was still ringing and was struck again
	RemarkBeside      = "beside"       // something else was still ringing
	RemarkTwo         = "two"          // two things at almost the same moment
	RemarkGlide       = "glide"        // the pitch moved
	RemarkWobble      = "wobble"       // slow swing of pitch or level
	RemarkLost        = "lost"         // sound was lost while it rang
	RemarkRoll        = "roll"         // many strokes, told as one
)

// Roll says of a strike that it was many, so fast upon each other that they
// are one event: its onset is that of the first stroke, and what is measured is
// the ring after the last.
type Roll struct {
	Strokes   int     // heard
	Last      int64   // onset of the last, sample index on the source's clock
	Rate      float64 // strokes a second
	SigmaRate float64 // one standard deviation
}

// Glide says of a strike that its pitch moved while it rang. What is measured
// of it is the sound before, where there is enough.
type Glide struct {
	From, To   Hz
	Sigma      Cents   // one standard deviation of the interval between them
	Begin, End float64 // s after the onset
	Rate       float64 // c/s, negative where it sinks
}

// Wobble says of a strike that its pitch, its level or both swung slowly and
// evenly while it rang. Its pitch is the one between the swings.
type Wobble struct {
	Rate       float64 // swings a second
	SigmaRate  float64
	Still      Hz
	SigmaStill Cents
	Depth      Cents // to either side
	SigmaDepth Cents
	DepthDB    float64 // dB to either side
}

// Strike is one sounding of an object, as well as it is known by now. A strike
// is told as often as it improves; each telling carries the whole of it and
// replaces the one before.
type Strike struct {
	ID       string // unique across restarts; sorts by time
	Revision int    // 1 for the first telling
	Stage    Stage
	Source   string    // name of the source it was heard through
	Rate     Rate      // of that source
	Onset    int64     // sample index on the source's clock
	Time     time.Time // UTC of the onset, from the sample clock
	From, To int64     // the sound kept with it: sample indices, To exclusive
	Used     float64   // seconds of sound after the onset (of a roll: the last) this telling rests on

	Heard    *Pitch // nil: no pitch
	Second   *Pitch // another pitch some listeners will name; nil for none
	Partials []Partial
	Remarks  []Remark
	ClockPPM float64 // one sigma of the input's clock error, parts per million
	Peak     float64 // largest |sample| in the first 100 ms, full scale 1

	Roll   *Roll   // nil: one stroke
	Glide  *Glide  // nil: its pitch stayed
	Wobble *Wobble // nil: it did not swing
}

// Pitched reports whether the strike has a pitch a listener could name.
func (s *Strike) Pitched() bool { return s.Heard != nil }

// UncalibratedClockPPM is one sigma of a sound card's clock of which nothing
// is known but that it lies within ±50 ppm: 50/√3.
// The ±50 ppm: common practice, no source.
const UncalibratedClockPPM = 29
