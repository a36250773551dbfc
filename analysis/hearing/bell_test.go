package hearing

import (
	"math"
	"math/rand/v2"
	"testing"

	"ringwell/analysis"
)

// A bell's strike note lies at half its nominal, also where the prime lies
// near but not there (T.D. Rossing & R. Perrin, Applied Acoustics 20 (1987)
// 41). Nominal, twelfth and double octave stand in a bell near 2 : 3 : 4.02.
func TestBellIsHeardAtHalfItsNominal(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	const n = 500
	undecided, octave := 0, 0
	for range n {
		nominal := logUniform(r, 500, 1400)
		off := uniform(r, -60, 60) // cents
		ratios := []float64{0.5, math.Exp2(off / 1200), 1.2, 1.5, 2, 3, 4.02}
		levels := []float64{-10, -6, -3, -15, 0, -5, -11}
		ps := object(r, nominal/2, uniform(r, 3, 8), uniform(r, .7, 1), .004, ratios, levels)
		nominal = float64(ps[4].Frequency)
		half := analysis.Hz(nominal / 2)
		heard, second := Heard(ps, analysis.Unknown)
		if math.Abs(float64(heard.Frequency.Above(half))) > 1000 {
			octave++
		}
		if second != nil && heard.Likelihood < decided {
			undecided++
		}
		// Without much of a tierce, and its prime true, a bell is harmonic but
		// for its name.
		heard, _ = Heard(ps, analysis.Bell)
		if e := heard.Frequency.Above(half); math.Abs(float64(e)) > 3 || heard.Basis != analysis.StrikeNote || heard.Partial != -1 {
			t.Errorf("nominal %.2f Hz, prime %+.0f cents: got %.2f Hz, %+.1f cents from half the nominal, %s %d, likelihood %.2f; wanted a strike note within 3 cents",
				nominal, off, heard.Frequency, e, heard.Basis, heard.Partial, heard.Likelihood)
		}
		if heard.Sigma < hears || heard.Sigma > 25 {
			t.Errorf("nominal %.2f Hz, prime %+.0f cents: got sigma %.2f cents, wanted %.1f to 25", nominal, off, heard.Sigma, hears)
		}
	}
	t.Logf("kind not told: said undecided %d, an octave off %d of %d", undecided, octave, n)
	if undecided > n*15/100 || octave > n*3/100 {
		t.Errorf("kind not told: said undecided %d, an octave off %d of %d; wanted at most 15 and 3 in 100", undecided, octave, n)
	}
}

// Harmonic sounds with a fundamental rest on it, however the harmonics stand.
func TestHarmonicSoundsRestOnTheirFundamental(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	for range 500 {
		f := logUniform(r, 150, 700)
		ps := object(r, f, uniform(r, .8, 2.5), .5, .001, []float64{1, 2, 3, 4, 5, 6}, []float64{0, -5, -8, -10, -12, -13})
		heard, _ := Heard(ps, analysis.Unknown)
		if heard.Basis != analysis.OnPartial || heard.Partial != 0 || heard.Frequency != ps[0].Frequency || heard.Sigma != ps[0].Sigma {
			t.Errorf("fundamental %.2f Hz: got %.2f Hz ±%.2f cents, %s %d, likelihood %.2f; wanted the fundamental and its sigma", f, heard.Frequency, heard.Sigma, heard.Basis, heard.Partial, heard.Likelihood)
		}
	}
}

// A truth somewhere in a pair, at either member or at its mean, lies within
// what is said: two sigma for members up to 8 dB apart, three for the weaker.
func TestPairIsHeardWithinItsSigma(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 8))
	for range 500 {
		f := analysis.Hz(logUniform(r, 200, 2500))
		split := analysis.Hz(logUniform(r, .3, float64(unresolved*ERB(f))))
		down, t60 := uniform(r, 0, 8), uniform(r, .5, 5)
		a := analysis.Partial{Frequency: f, Sigma: .02, T60: t60}
		b := analysis.Partial{Frequency: f + split, Sigma: .02, T60: t60, Level: -down}
		heard, _ := Heard([]analysis.Partial{a, b}, analysis.Unknown)
		if heard.Frequency < a.Frequency || heard.Frequency > b.Frequency {
			t.Errorf("pair %.2f + %.2f Hz: got %.2f Hz, wanted between", f, split, heard.Frequency)
		}
		for _, c := range []struct {
			at    analysis.Hz
			sigma analysis.Cents
		}{{a.Frequency, 2}, {(a.Frequency + b.Frequency) / 2, 2}, {b.Frequency, 3}} {
			if e := heard.Frequency.Above(c.at); math.Abs(float64(e)) > float64(c.sigma*heard.Sigma) {
				t.Errorf("pair %.2f + %.2f Hz, %.1f dB apart: heard at %.2f Hz ±%.2f cents, %.2f cents from %.2f Hz, wanted within %g sigma", f, split, down, heard.Frequency, heard.Sigma, e, c.at, c.sigma)
			}
		}
	}
}
