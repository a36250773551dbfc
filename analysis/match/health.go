package match

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"ringwell/analysis"
)

// Sounding is a strike of a voice with what was known of the air.
type Sounding struct {
	Partials    []analysis.Partial // by frequency
	Temperature *float64           // °C; nil: not known
}

// What is a change that a crack can bring.
type What string

const (
	Fell    What = "fell"    // a partial lies lower: By in cents, negative
	Split   What = "split"   // a partial beats that did not: By in Hz
	Shorter What = "shorter" // a partial rings shorter: By as a factor
	Unlike  What = "unlike"  // nothing lies where it was: By is 0
)

// Change is what a strike shows that is beyond the voice's own spread.
type Change struct {
	What      What
	Frequency analysis.Hz // where the partial was
	By        float64
	Chance    float64 // that a strike of the sound voice shows as much, over all that was looked at
}

// Health is how a strike stands beside a voice's history.
type Health struct {
	Known   bool           // the history is long enough to judge by
	Shift   analysis.Cents // of the whole: the median over the partials, temperature taken out
	Changes []Change       // the least likely by chance first; empty: it sounds as it did
}

// Suspect reports whether something has changed.
func (h *Health) Suspect() bool { return len(h.Changes) > 0 }

// History is how many strikes of a voice its health is judged by, at most.
const History = 60

const (
	// enoughStrikes of history, below which nothing is said.
	enoughStrikes = 5
	// alarm is the chance of any flag on a strike of a sound voice that is
	// allowed, over all its partials together.
	alarm = 0.004
	// commonSpread is what the partials together are worth in the spread of
	// one of them, as degrees of freedom. By trial: without it a history of ten
	// strikes flags nothing below eight times the spread.
	commonSpread = 12
	// slopeSpread is one sigma of how a partial may go with temperature where
	// the history does not tell, in cents a kelvin. Steel goes by -0.2, from its
	// modulus; what holds water by more. By trial.
	slopeSpread = 1.0
	// ownSplit is the share of the history from which on a beat is the voice's
	// own.
	ownSplit = 0.1
	// clearSplit is how many sigma a beat must stand out by.
	clearSplit = 5
)

// series is one quantity of one partial over the history, and now.
type series struct {
	what        What
	at          analysis.Hz
	y, temp     []float64 // temp nil: not known for all
	now, nowT   float64
	more        float64 // variance by which the new value is less sure than those before
	s2, dof     float64
	mean, slope float64
	leverage    float64
}

// Examine holds a strike against the history of its voice. A change of
// frequency that the temperature explains, as the history shows it, is none.
//
// For each partial the log frequency and the log ring are predicted from the
// history, with Student's t for one further observation; what lies beyond on
// the side to which a crack goes is a change. The variance of each partial is
// shrunk towards what is common to all. The chances are multiplied by the
// number of things looked at (Bonferroni).
func Examine(history []Sounding, now Sounding) Health {
	if len(history) < enoughStrikes {
		return Health{}
	}
	h := Health{Known: true}
	falls, rings, splits := compare(history, now)
	if len(falls) == 0 && len(now.Partials) > 0 {
		return Health{Known: true, Changes: []Change{{What: Unlike, Frequency: now.Partials[0].Frequency}}}
	}
	tests := float64(max(1, len(falls)+len(rings)))
	shifts := []float64{}
	for _, group := range [][]*series{falls, rings} {
		settle(group)
		for _, s := range group {
			off := s.now - s.predict()
			if s.what == Fell {
				shifts = append(shifts, off)
			}
			sigma := math.Sqrt(s.s2*(1+s.leverage) + s.more)
			chance := tests * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: s.dof}.CDF(off/sigma)
			if chance < alarm {
				by := off
				if s.what == Shorter {
					by = math.Exp(off)
				}
				h.Changes = append(h.Changes, Change{s.what, s.at, by, chance})
			}
		}
	}
	h.Changes = append(h.Changes, splits...)
	slices.SortStableFunc(h.Changes, func(a, b Change) int { return cmp.Compare(a.Chance, b.Chance) })
	if len(shifts) > 0 {
		slices.Sort(shifts)
		h.Shift = analysis.Cents((shifts[(len(shifts)-1)/2] + shifts[len(shifts)/2]) / 2)
	}
	return h
}

// ExamineNewest holds the last of a voice's strikes, oldest first, against those
// before. Of none nothing is known.
func ExamineNewest(strikes []Sounding) Health {
	last := len(strikes) - 1
	if last < 0 {
		return Health{}
	}
	return Examine(strikes[:last], strikes[last])
}

// fit finds mean, slope and residual variance. The slope has a prior of
// slopeSpread, so that a history at one temperature is not led astray.
func (s *series) fit() {
	n := float64(len(s.y))
	for _, y := range s.y {
		s.mean += y / n
	}
	s.leverage = 1 / n
	free := n - 1
	var meanT, stt, sty float64
	if s.temp != nil {
		for _, t := range s.temp {
			meanT += t / n
		}
		for i, t := range s.temp {
			stt += (t - meanT) * (t - meanT)
			sty += (t - meanT) * (s.y[i] - s.mean)
		}
		// The prior weighs as the residual variance over its own; as that is
		// not known yet, one of (1 cent)² stands for it.
		s.slope = sty / (stt + 1/(slopeSpread*slopeSpread))
		s.leverage += square(s.nowT-meanT) / (stt + 1/(slopeSpread*slopeSpread))
		free--
		s.nowT -= meanT
	}
	for i, y := range s.y {
		r := y - s.mean
		if s.temp != nil {
			r -= s.slope * (s.temp[i] - meanT)
		}
		s.s2 += r * r
	}
	s.dof = max(1, free)
	s.s2 /= s.dof
}

func (s *series) predict() float64 {
	if s.temp == nil {
		return s.mean
	}
	return s.mean + s.slope*s.nowT
}

// least is the smallest variance that is believed, whatever a history shows: a
// hand never does the same to 2 % of a ring. With half a percent, things that
// were played from a recipe were suspect where one rang 3 % shorter. By trial.
func (s *series) least() float64 {
	if s.what == Fell {
		return 0.05 * 0.05 // cents
	}
	return 0.02 * 0.02 // of ln T60
}

// settle fits a group of series and shrinks their variances to their median.
func settle(group []*series) {
	if len(group) == 0 {
		return
	}
	var all []float64
	for _, s := range group {
		s.fit()
		s.s2 = max(s.s2, s.least())
		all = append(all, s.s2)
	}
	if len(all) < 3 {
		return
	}
	slices.Sort(all)
	common := all[len(all)/2]
	for _, s := range group {
		s.s2 = (s.dof*s.s2 + commonSpread*common) / (s.dof + commonSpread)
		s.dof += commonSpread
	}
}
