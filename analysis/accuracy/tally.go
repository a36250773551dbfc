package accuracy

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"ringwell/analysis"
)

// gross is from how many cents off a pitch is another pitch.
const gross = 50

// group counts what whole ears said of the takes of one row.
type group struct {
	name               string
	seconds            float64
	strikes, found     int       // that have a pitch; told within their time
	near               int       // found, and within 3 ms
	refused            int       // found, but told without a pitch
	knocks, knocksTold int       // that have none; told with a pitch
	extra, extraEvents int       // pitched strikes where there was none; and events without a pitch
	timing             []float64 // onset error, ms
	counted            int       // strikes of which the truth says what partials must be found
	loose              int       // of the right ones, pitch not defined finely enough for its sigma to be held against it
	answered           int       // strikes with a pitch, and told one
	gross, octave      int       // pitch another one; of these by whole octaves
	second             int       // of the gross ones, the other pitch told was right
	sure               int       // of the gross ones, told as 90 % likely or more
	away               []float64 // |error| of the others, cents
	deviation          []float64 // the same, signed
	inside2, outside3  int       // of those
	first              []float64 // s of sound until within 5 cents of the final answer
	within             [3][]float64
	scored, missed     int // partials
	reported, spurious int
	overBound          []float64
	insideP, countP    int
	failed             []string
}

func (g *group) join(o *group) {
	g.seconds += o.seconds
	for _, p := range [][2]*int{
		{&g.strikes, &o.strikes}, {&g.found, &o.found}, {&g.near, &o.near}, {&g.refused, &o.refused}, {&g.knocks, &o.knocks},
		{&g.knocksTold, &o.knocksTold}, {&g.extra, &o.extra}, {&g.extraEvents, &o.extraEvents}, {&g.answered, &o.answered},
		{&g.gross, &o.gross}, {&g.octave, &o.octave}, {&g.second, &o.second}, {&g.sure, &o.sure}, {&g.inside2, &o.inside2},
		{&g.outside3, &o.outside3}, {&g.scored, &o.scored}, {&g.missed, &o.missed}, {&g.reported, &o.reported},
		{&g.spurious, &o.spurious}, {&g.insideP, &o.insideP}, {&g.countP, &o.countP}, {&g.counted, &o.counted}, {&g.loose, &o.loose},
	} {
		*p[0] += *p[1]
	}
	g.timing = append(g.timing, o.timing...)
	g.away = append(g.away, o.away...)
	g.deviation = append(g.deviation, o.deviation...)
	g.first = append(g.first, o.first...)
	for i := range g.within {
		g.within[i] = append(g.within[i], o.within[i]...)
	}
	g.overBound = append(g.overBound, o.overBound...)
	g.failed = append(g.failed, o.failed...)
}

// assign gives each true strike the nearest course in its time, each once: the
// index, or -1.
func assign(t Take, all []course) (of []int, free []bool) {
	of, free = make([]int, len(t.Truth.Strikes)), make([]bool, len(all))
	for i := range free {
		free[i] = true
	}
	type pair struct {
		k, i int
		away float64
	}
	var pairs []pair
	for k, s := range t.Truth.Strikes {
		of[k] = -1
		for i, c := range all {
			if away := math.Abs(t.Rate.Seconds(c.last().Onset) - s.Onset); away <= s.Within {
				pairs = append(pairs, pair{k, i, away})
			}
		}
	}
	slices.SortStableFunc(pairs, func(a, b pair) int { return cmp.Compare(a.away, b.away) })
	for _, p := range pairs {
		if of[p.k] < 0 && free[p.i] {
			of[p.k], free[p.i] = p.i, false
		}
	}
	return of, free
}

// judge adds what a whole ear said of one take.
func (g *group) judge(t Take, all []course) {
	g.seconds += float64(len(t.Samples)) / float64(t.Rate)
	of, free := assign(t, all)
	var faults []string
	fault := func(format string, a ...any) { faults = append(faults, fmt.Sprintf(format, a...)) }
	for k, s := range t.Truth.Strikes {
		if !s.Pitched {
			g.knocks++
			if of[k] >= 0 && all[of[k]].heard() != nil {
				g.knocksTold++
				fault("knock at %.3f s heard as %.1f Hz", s.Onset, all[of[k]].heard().Frequency)
			}
			continue
		}
		g.strikes++
		if of[k] < 0 {
			fault("strike at %.3f s (%.1f Hz) not found", s.Onset, s.Heard.Frequency)
			continue
		}
		g.found++
		c := all[of[k]]
		ms := 1000 * (t.Rate.Seconds(c.last().Onset) - s.Onset)
		g.timing = append(g.timing, ms)
		if math.Abs(ms) <= 3 {
			g.near++
		}
		h := c.heard()
		if h == nil {
			g.refused++
			fault("strike at %.3f s (%.1f Hz) told without a pitch", s.Onset, s.Heard.Frequency)
			continue
		}
		if why := g.pitch(t, s, c, h); why != "" {
			fault("%s", why)
		}
		g.partials(s, c.last())
	}
	for i, c := range all {
		if !free[i] {
			continue
		}
		if h := c.heard(); h != nil {
			g.extra++
			fault("nothing at %.3f s, heard as %.1f Hz", t.Rate.Seconds(c.last().Onset), h.Frequency)
		} else {
			g.extraEvents++
		}
	}
	for _, f := range faults {
		g.failed = append(g.failed, t.Name+": "+f)
	}
}

// pitch counts the pitch told of a strike, and says what is grossly wrong.
func (g *group) pitch(t Take, s TrueStrike, c course, h *analysis.Pitch) (why string) {
	g.answered++
	wrong := max(gross, 2*s.Heard.Definition)
	off := s.Heard.away(float64(h.Frequency))
	start := s.Onset * float64(t.Rate)
	g.first = append(g.first, (c.stays(float64(h.Frequency), 5)-start)/float64(t.Rate))
	if math.Abs(off) > wrong {
		g.gross++
		if octaves := math.Round(off / 1200); octaves != 0 && math.Abs(off-1200*octaves) <= wrong {
			g.octave++
		}
		if second := c.last().Second; second != nil && math.Abs(s.Heard.away(float64(second.Frequency))) <= wrong {
			g.second++
		}
		if h.Likelihood >= 0.9 {
			g.sure++
		}
		return fmt.Sprintf("strike at %.3f s heard as %.1f Hz (%.0f %%), is %.1f Hz", s.Onset, h.Frequency, 100*h.Likelihood, s.Heard.Frequency)
	}
	g.away = append(g.away, math.Abs(off))
	g.deviation = append(g.deviation, off)
	for i, within := range [3]float64{10, 5, 1} {
		g.within[i] = append(g.within[i], (c.stays(s.Heard.Frequency, within)-start)/float64(t.Rate))
	}
	if s.Heard.Definition > 0 {
		g.loose++
	} else {
		if math.Abs(off) <= 2*float64(h.Sigma) {
			g.inside2++
		}
		if math.Abs(off) > 3*float64(h.Sigma) {
			g.outside3++
		}
	}
	return ""
}

// partials counts those of one strike, where the truth says which must be
// found.
func (g *group) partials(s TrueStrike, got analysis.Strike) {
	scored := 0
	for _, p := range s.Partials {
		if p.Scored {
			scored++
		}
	}
	if scored == 0 {
		return
	}
	g.counted++
	g.scored += scored
	used := make([]bool, len(got.Partials))
	for _, p := range s.Partials {
		at, width := p.places()
		best, least := -1, width
		for i, q := range got.Partials {
			for _, f := range at {
				if away := math.Abs(float64(q.Frequency) - f); away < width {
					used[i] = true // or the other member of a pair
					if away < least {
						best, least = i, away
					}
				}
			}
		}
		if !p.Scored {
			continue
		}
		if best < 0 {
			g.missed++
			continue
		}
		if p.Bound > 0 && len(p.Doublet) == 0 {
			off := cents(float64(got.Partials[best].Frequency), p.Frequency)
			g.overBound = append(g.overBound, off/p.Bound)
			g.countP++
			if math.Abs(off) <= 2*float64(got.Partials[best].Sigma) {
				g.insideP++
			}
		}
	}
	g.reported += len(used)
	for _, u := range used {
		if !u {
			g.spurious++
		}
	}
}
