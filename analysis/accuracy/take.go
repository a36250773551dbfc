package accuracy

import (
	"hash/fnv"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/dsp/fourier"

	"ringwell/analysis/partial"
)

// random returns the source of one strike: the same for the same seed, name
// and number, whatever ran before it.
func random(seed uint64, name string, number int) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(name))
	return rand.New(rand.NewPCG(seed, h.Sum64()+uint64(number)))
}

// full is the amplitude of the strongest partial, full scale 1.
const full = 0.3

// take is one strike with all that is known of it.
type take struct {
	object object
	ring   []partial.Component // at the onset
	before []float64
	sound  []float64 // from the onset on
	noise  []float64 // at each component: deviation of white noise of the local power
}

const (
	secondsBefore = 2.0
	contact       = 0.006 // s: what the bound leaves out, as the estimator does
)

// strike makes a take: the object's ring, a click, and a background snr dB
// (power of the strongest partial at the onset over the background's, whole
// band) below it.
func strike(o object, bg string, snr, seconds float64, r *rand.Rand) take {
	t := take{object: o, ring: o.ring(r)}
	n, b := int(seconds*float64(rate)), int(secondsBefore*float64(rate))
	level := full * math.Sqrt(0.5) / fromDB(snr)
	x := background(bg, n+b, r)
	for i := range x {
		x[i] *= level
	}
	t.before, t.sound = x[:b], x[b:]
	t.noise = local(t.sound, t.ring)
	if bg == "white" {
		for k := range t.noise {
			t.noise[k] = level
		}
	}
	for k := range t.ring {
		t.ring[k].Amp *= full
	}
	click(t.sound, full/2, r)
	partial.Render(t.sound, 0, t.ring)
	return t
}

// local measures the background's power at each component, as the deviation of
// white noise of that power density: Welch's mean of Hann frames.
func local(x []float64, ring []partial.Component) []float64 {
	const n = 2048
	f := fourier.NewFFT(n)
	psd := make([]float64, n/2+1)
	buf, spec := make([]float64, n), make([]complex128, n/2+1)
	frames := 0.0
	for at := 0; at+n <= len(x); at += n / 2 {
		var ww float64
		for i := range buf {
			g := 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/n)
			buf[i] = g * x[at+i]
			ww += g * g
		}
		f.Coefficients(spec, buf)
		for k, c := range spec {
			psd[k] += (real(c)*real(c) + imag(c)*imag(c)) / ww
		}
		frames++
	}
	out := make([]float64, len(ring))
	for k, c := range ring {
		at := int(c.Omega / math.Pi * n / 2)
		var sum float64
		for j := at - 1; j <= at+2; j++ {
			sum += psd[min(max(j, 0), n/2)] / 4
		}
		out[k] = math.Sqrt(sum / max(frames, 1))
	}
	return out
}

// windows are the lengths of sound, in ms, at which the ear reads a strike.
var windows = [...]int{20, 26, 40, 80, 160, 320, 640, 1280, 2560}

// read has the take read as the ear does.
func read(e *partial.Estimator, t take) partial.Reading {
	e.Begin(partial.Take{Rate: rate, Before: t.before})
	for _, ms := range windows {
		if n := ms * int(rate) / 1000; n < len(t.sound) {
			e.Grow(t.sound[:n])
		}
	}
	return e.Grow(t.sound)
}
