package listen

import (
	"math"

	"ringwell/analysis"
)

const (
	recentMost   = 8     // strikes remembered: as many things as hang side by side
	ringingDB    = 50.0  // a partial that has sunk by more is no company
	brokenOff    = 1.0   // seconds that a partial of unknown T60 is taken to ring
	repeatCents  = 2.0   // one standard deviation of a partial from strike to strike: bars and bowls of the test recordings, 0.1 to 3
	shownAgain   = 0.85  // of a thing's partials are seen in its next strike: another place, another mallet
	crowdCents   = 3000  // over which a thing's partials are taken to lie, for chance meetings: two octaves and a half
	countsDB     = 30.0  // a partial so far under the strongest says nothing of whose it is: it may be a rest of the other ring
	chosen       = 0.005 // a cent: a tenth of things that lie side by side are tuned to within ten cents
	leastMet     = 0.2   // of chance: what meets less well does not meet
	certainAgain = 0.95  // likelihood from which it is said
)

// recent remembers the last strikes that had a pitch, to tell what is struck
// while they ring.
type recent struct {
	list [recentMost]struck
	n    int
}

// struck is what is remembered of a strike.
type struck struct {
	onset    int64
	until    int64 // where it was stopped
	partials []analysis.Partial
}

func (r *recent) note(onset, until int64, partials []analysis.Partial) {
	r.list[r.n%recentMost] = struck{onset, until, partials}
	r.n++
}

// rings reports whether a partial of s still sounded after so many seconds.
func (s *struck) rings(seconds float64) bool {
	for _, p := range s.partials {
		if p.T60 > 0 && 60*seconds/p.T60-p.Level < ringingDB || p.T60 == 0 && seconds < brokenOff {
			return true
		}
	}
	return false
}

// again says of the open strike whether it is on a thing that was ringing, or
// on another beside it: nil where nothing rang, or where it cannot be told.
func (e *Ear) again() *analysis.Remark {
	t := &e.take
	most, rang := 0.0, false
	for i := range min(e.recent.n, recentMost) {
		s := &e.recent.list[i]
		after := e.rate.Seconds(t.strike.Onset - s.onset)
		if after <= 0 || s.until <= t.strike.Onset || !s.rings(after) {
			continue
		}
		rang = true
		most = max(most, sameThing(t.strike.Partials, s.partials))
	}
	switch {
	case rang && most >= certainAgain:
		return &analysis.Remark{Code: analysis.RemarkSame, Words: "what was still ringing, struck again"}
	case rang && most <= 1-certainAgain:
		return &analysis.Remark{Code: analysis.RemarkBeside, Words: "another thing than what was still ringing"}
	}
	return nil
}

// sameThing returns the likelihood that two strikes were on one thing, as likely
// as not beforehand: 0..1. Each partial of either, weighed by its level, meets
// one of the other, but for both standard deviations and the spread from strike
// to strike, or was not shown there. Another thing's partials meet them by
// chance, or because the things were chosen to agree.
func sameThing(now, before []analysis.Partial) float64 {
	if len(now) == 0 || len(before) == 0 {
		return 0.5
	}
	chance := float64(len(before))/crowdCents + chosen
	odds := 0.0 // logarithm
	for _, p := range now {
		if met := meets(p, before); met > leastMet*chance {
			odds += weight(p) * math.Log(shownAgain*met/chance)
		} else {
			odds += weight(p) * math.Log(1-shownAgain)
		}
	}
	for _, p := range before {
		if meets(p, now) <= leastMet*chance {
			odds += weight(p) * math.Log(1-shownAgain)
		}
	}
	return 1 / (1 + math.Exp(-odds))
}

// meets returns how well a partial meets the nearest of others: the density per
// cent of the difference, were the two the same.
func meets(p analysis.Partial, others []analysis.Partial) float64 {
	most := 0.0
	for _, q := range others {
		s := math.Sqrt(float64(p.Sigma*p.Sigma+q.Sigma*q.Sigma) + repeatCents*repeatCents)
		d := float64(p.Frequency.Above(q.Frequency)) / s
		most = max(most, math.Exp(-d*d/2)/(s*math.Sqrt(2*math.Pi)))
	}
	return most
}

// weight is 1 for the strongest partial and 0 for one countsDB under it.
func weight(p analysis.Partial) float64 { return max(0, 1+p.Level/countsDB) }
