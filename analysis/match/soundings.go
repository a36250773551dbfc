package match

import (
	"math"
	"slices"

	"ringwell/analysis"
)

// folded are partials with each near pair made one, at the mean of its two
// members weighted by power; its Beat says that it is one. A pair of which both
// members are modes of the voice already, one each, is left as it is, and is no
// beat: the ear calls two neighbours a pair in one strike and not in the next.
func folded(partials []analysis.Partial, modes []Mode) []analysis.Partial {
	var out []analysis.Partial
	first := map[int]int{} // by pair
	old := oldPairs(partials, modes)
	for i := range partials {
		p := partials[i]
		if old[p.Pair] {
			p.Pair, p.Beat, p.SigmaBeat = 0, 0, 0
		}
		if at, ok := first[p.Pair]; ok && p.Pair > 0 {
			q := &out[at]
			a, b := math.Pow(10, q.Level/10), math.Pow(10, p.Level/10)
			if q.Beat == 0 {
				q.Beat = math.Abs(float64(p.Frequency - q.Frequency))
			}
			q.Frequency = q.Frequency.Shift(p.Frequency.Above(q.Frequency) * analysis.Cents(b/(a+b)))
			q.Level = 10 * math.Log10(a+b)
			q.T60 = 0 // a pair's two rings are not one
			continue
		}
		if p.Pair > 0 {
			first[p.Pair] = len(out)
		}
		out = append(out, p)
	}
	return out
}

// oldPairs are the pairs whose two members lie nearest to two different modes,
// no farther apart than these or than partials are told apart by.
func oldPairs(partials []analysis.Partial, modes []Mode) map[int]bool {
	nearest := map[int]int{}
	old := map[int]bool{}
	for i := range partials {
		p := &partials[i]
		if p.Pair == 0 {
			continue
		}
		best, off := -1, float64(same)
		for k := range modes {
			if d := math.Abs(float64(p.Frequency.Above(modes[k].Frequency))); d < off {
				best, off = k, d
			}
		}
		if was, ok := nearest[p.Pair]; ok {
			old[p.Pair] = best >= 0 && was >= 0 && best != was
		}
		nearest[p.Pair] = best
	}
	return old
}

// soundingsOf are the sightings of one mode in the history.
type soundingsOf struct {
	mode Mode
	seen []analysis.Partial
	temp []*float64
}

// compare sets up the series of every mode that the history shows in at least
// enoughStrikes and the strike shows too, and the splits that are new.
func compare(history []Sounding, now Sounding) (falls, rings []*series, splits []Change) {
	past := make([][]analysis.Partial, len(history))
	for i := range history {
		past[i] = folded(history[i].Partials, nil)
	}
	modes := Gather(past)
	all := make([]soundingsOf, len(modes))
	var a aligner
	join := func(partials []analysis.Partial, whole float64, take func(i, j int)) {
		pairs := a.align(len(modes), len(partials), func(i, j int) float64 {
			d := float64(partials[j].Frequency.Above(modes[i].Frequency)) - whole
			l := partials[j].Level - modes[i].Level
			return 2*same*same - d*d - l*l/4 // what has cracked may have fallen farther than strikes differ
		})
		for _, p := range pairs {
			take(p.i, p.j)
		}
	}
	for n := range past {
		join(past[n], 0, func(i, j int) {
			all[i].seen = append(all[i].seen, past[n][j])
			all[i].temp = append(all[i].temp, history[n].Temperature)
		})
	}
	heard := folded(now.Partials, modes)
	whole, known := wholeMove(modes, heard)
	if !known {
		return nil, nil, nil
	}
	join(heard, whole, func(i, j int) {
		m := &all[i]
		if m.mode = modes[i]; len(m.seen) < enoughStrikes {
			return
		}
		p := &heard[j]
		falls = append(falls, m.falls(p, now.Temperature))
		if s := m.rings(p); s != nil {
			rings = append(rings, s)
		}
		if c, ok := m.split(p); ok {
			splits = append(splits, c)
		}
	})
	return falls, rings, splits
}

// wholeMove is by how many cents all of a strike lies elsewhere, to the nearest
// ten: 0 where at least half of it, by loudness, lies where it was. What has
// fallen farther than partials are told apart by must still be found.
// known is false where, however it is moved, hardly anything of it fits.
func wholeMove(modes []Mode, heard []analysis.Partial) (cents float64, known bool) {
	var al aligner
	common := func(whole analysis.Cents) float64 {
		back := Of(heard)
		for i := range back {
			back[i].Frequency, back[i].T60 = back[i].Frequency.Shift(-whole), 0
		}
		d, _ := al.apart(back, modes, false)
		return 1 - d
	}
	here := common(0)
	best, at := here, analysis.Cents(0)
	if here >= 0.5 {
		return 0, true
	}
	for whole := analysis.Cents(deepest); whole <= highest; whole += fineness {
		// Where it was goes before where it may have gone.
		if c := common(whole); c > best && c > 2*here {
			best, at = c, whole
		}
	}
	return float64(at), best >= leastCommon
}

// leastCommon is the share of two sets of partials, by loudness, below which
// they are of different things. By trial.
const leastCommon = 0.3

func (m *soundingsOf) falls(p *analysis.Partial, temp *float64) *series {
	s := &series{what: Fell, at: m.mode.Frequency, now: float64(p.Frequency.Above(m.mode.Frequency))}
	sure := 0.0
	for i := range m.seen {
		s.y = append(s.y, float64(m.seen[i].Frequency.Above(m.mode.Frequency)))
		sure += square(float64(m.seen[i].Sigma)) / float64(len(m.seen))
	}
	s.more = max(0, square(float64(p.Sigma))-sure)
	if temp != nil && !slices.Contains(m.temp, nil) {
		s.nowT = *temp
		for _, t := range m.temp {
			s.temp = append(s.temp, *t)
		}
	}
	return s
}

func (m *soundingsOf) rings(p *analysis.Partial) *series {
	if !(p.T60 > 0) {
		return nil
	}
	s := &series{what: Shorter, at: m.mode.Frequency, now: math.Log(p.T60)}
	sure := 0.0
	for i := range m.seen {
		if q := &m.seen[i]; q.T60 > 0 {
			s.y = append(s.y, math.Log(q.T60))
			sure += square(q.SigmaT60 / q.T60)
		}
	}
	if len(s.y) < enoughStrikes {
		return nil
	}
	s.more = max(0, square(p.SigmaT60/p.T60)-sure/float64(len(s.y)))
	return s
}

// split reports a beat that the history does not know.
func (m *soundingsOf) split(p *analysis.Partial) (Change, bool) {
	if !(p.Beat > 0) || !(p.SigmaBeat > 0) || p.Beat < clearSplit*p.SigmaBeat {
		return Change{}, false
	}
	before := 0
	for i := range m.seen {
		if m.seen[i].Beat > 0 {
			before++
		}
	}
	if float64(before) > ownSplit*float64(len(m.seen)) {
		return Change{}, false
	}
	// A share before, and the chance of a beat where there is none: Laplace's
	// rule of succession.
	chance := float64(before+1) / float64(len(m.seen)+2)
	return Change{Split, m.mode.Frequency, p.Beat, chance}, true
}
