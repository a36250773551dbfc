package accuracy

import (
	"math"
	"math/rand/v2"

	"ringwell/analysis/partial"
)

// scene is a take in the making.
type scene struct {
	Take
	r     *rand.Rand
	noise []float64 // the background alone
	level float64   // its deviation if it is white, else 0
	rings []ringing
}

// ringing is a strike in a scene: what it is and from where on it sounds.
type ringing struct {
	thing
	from int
	ring []partial.Component
}

// newScene begins with a background snr dB below a strike of full level.
func newScene(name, category, bg string, snr, seconds float64, r *rand.Rand) *scene {
	s := &scene{r: r}
	s.Take = Take{Name: name, Rate: rate, Truth: Truth{Category: category, Rate: float64(rate)}}
	level := full * math.Sqrt(0.5) / fromDB(snr)
	s.noise = background(bg, int(seconds*float64(rate)), r)
	for i := range s.noise {
		s.noise[i] *= level
	}
	if bg == "white" {
		s.level = level
	}
	s.Samples = append([]float64(nil), s.noise...)
	return s
}

// strike sounds a thing at a time, its strongest partial with the amplitude
// full·amp.
func (s *scene) strike(t thing, hand family, at, amp float64) {
	from := int(at * float64(rate))
	if t.blown {
		s.blow(t, from, amp)
	} else {
		click(s.Samples[from:], full*amp/2, s.r)
	}
	k := ringing{thing: t, from: from}
	if !t.blown {
		k.ring = t.ring(s.r)
		for i := range k.ring {
			k.ring[i].Amp *= complex(full*amp, 0)
		}
		partial.Render(s.Samples[from:], 0, k.ring)
	}
	s.rings = append(s.rings, k)
	true := TrueStrike{
		Onset: float64(from) / float64(rate), Within: 0.03, Pitched: true, InHand: hand.hand,
		Heard: &TrueHeard{Frequency: t.heard, AnyOf: t.anyOf, Definition: t.definition},
	}
	if t.blown {
		true.Within = 0.2
	}
	s.Truth.Strikes = append(s.Truth.Strikes, true)
}

// blow adds a tone that is held: 40 to 100 ms until it stands, a breath of
// noise 30 dB down, and an end of 50 ms.
func (s *scene) blow(t thing, from int, amp float64) {
	rise := uniform(s.r, .04, .1) * float64(rate)
	x := s.Samples[from:]
	for _, m := range t.modes {
		w, p := 2*math.Pi*m.f/float64(rate), uniform(s.r, 0, 2*math.Pi)
		for i := range x {
			x[i] += full * amp * m.amp * s.swell(i, len(x), rise) * math.Sin(w*float64(i)+p)
		}
	}
	for i := range x {
		x[i] += full * amp * fromDB(-30) * s.swell(i, len(x), rise) * s.r.NormFloat64()
	}
}

func (s *scene) swell(i, n int, rise float64) float64 {
	return (1 - math.Exp(-float64(i)/rise*3)) * min(1, float64(n-i)/(.05*float64(rate)))
}

// thud adds a knock that has no pitch.
func (s *scene) thud(at, amp float64) {
	from := int(at * float64(rate))
	knock(s.Samples[from:], full*amp, s.r)
	s.Truth.Strikes = append(s.Truth.Strikes, TrueStrike{Onset: float64(from) / float64(rate), Within: 0.03})
}

// expect works out which partials of a lone strike must be found, and their
// bounds: likelihood ratio above 1.3 times the threshold, level known to 3 dB,
// within 40 dB of the strongest, Q above 7, as in the rows on partials.
func (s *scene) expect() {
	k := s.rings[0]
	skip := int(contact * float64(rate))
	n := min(len(s.Samples)-k.from-skip, int(2.5*float64(rate)))
	noise := local(s.noise[k.from:], k.ring)
	for i := range noise {
		if s.level > 0 {
			noise[i] = s.level
		}
	}
	bounds := partial.Bounds(k.ring, skip, n, noise)
	eta := math.Log(4 * float64(n) / 0.01)
	truth := &s.Truth.Strikes[0]
	for i, m := range k.modes {
		truth.Partials = append(truth.Partials, TruePartial{
			Frequency: m.f, T60: m.t60,
			Scored: detectable(m, k.ring[i], noise[i], bounds[i], skip, n, eta),
			Bound:  1200 / math.Ln2 * bounds[i].Omega / k.ring[i].Omega,
		})
	}
}

// detectable says whether a mode must be found in n samples from skip on.
func detectable(m mode, c partial.Component, noise float64, b partial.Bound, skip, n int, eta float64) bool {
	amp := math.Hypot(real(c.Amp), imag(c.Amp)) * math.Exp(-c.Decay*float64(skip)) / noise
	lam := amp * amp / 4 * (1 - math.Exp(-2*c.Decay*float64(n))) / (1 - math.Exp(-2*c.Decay))
	q := math.Pi * m.f * m.t60 / math.Log(1000)
	return lam > 1.3*eta && b.Log*20/math.Ln10 < 3 && m.amp > 0.01 && q > 7
}
