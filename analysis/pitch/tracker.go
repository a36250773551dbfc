package pitch

import (
	"math"

	"ringwell/analysis"
)

// Estimate is the pitch of one frame.
type Estimate struct {
	At           int64       // sample index, counted from the first sample given, in the middle of what was compared
	Frequency    analysis.Hz // 0: nothing that repeats within the range searched
	Aperiodicity float64     // d' at the period, about 0 (perfectly periodic) to 1 and more: roughly the share of power that does not repeat
	RMS          float64     // of what lies below High, over the frame's window, in the unit of the samples
}

// Tracker is YIN, all six steps, over a running signal. It works at a lower
// rate where High allows; lags and indices inside are of that rate. One
// goroutine uses it; all memory is allocated in New.
type Tracker struct {
	rate      float64 // after decimation
	hop       int     // likewise
	thin      *decimator
	thinned   []float64
	lowest    int // lags searched: lowest..diff.lags-1
	threshold float64
	diff      *difference

	sound []float64 // the last frame() samples
	have  int       // samples given since the start, at most frame()
	next  int64     // index of the sample after the last one given, full rate

	// Step 6 looks around each frame by half the longest period either way, so
	// the last 2·reach+1 frames are kept and answers come reach hops late.
	reach  int
	frames []frame
	count  int64
}

type frame struct {
	start  int64
	d, dd  []float64
	rms    float64
	lag    int     // step 4's choice, samples
	at     float64 // aperiodicity there
	lagged float64 // interpolated period, samples
}

// New returns a Tracker for sound at rate.
func New(rate analysis.Rate, o Options) *Tracker {
	o = o.filled()
	high := min(float64(o.High), float64(rate)/4) // under 4 samples a period a parabola says nothing
	full := max(1, rate.Samples(o.Hop))
	thin := newDecimator(float64(rate), high, 0)
	hop := max(1, full/thin.factor)
	thin = newDecimator(float64(rate), high, hop*thin.factor)
	low := float64(rate) / float64(thin.factor)
	longest := max(8, int(math.Ceil(low/float64(o.Low))))
	t := &Tracker{
		rate:      low,
		hop:       hop,
		thin:      thin,
		thinned:   make([]float64, hop),
		lowest:    max(2, int(math.Floor(low/high))),
		threshold: o.Threshold,
		// One lag more than the longest period, for the parabola through it.
		diff: newDifference(longest, longest+1),
	}
	t.sound = make([]float64, t.diff.frame())
	t.reach = (longest/2 + t.hop - 1) / t.hop
	t.frames = make([]frame, 2*t.reach+1)
	for i := range t.frames {
		t.frames[i].d = make([]float64, t.diff.lags+1)
		t.frames[i].dd = make([]float64, t.diff.lags+1)
	}
	return t
}

// Hop is how many samples Step takes.
func (t *Tracker) Hop() int { return t.hop * t.thin.factor }

// Delay is how many samples an Estimate lies behind the newest sample.
func (t *Tracker) Delay() int {
	return (t.diff.frame()+t.reach*t.hop-t.diff.window/2)*t.thin.factor + t.thin.delay()
}

// Reset forgets all sound, as after a gap; the next sample has index next.
func (t *Tracker) Reset(next int64) {
	t.have, t.count, t.next = 0, 0, next
	t.thin.reset()
}

// Step takes the next Hop samples and returns the estimate of the frame that
// lies Delay samples back; ok is false until enough has been heard. It keeps
// no reference to hop, allocates nothing, and panics if len(hop) != Hop().
// Samples that are not finite give estimates without a pitch.
func (t *Tracker) Step(hop []float64) (e Estimate, ok bool) {
	if len(hop) != t.Hop() {
		panic("pitch: Step needs exactly Hop samples")
	}
	t.next += int64(len(hop))
	t.thin.step(t.thinned, hop)
	hop = t.thinned
	if keep := len(t.sound) - len(hop); keep > 0 {
		copy(t.sound, t.sound[len(hop):])
		copy(t.sound[keep:], hop)
	} else {
		copy(t.sound, hop[-keep:])
	}
	t.have = min(len(t.sound), t.have+len(hop))
	if t.have < len(t.sound) {
		return Estimate{}, false
	}
	f := &t.frames[t.count%int64(len(t.frames))]
	t.count++
	// The last sample kept was made around the sample delay before the last.
	last := t.next - 1 - int64(t.thin.delay())
	f.start = last - int64((len(t.sound)-1)*t.thin.factor)
	f.rms = math.Sqrt(t.diff.into(f.d, t.sound) / float64(t.diff.window))
	normalise(f.dd, f.d)
	f.lag = firstDip(f.dd, t.lowest, t.diff.lags-1, t.threshold)
	f.at = interpolatedDepth(f.dd, f.lag)
	f.lagged = interpolatedLag(f.d, f.lag)

	if t.count <= int64(t.reach) {
		return Estimate{}, false
	}
	return t.local(t.count - 1 - int64(t.reach)), true
}

// local is step 6 for frame k: among the frames around it the one that repeats
// best says where to look, and the search is done again there, within ±20 %.
func (t *Tracker) local(k int64) Estimate {
	n := int64(len(t.frames))
	here := &t.frames[k%n]
	best := here
	for i := max(0, k-int64(t.reach), t.count-n); i < t.count; i++ {
		if f := &t.frames[i%n]; f.at < best.at {
			best = f
		}
	}
	lag, depth, period := here.lag, here.at, here.lagged
	if best != here {
		from := max(t.lowest, int(math.Ceil(0.8*best.lagged)))
		to := min(t.diff.lags-1, int(math.Floor(1.2*best.lagged)))
		if from <= to {
			lag = lowest(here.dd, from, to)
			depth = interpolatedDepth(here.dd, lag)
			period = interpolatedLag(here.d, lag)
		}
	}
	e := Estimate{
		At:           here.start + int64(math.Round((float64(t.diff.window)+float64(lag))/2*float64(t.thin.factor))),
		Aperiodicity: depth,
		RMS:          here.rms,
	}
	if f := t.rate / period; depth < 1 && !math.IsInf(f, 0) && !math.IsNaN(f) {
		e.Frequency = analysis.Hz(f)
	}
	if !(e.Aperiodicity <= 2) || math.IsInf(e.RMS, 0) || math.IsNaN(e.RMS) {
		e = Estimate{At: e.At, Aperiodicity: 1}
	}
	return e
}

// firstDip is step 4: the first local minimum of dd in from..to whose
// interpolated depth is under the threshold; failing that the lowest value.
func firstDip(dd []float64, from, to int, threshold float64) int {
	for lag := from; lag <= to; lag++ {
		if dd[lag] <= dd[lag-1] && dd[lag] < dd[lag+1] && interpolatedDepth(dd, lag) < threshold {
			return lag
		}
	}
	return lowest(dd, from, to)
}

func lowest(dd []float64, from, to int) int {
	best := from
	for lag := from + 1; lag <= to; lag++ {
		if dd[lag] < dd[best] {
			best = lag
		}
	}
	return best
}

// interpolatedLag is step 5: where the parabola through the raw difference
// function at lag-1, lag, lag+1 is lowest. (The normalised one would shift it:
// its denominator slopes.)
func interpolatedLag(d []float64, lag int) float64 {
	a, b, c := d[lag-1], d[lag], d[lag+1]
	if curve := a - 2*b + c; curve > 0 {
		return float64(lag) + max(-1, min(1, (a-c)/(2*curve)))
	}
	return float64(lag)
}

// interpolatedDepth is the lowest value of the parabola through dd at lag-1,
// lag, lag+1, not below 0.
func interpolatedDepth(dd []float64, lag int) float64 {
	a, b, c := dd[lag-1], dd[lag], dd[lag+1]
	if curve := a - 2*b + c; curve > 0 && b <= a && b <= c {
		return max(0, b-(a-c)*(a-c)/(8*curve))
	}
	return b
}
