package audio

import (
	"math"
	"math/cmplx"
	"math/rand/v2"

	"ringwell/analysis"
)

// release is how long a blown note takes to fall by 1/e once the breath stops.
const release = 0.03 // s

// Render returns the scene's sound at the given rate, one channel, full scale 1.
// The same scene and rate give the same samples every time. Modes above 0.45 of
// the rate, which a converter's filter takes away, are left out; what still
// rings at the end is cut.
func (s Scene) Render(rate analysis.Rate) []float64 {
	out := make([]float64, int(math.Round(s.Seconds*float64(rate))))
	s.room(out, rate)
	for i, e := range s.Events {
		at := int(e.Sample(rate))
		if at < 0 || at >= len(out) {
			continue
		}
		for _, m := range e.Modes {
			if float64(m.Frequency) < 0.45*float64(rate) {
				m.render(out[at:], e, rate)
			}
		}
		e.noise(out[at:], rate, rand.New(rand.NewPCG(s.Seed, uint64(i)+1)))
	}
	return out
}

// Sample returns the event's first sample, counted from the start of the scene.
func (e Event) Sample(rate analysis.Rate) int64 {
	return int64(math.Round(e.Start * float64(rate)))
}

// render adds the mode to dst, which begins at the event's start.
func (m Mode) render(dst []float64, e Event, rate analysis.Rate) {
	omega := 2 * math.Pi * float64(m.Frequency) / float64(rate)
	var decay float64 // neper a sample
	if m.T60 > 0 {
		decay = analysis.LnThousand / (m.T60 * float64(rate))
	}
	// A sample is the imaginary part of a number that turns and shrinks. The
	// rounding errors of a multiplication add up to 1e-11 in a minute.
	z := cmplx.Rect(m.Amplitude, m.Phase)
	turn := cmplx.Rect(math.Exp(-decay), omega)
	rise := int(math.Ceil(e.Contact * float64(rate)))
	hold := int(e.Hold * float64(rate))
	fade := complex(math.Exp(-1/(release*float64(rate))), 0)
	const gone = 1e-8 // −160 dB: below the last bit of 24
	for n := range dst {
		x := imag(z)
		if n < rise {
			r := math.Sin(math.Pi / 2 * float64(n) / (e.Contact * float64(rate)))
			x *= r * r
		}
		dst[n] += x
		z *= turn
		if hold > 0 && n >= hold {
			z *= fade
		}
		if n&1023 == 1023 && cmplx.Abs(z) < gone {
			return
		}
	}
}

// noise adds the noise of the contact, and of breath.
func (e Event) noise(dst []float64, rate analysis.Rate, rng *rand.Rand) {
	if e.Click > 0 {
		// A half sine over the contact, then a tail that falls by 1/e in 1 ms.
		contact := e.Contact * float64(rate)
		tail := 0.001 * float64(rate)
		for n := 0; n < len(dst) && float64(n) < contact+12*tail; n++ {
			env := math.Sin(math.Pi / 2 * math.Min(1, float64(n)/contact))
			if after := float64(n) - contact; after > 0 {
				env = math.Exp(-after / tail)
			}
			dst[n] += e.Click * env * rng.NormFloat64()
		}
	}
	if e.Breath > 0 {
		// Noise through a low-pass at 2 kHz, loud while the note is held.
		keep := math.Exp(-2 * math.Pi * 2000 / float64(rate))
		gain := e.Breath * math.Sqrt((1+keep)/(1-keep)) // back to the RMS stated
		var y float64
		for n := 0; n < len(dst); n++ {
			t := float64(n) / float64(rate)
			env := math.Min(1, t/e.Contact)
			if t > e.Hold {
				env = math.Exp(-(t - e.Hold) / release)
				if env < 1e-6 {
					return
				}
			}
			y = keep*y + (1-keep)*rng.NormFloat64()
			dst[n] += gain * env * y
		}
	}
}

// room fills dst with the background: as much power below 200 Hz (air, traffic,
// through a one-pole low-pass) as in a white floor.
func (s Scene) room(dst []float64, rate analysis.Rate) {
	if s.Room <= 0 {
		return
	}
	rng := rand.New(rand.NewPCG(s.Seed, 0))
	keep := math.Exp(-2 * math.Pi * 200 / float64(rate))
	gain := math.Sqrt((1 + keep) / (1 - keep))
	each := s.Room / math.Sqrt2
	var y float64
	for range int(float64(rate) / 10) { // let the filter settle
		y = keep*y + (1-keep)*rng.NormFloat64()
	}
	for n := range dst {
		y = keep*y + (1-keep)*rng.NormFloat64()
		dst[n] = each*gain*y + each*rng.NormFloat64()
	}
}
