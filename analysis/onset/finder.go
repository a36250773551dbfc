package onset

import (
	"math"

	"ringwell/analysis"
)

const (
	pastFrom = 0.011 // seconds: a rise is measured against this far back ...
	pastTo   = 0.035 // ... to this far

	steady        = 0.995 // pole of the high-pass in front
	strongBands   = 4
	strongRise    = 6.5 // dB, mean of the strongBands largest rises
	meanRise      = 2.0 // dB, mean of all bands
	unrestFactor  = 5.0 // median absolute deviations of unrest that raise the threshold
	clipRise      = 30.0
	floorOverMean = 2.0 // what is added to both energies, in means of the floor
	plainRise     = 1.5 // strength that takes the place of an event before it, ...
	muchLouder    = 4.0 // ... where the sound's energy is so many times that one's
	again         = 0.7 // strength must fall below this before the next strike
	backTo        = 0.6 // the rise began where strength was last below this

	peakSeconds    = 0.0107 // from crossing the threshold to the decision
	settleSeconds  = 0.004  // of sound the refinement wants after the peak
	quickSeconds   = 0.008  // a rise that is plain so long after the threshold is told at once:
	quickStrength  = 3.0    // of this strength, past which none is twice as strong, ...
	quickLouder    = 2.0    // ... and of so many times the energy before
	laterSeconds   = 0.003  // by which the moment found once it is complete must differ to be told anew
	deadSeconds    = 0.050
	searchSeconds  = 0.012 // how far before the rise the refinement looks
	predictSeconds = 0.050 // sound the predictor is learned from
	startSeconds   = 0.030 // after the beginning of a stream, a first look
	headSeconds    = 0.020 // a strike this early is told as Start
	youngSeconds   = 0.300 // of a stream ...
	youngStrength  = 1.5   // ... in which an event must be this strong
	endFall        = 10.0  // the energy of a sound that ends sinks at least so many times within 20 ms (T60 0.12 s)
	endNoise       = 3.0   // times what was before and twice the floor: noise in a band of one bin is above it once in 400, were nothing before
	endLouder      = 300.0 // what is louder than before has less than this part of its energy: the high-pass answers a step by 35 dB less
	startOverQuiet = 800.0 // squared sample over the noise of quantisation: about 8 steps
)

// Event is a strike found.
type Event struct {
	At       int64   // index of its first sample on the stream's clock
	Strength float64 // rise over the threshold: 1 is barely one, 3 is plain

	// Start says that the stream began with this sound, so that no rise was
	// seen: it may as well have been sounding all along.
	Start bool
	// End says that this is no strike: what sounded broke off at once, as a
	// recording does that is cut short. A step fills all bands for a moment, but
	// nothing is louder after it than before.
	End bool
	// Instead says that this takes the place of the event before it: that was
	// at most 60 ms earlier and less than half as strong, or 6 dB less loud (an
	// arm brushed something before the mallet fell), or it was a Start at most
	// 50 ms earlier.
	Instead bool
}

// Finder finds strikes in a stream, hop by hop. It allocates only in New and
// decides within about 20 ms of a strike, within 14 ms of a plain one.
type Finder struct {
	rate  analysis.Rate
	hop   int
	bands *bands
	quiet float64 // smallest energy of a bin that counts, from the LSB

	sound    []float64 // high-passed; the newest sample is the last
	room     int       // samples kept when sound is full
	clock    int64     // index on the stream's clock of the end of sound
	seen     int64     // samples since Restart
	held     float64   // high-pass: the sample before
	heldHigh float64
	primed   bool

	energy   [bandCount]float64
	past     [][bandCount]float64 // ring of the last frames
	before   [bandCount]float64   // what the newest rise was measured against
	under    [bandCount]float64   // and what that of the event was
	at       int                  // in past: where the next goes
	frames   int                  // since Restart
	from, to int                  // frames back the rise is measured against

	floors [bandCount]history
	floor  [bandCount]float64 // what is added to both sides of a rise
	toMean [bandCount]float64
	unrest history
	raised float64 // threshold in dB of the strongest bands

	state    state
	strength []float64 // of the last frames, ring like past
	event    Event
	loudest  float64 // energy of the loudest frame of that event's rise
	peak     int     // frame of the largest strength of the rise under way
	first    int     // frame at which it began
	decide   int     // frame at which to tell it
	armed    int     // frame at which it was noticed
	soon     bool    // it was told before that frame
	loudSoon float64 // loudest, then
	looked   bool    // at the beginning of the stream
	started  bool    // it was told, and nothing since
	last     int64   // index of the last event, or far in the past
	lastPeak int

	refine refiner
}

type state int

const (
	waiting state = iota // for the strength to fall below again
	ready
	rising
)

// New returns a Finder for sound at the given rate. lsb is the quantisation
// step of the sound, full scale 1, or 0 if it is not known: what lies below it
// is no sound.
func New(rate analysis.Rate, lsb float64) *Finder {
	hop := max(8, int(math.Round(hopSeconds*float64(rate))))
	f := &Finder{rate: rate, hop: hop, bands: newBands(rate)}
	f.from = max(1, int(math.Round(pastFrom*float64(rate)/float64(hop))))
	f.to = int(math.Round(pastTo * float64(rate) / float64(hop)))
	f.past = make([][bandCount]float64, f.to+1)
	f.strength = make([]float64, 64)
	f.quiet = max(lsb*lsb/12, 1e-14) * f.bands.gain()
	for k := range f.floors {
		f.floors[k] = newHistory(f.framesIn(floorSeconds) / floorEvery)
		f.toMean[k] = quantileToMean(f.bands.edge[k+1] - f.bands.edge[k])
	}
	f.unrest = newHistory(f.framesIn(unrestSeconds) / unrestEvery)
	f.room = int((predictSeconds+searchSeconds+2*peakSeconds+settleSeconds+deadSeconds)*float64(rate)) + 2*len(f.bands.window)
	f.sound = make([]float64, 0, 4*f.room)
	f.refine.block = max(2, int(0.0003*float64(rate)))
	f.refine.square = make([]float64, 0, f.room)
	f.refine.quiet = make([]float64, 0, f.room)
	f.Restart(0)
	return f
}

// The floor needs no more than every fourth frame, the unrest every second:
// frames overlap by three quarters.
const (
	floorEvery  = 4
	unrestEvery = 2
)

func (f *Finder) framesIn(seconds float64) int {
	return int(math.Round(seconds * float64(f.rate) / float64(f.hop)))
}

// Hop is the number of samples Step takes.
func (f *Finder) Hop() int { return f.hop }

// Restart begins anew at the given sample index, after sound was lost. All
// that was heard before is forgotten.
func (f *Finder) Restart(at int64) {
	for k := range f.floors {
		f.floors[k].reset()
	}
	f.unrest.reset()
	f.raised = strongRise
	f.Resume(at)
	f.looked = false
}

// Resume begins anew at the given sample index but remembers the floor and the
// unrest: the ear was shut on purpose and the room is the same. No event is
// marked Start.
func (f *Finder) Resume(at int64) {
	f.clock, f.seen, f.frames, f.at = at, 0, 0, 0
	f.sound = f.sound[:0]
	f.primed, f.state, f.looked, f.started, f.soon = false, waiting, true, false, false
	f.last, f.lastPeak = math.MinInt64/2, -1000
	clear(f.past)
	clear(f.strength)
}

// Step takes the next Hop samples and reports whether a strike was found. It
// keeps no reference to samples; they must be finite.
func (f *Finder) Step(samples []float64) (Event, bool) {
	if len(samples) != f.hop {
		panic("onset: Step wants exactly Hop samples")
	}
	f.take(samples)
	f.measure()
	s := f.rise()
	f.strength[f.frames%len(f.strength)] = s
	e, found := f.judge(s)
	f.remember()
	f.frames++
	return e, found
}

// take appends the samples, without their steady part.
func (f *Finder) take(samples []float64) {
	if len(f.sound)+f.hop > cap(f.sound) {
		n := copy(f.sound, f.sound[len(f.sound)-f.room:])
		f.sound = f.sound[:n]
	}
	if !f.primed {
		f.held, f.heldHigh, f.primed = samples[0], 0, true
	}
	for _, x := range samples {
		f.heldHigh = x - f.held + steady*f.heldHigh
		f.held = x
		f.sound = append(f.sound, f.heldHigh)
	}
	f.clock += int64(f.hop)
	f.seen += int64(f.hop)
}

// measure sets the band energies of the newest frame. Before the stream there
// was silence.
func (f *Finder) measure() {
	n := len(f.bands.window)
	if len(f.sound) >= n {
		f.bands.energies(&f.energy, f.sound[len(f.sound)-n:])
		return
	}
	f.energy = [bandCount]float64{}
}

// rise returns the strength of the rise of the newest frame over the recent
// past. Today's floor stands on both sides: with each frame's own the floor's
// own steps would look like rises.
func (f *Finder) rise() float64 {
	f.refreshFloor()
	full := f.full()
	if f.frames-f.from < full {
		return 0 // nothing to compare with
	}
	var rises [bandCount]float64
	mean := 0.0
	for k, e := range f.energy {
		before := 0.0
		for back := f.from; back <= f.to && f.frames-back >= full; back++ {
			before = max(before, f.past[(f.at-back+len(f.past))%len(f.past)][k])
		}
		f.before[k] = before
		r := 10 * math.Log10((e+f.floor[k])/(before+f.floor[k]))
		rises[k] = min(max(r, 0), clipRise)
		mean += rises[k] / bandCount
	}
	top := meanOfLargest(&rises)
	if f.frames%unrestEvery == 0 {
		f.unrest.push(top)
	}
	return max(top/f.raised, mean/meanRise*strongRise/f.raised)
}

// full is the first frame that lies wholly inside the stream.
func (f *Finder) full() int { return (len(f.bands.window) - 1) / f.hop }

func meanOfLargest(rises *[bandCount]float64) float64 {
	var top [strongBands]float64 // ascending
	for _, r := range rises {
		if r <= top[0] {
			continue
		}
		i := 0
		for i+1 < strongBands && top[i+1] < r {
			top[i] = top[i+1]
			i++
		}
		top[i] = r
	}
	sum := 0.0
	for _, r := range top {
		sum += r
	}
	return sum / strongBands
}

// refreshFloor renews one band's floor a frame, so that the work is spread.
// Until a quarter of a second is known it renews them all.
func (f *Finder) refreshFloor() {
	young := f.floors[0].next < 24 && !f.floors[0].full
	for k := range f.floors {
		if !young && k != f.frames%bandCount {
			continue
		}
		mean := f.floors[k].quantile(floorQuantile) * f.toMean[k]
		width := float64(f.bands.edge[k+1] - f.bands.edge[k])
		f.floor[k] = floorOverMean * max(mean, f.quiet*width)
	}
	if f.frames%bandCount == 0 {
		median, deviation := f.unrest.middle()
		f.raised = max(strongRise, median+unrestFactor*deviation)
	}
}

func (f *Finder) remember() {
	f.past[f.at] = f.energy
	f.at = (f.at + 1) % len(f.past)
	if f.frames%floorEvery == 0 && f.frames >= f.full() {
		for k := range f.floors {
			f.floors[k].push(f.energy[k])
		}
	}
}
