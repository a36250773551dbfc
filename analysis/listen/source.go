package listen

import (
	"context"

	"ringwell/analysis"
)

// Source is where sound comes from: a microphone, a recording, a pipe, the
// demo scene, later a phone. One goroutine calls it.
type Source interface {
	// Name is what a player calls the source ("hall pair", "jar.wav").
	Name() string

	// Rate is the sample rate; it never changes during a source's life. A
	// device that comes back at another rate is a new Source.
	Rate() analysis.Rate

	// Live reports whether sound comes in at its own pace, so that its sample
	// clock stands for real time. A free-running file is not live.
	Live() bool

	// Next waits for the next block. Its outcomes are these and no others:
	//   - a block with one sample or more, and nil: sound. b.Lost > 0 tells of
	//     samples lost just before it. The slice is valid until the next call.
	//   - an empty block and nil: nothing came for a while (at most 100 ms);
	//     Start is where the next sample will stand. Call again.
	//   - io.EOF: the source ended in order; every later call says so too.
	//   - ctx.Err(): the caller gave up.
	//   - any other error: the source is broken and says in plain words what
	//     happened and what to do. Close it; a new one may be opened.
	Next(ctx context.Context) (analysis.Block, error)

	// Close lets go of the device or file. It returns within three seconds
	// whatever the device does. After it Next returns io.EOF.
	Close() error
}

// Fine is a Source that knows how fine its samples are. Attend asks it where
// Options do not say.
type Fine interface {
	// LSB is the step between neighbouring sample values, full scale 1; 0 where
	// there is none or it is not known.
	LSB() float64
}

// Calibrated is a Source whose clock's error is known; its Rate is the true one.
type Calibrated interface {
	// ClockPPM is what is left of the error, one standard deviation in parts
	// per million. It goes before Options.
	ClockPPM() float64
}

// Audience is told what is heard. Attend calls it from one goroutine; no
// method may block, and slices passed are the audience's to keep.
type Audience interface {
	// Hear gets each telling of each strike: Revision 1, 2, ... up to Final
	// or Withdrawn.
	Hear(s analysis.Strike)
	// Keep gets the sound of a strike once it is final: samples From..To.
	Keep(s analysis.Strike, sound []float32)
	// Level is told about ten times a second while a source is open.
	Level(l Level)
	// Room is told about once a second while nothing rings.
	Room(r Room)
	// State is told whenever it changes.
	State(s State)
}

// Level is what came in during the last tenth of a second.
type Level struct {
	At      int64   // sample index at its end
	Peak    float64 // largest |sample|, full scale 1
	RMS     float64 // full scale 1
	Clipped bool
	Lost    int64 // samples lost since the source was opened
	Muted   bool
	Ringing bool // a strike is being listened to
}

// Room is the spectrum of the background while nothing rings.
type Room struct {
	Rate analysis.Rate
	// PSD[k] is the power at frequency k·Rate/(2·(len(PSD)-1)), scaled so that
	// white noise of variance v reads v in every bin.
	PSD     []float64
	Seconds float64 // of background it rests on
}

// State says what the ear is doing, for people and programs.
type State struct {
	Code   string // one of the codes below
	Source string // name of the source
	Rate   analysis.Rate
	Words  string // one sentence: what is so and, if something is wrong, what to do
}

// The codes of State.
const (
	Opening = "opening" // a source is being opened
	Hearing = "hearing" // sound is coming in
	Silent  = "silent"  // sound comes in, but it is digital silence: look to the cable
	Deaf    = "deaf"    // no sound comes in; the words say what to do
	Ended   = "ended"   // the recording is over
)
