package trace

import (
	"math"
	"math/cmplx"

	"ringwell/analysis"
)

const (
	// kernelSeconds is the length of the low-pass (Hann): half the level 33 Hz
	// beside the path, nothing 67 Hz beside it.
	kernelSeconds = 0.030
	// slip, in rad, is more than phase strays from the path between two points.
	slip = 1.5
	// gridSeconds lies between two points of a Trace: a wobble of 9 a second
	// has eleven to a swing.
	gridSeconds = 0.010
)

// Trace is one partial along its ring, a point every Step seconds.
type Trace struct {
	Start, Step float64   // s after the onset
	Reference   float64   // Hz: the frequency Cents is counted from
	Cents       []float64 // above Reference
	Level       []float64 // ln of the amplitude (full scale 1)
	Sigma       []float64 // c: one standard deviation of Cents, of the noise

	phase []float64 // rad, without that of Reference
	doubt []float64 // rad², variance of phase by the noise; half of it in Level
}

// Follow follows the partial that begins near a frequency through a sound, its
// first sample at the onset. Noise is the power a sample that a background as
// strong as that near the partial would have if it were white. It reports false
// where less than a fifth of a second of it can be followed.
func (f *Follower) Follow(sound []float64, from analysis.Hz, noise float64) (Trace, bool) {
	if !(from > 0) || float64(from) > 0.49*f.fs {
		return Trace{}, false
	}
	f.follow(sound, from, noise)
	if len(f.path) < int(0.2/hopSeconds) {
		return Trace{}, false
	}
	return f.fine(sound, noise), true
}

// Breaks reports whether the level falls faster from some moment on (s after the
// onset): half again as fast as before and a neper a second more. A hand does
// that, a pitch that moves does not.
func (t Trace) Breaks(at float64) bool {
	k := int((at - t.Start) / t.Step)
	if k < 3 || k > len(t.Level)-3 {
		return true
	}
	before, after := decay(t.Level[:k], t.Step), decay(t.Level[k:], t.Step)
	return after > 1.5*before+1
}

// decay is the slope downwards of a straight line through levels, neper/s.
func decay(level []float64, step float64) float64 {
	middle := float64(len(level)-1) / 2
	var xy, xx float64
	for i, v := range level {
		x := float64(i) - middle
		xy, xx = xy+x*v, xx+x*x
	}
	return -xy / xx / step
}

// Still reports whether the path last followed keeps so near one frequency and
// one even decay that nothing else is worth asking. It is rough and cheap.
func (f *Follower) Still() bool {
	low, high := math.Inf(1), math.Inf(-1)
	var lift float64
	n := len(f.path)
	for i, p := range f.path {
		low, high = min(low, p.omega), max(high, p.omega)
		if i > 0 && i < n-1 {
			a, b := f.path[i-1], f.path[i+1]
			lift = max(lift, math.Abs(math.Log(p.power*p.power/(a.power*b.power)))/4)
		}
	}
	return analysis.CentsPerNeper*math.Log(high/low) < stillCents && lift < stillNepers
}

// stillCents and stillNepers (of amplitude, a point against its neighbours) are
// what Still lets pass: half the least wobble that is told.
const (
	stillCents  = 2.0
	stillNepers = 0.01
)

// fine returns the trace along the path.
func (f *Follower) fine(sound []float64, noise float64) Trace {
	first, last := f.path[0], f.path[len(f.path)-1]
	from, to := int(math.Ceil(first.at)), int(last.at)
	f.turned = f.turned[:0]
	half := len(f.kernel) / 2
	lo, hi := max(0, from-half), min(len(sound), to+half+1)
	// The phase along the path, counted from its first whole sample.
	phase := 0.0
	segment := 0
	path := make([]float64, 0, hi-lo)
	for n := lo; n < hi; n++ {
		for segment < len(f.path)-2 && float64(n) > f.path[segment+1].at {
			segment++
		}
		a, b := f.path[segment], f.path[segment+1]
		s := min(max((float64(n)-a.at)/(b.at-a.at), 0), 1)
		phase += a.omega + s*(b.omega-a.omega)
		path = append(path, phase)
		sin, cos := math.Sincos(phase)
		f.turned = append(f.turned, complex(sound[n]*cos, -sound[n]*sin))
	}
	var squares float64
	for _, k := range f.kernel {
		squares += k * k
	}
	reference := 0.0
	for _, p := range f.path {
		reference += p.omega / float64(len(f.path))
	}
	step := gridSeconds * f.fs
	t := Trace{Start: float64(max(from, lo+half)) / f.fs, Step: gridSeconds, Reference: reference * f.fs / (2 * math.Pi)}
	before := 0.0
	for k := 0; ; k++ {
		middle := max(from, lo+half) + int(math.Round(float64(k)*step))
		if middle+half >= hi || middle > to {
			break
		}
		var z complex128
		for i, w := range f.kernel {
			z += complex(w, 0) * f.turned[middle-lo-half+i]
		}
		left := cmplx.Phase(z)
		left += 2 * math.Pi * math.Round((before-left)/(2*math.Pi))
		if k > 0 && math.Abs(left-before) > slip {
			break // in so much noise a turn may be lost
		}
		before = left
		t.phase = append(t.phase, path[middle-lo]+left-reference*float64(middle-lo))
		t.Level = append(t.Level, math.Log(2*max(cmplx.Abs(z), 1e-12)))
		t.doubt = append(t.doubt, noise*squares/2/max(real(z)*real(z)+imag(z)*imag(z), 1e-24))
	}
	t.differentiate(t.Reference)
	return t
}

// differentiate fills Cents and Sigma: the slope of the phase over five points
// by least squares (Savitzky and Golay), over fewer at the ends.
func (t *Trace) differentiate(reference float64) {
	n := len(t.phase)
	t.Cents, t.Sigma = make([]float64, n), make([]float64, n)
	for i := range n {
		r := min(2, i, n-1-i)
		var slope, weight, squares float64
		if r == 0 {
			a, b := max(i-1, 0), min(i+1, n-1)
			slope, weight, squares = t.phase[b]-t.phase[a], float64(b-a), t.doubt[a]+t.doubt[b]
		}
		for j := -r; j <= r && r > 0; j++ {
			x := float64(j)
			slope += x * t.phase[i+j]
			weight += x * x
			squares += x * x * t.doubt[i+j]
		}
		toHz := 1 / (2 * math.Pi * t.Step * max(weight, 1))
		t.Cents[i] = analysis.CentsPerNeper * math.Log1p(max(slope*toHz/reference, -0.9))
		t.Sigma[i] = analysis.CentsPerNeper / reference * math.Sqrt(squares) * toHz
	}
}
