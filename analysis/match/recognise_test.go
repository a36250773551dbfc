package match

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"ringwell/analysis"
)

// thing is an invented object: its true partials.
type thing struct {
	freq, level, t60 []float64
}

// invent makes an object of 4 to 12 partials between 150 Hz and 6 kHz, the
// higher the fainter and the shorter, as things are.
func invent(rnd *rand.Rand) thing {
	var t thing
	f := 150 * math.Exp2(3*rnd.Float64())
	for range 4 + rnd.IntN(9) {
		t.freq = append(t.freq, f)
		t.level = append(t.level, -12*math.Log2(f/t.freq[0])*rnd.Float64()-6*rnd.Float64())
		t.t60 = append(t.t60, 2.5*math.Sqrt(t.freq[0]/f)*math.Exp(0.4*rnd.NormFloat64()))
		f *= 1.15 + 1.2*rnd.Float64()
		if f > 9000 {
			break
		}
	}
	return t
}

// strike is one sounding of a thing: the whole drifts with temperature by a
// sigma of 5 cents, each partial by 1.2 more; a beater tilts the spectrum by up
// to 6 dB an octave either way, the hand moves each level by 3 dB and each
// ring by 12 %; what is 42 dB below the strongest is not heard, and one
// partial in thirty is missed; one strike in three has a partial of something
// else.
func (t thing) strike(rnd *rand.Rand, shift float64) []analysis.Partial {
	tilt := 12*rnd.Float64() - 6
	var ps []analysis.Partial
	top := math.Inf(-1)
	for i := range t.freq {
		sigma := 0.2 + rnd.Float64()
		p := analysis.Partial{
			Frequency: analysis.Hz(t.freq[i]).Shift(analysis.Cents(shift + math.Hypot(1.2, sigma)*rnd.NormFloat64())),
			Sigma:     analysis.Cents(sigma),
			Level:     t.level[i] + tilt*math.Log2(t.freq[i]/t.freq[0])/2 + 3*rnd.NormFloat64(),
			T60:       t.t60[i] * math.Exp(0.12*rnd.NormFloat64()),
		}
		if rnd.IntN(30) == 0 {
			continue
		}
		ps = append(ps, p)
		top = max(top, p.Level)
	}
	if rnd.IntN(3) == 0 {
		ps = append(ps, analysis.Partial{Frequency: analysis.Hz(100 * math.Exp2(6*rnd.Float64())), Sigma: 2, Level: top - 15 - 20*rnd.Float64(), T60: 0.3})
	}
	var heard []analysis.Partial
	for _, p := range ps {
		if p.Level -= top; p.Level > -42 {
			heard = append(heard, p)
		}
	}
	slices.SortFunc(heard, func(a, b analysis.Partial) int { return cmp.Compare(a.Frequency, b.Frequency) })
	return heard
}

// shelve keeps n strikes of each thing.
func shelve(rnd *rand.Rand, things []thing, n int) []Voice {
	voices := make([]Voice, len(things))
	for i, t := range things {
		var strikes [][]analysis.Partial
		for range n {
			strikes = append(strikes, t.strike(rnd, 5*rnd.NormFloat64()))
		}
		voices[i] = Voice{ID: fmt.Sprint("voice ", i), Object: fmt.Sprint("object ", i), Strikes: n, Modes: Gather(strikes)}
	}
	return voices
}

// fresh is RINGWELL_SEED, 0 without: with another seed the tables are of things
// that nothing was tuned on.
func fresh() uint64 {
	n, _ := strconv.ParseUint(os.Getenv("RINGWELL_SEED"), 10, 64)
	return n
}

func TestRecognition(t *testing.T) {
	for _, kept := range []int{1, 3, 10} {
		t.Run(fmt.Sprintf("%d strikes kept of each", kept), func(t *testing.T) {
			rnd := rand.New(rand.NewPCG(7+fresh()<<8, uint64(kept)))
			var things []thing
			for range 100 {
				things = append(things, invent(rnd))
			}
			r := NewRecogniser(shelve(rnd, things, kept))
			right, wrong, two, trials := 0, 0, 0, 0
			for range 20 {
				for i := range things {
					v := r.Recognise(things[i].strike(rnd, 5*rnd.NormFloat64()))
					trials++
					switch {
					case len(v.Candidates) == 1 && v.Candidates[0].ID == fmt.Sprint("voice ", i):
						right++
					case len(v.Candidates) == 1:
						wrong++
					case len(v.Candidates) == 2:
						two++
					}
				}
			}
			false1, strangers := 0, 2000
			for range strangers {
				if v := r.Recognise(invent(rnd).strike(rnd, 0)); len(v.Candidates) > 0 {
					false1++
				}
			}
			t.Logf("of %d: %.2f %% named right (aim 98), %.2f %% wrong, %.2f %% offered as one of two; of %d strangers %.2f %% named (aim at most 1)",
				trials, percent(right, trials), percent(wrong, trials), percent(two, trials), strangers, percent(false1, strangers))
			if float64(right) < 0.98*float64(trials) {
				t.Errorf("named right %d of %d, want 98 %%", right, trials)
			}
			if float64(wrong) > 0.002*float64(trials) {
				t.Errorf("named wrong %d of %d, want at most 0.2 %%", wrong, trials)
			}
			if float64(false1) > 0.01*float64(strangers) {
				t.Errorf("strangers named %d of %d, want at most 1 %%", false1, strangers)
			}
		})
	}
}

func percent(n, of int) float64 { return 100 * float64(n) / float64(of) }

func BenchmarkRecognise(b *testing.B) {
	rnd := rand.New(rand.NewPCG(7, 1))
	var things []thing
	for range 10000 {
		things = append(things, invent(rnd))
	}
	r := NewRecogniser(shelve(rnd, things, 3))
	s := things[77].strike(rnd, 5)
	r.Recognise(s)
	for b.Loop() {
		if v := r.Recognise(s); len(v.Candidates) != 1 {
			b.Fatalf("named %v, want one", v.Candidates)
		}
	}
}
