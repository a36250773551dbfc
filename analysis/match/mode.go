package match

import (
	"cmp"
	"math"
	"slices"

	"ringwell/analysis"
)

// Mode is a partial as a voice has it, over its strikes.
type Mode struct {
	Frequency   analysis.Hz    // mean
	Spread      analysis.Cents // one sigma of a single strike; 0: seen once
	Level       float64        // dB relative to the strike's strongest, mean
	SpreadLevel float64        // dB
	T60         float64        // seconds, geometric mean; 0: not known
	SpreadT60   float64        // of ln T60
	Seen        int            // in how many strikes
}

// Of makes modes of one strike's partials. partials are by frequency, as the
// ear gives them, and so are the modes.
func Of(partials []analysis.Partial) []Mode {
	modes := make([]Mode, len(partials))
	for i := range partials {
		p := &partials[i]
		modes[i] = Mode{Frequency: p.Frequency, Level: p.Level, T60: p.T60, Seen: 1}
	}
	return modes
}

// same is how far apart two strikes' partials may lie and still be one mode's,
// in cents, where nothing better is known. By trial: at 25 a jar in the cold
// falls into two, at 60 near pairs of thin bells grow into one.
const same = 40

// tally gathers what is seen of one mode.
type tally struct {
	cents, level, lnT moments // cents above the first sighting
	first             analysis.Hz
}

// moments are running count, mean and sum of squared deviations (Welford,
// Technometrics 4 (1962) 419-420, from memory, unchecked).
type moments struct {
	n        int
	mean, m2 float64
}

func (m *moments) add(x float64) {
	m.n++
	d := x - m.mean
	m.mean += d / float64(m.n)
	m.m2 += d * (x - m.mean)
}

func (m *moments) sigma() float64 {
	if m.n < 2 {
		return 0
	}
	return math.Sqrt(m.m2 / float64(m.n-1))
}

func (t *tally) at() analysis.Hz { return t.first.Shift(analysis.Cents(t.cents.mean)) }

// Gather makes the modes of a voice out of its strikes, by frequency. A mode
// that was seen in a single strike of several is kept, with Seen 1.
func Gather(strikes [][]analysis.Partial) []Mode {
	var all []*tally
	var a aligner
	for _, partials := range strikes {
		joined := make([]bool, len(partials))
		pairs := a.align(len(all), len(partials), func(i, j int) float64 {
			d := float64(partials[j].Frequency.Above(all[i].at()))
			level := partials[j].Level - all[i].level.mean
			return same*same - d*d - level*level/4 // a near pair's members keep their order of loudness
		})
		for _, p := range pairs {
			joined[p.j] = true
			all[p.i].take(&partials[p.j])
		}
		for j := range partials {
			if !joined[j] {
				t := &tally{first: partials[j].Frequency}
				t.take(&partials[j])
				all = append(all, t)
			}
		}
		slices.SortFunc(all, func(x, y *tally) int { return cmp.Compare(x.at(), y.at()) })
	}
	modes := make([]Mode, len(all))
	for i, t := range all {
		modes[i] = Mode{Frequency: t.at(), Spread: analysis.Cents(t.cents.sigma()), Level: t.level.mean, SpreadLevel: t.level.sigma(), Seen: t.cents.n}
		if t.lnT.n > 0 {
			modes[i].T60, modes[i].SpreadT60 = math.Exp(t.lnT.mean), t.lnT.sigma()
		}
	}
	return modes
}

func (t *tally) take(p *analysis.Partial) {
	t.cents.add(float64(p.Frequency.Above(t.first)))
	t.level.add(p.Level)
	if p.T60 > 0 {
		t.lnT.add(math.Log(p.T60))
	}
}
