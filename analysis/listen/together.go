package listen

import (
	"fmt"
	"math"
	"slices"

	"ringwell/analysis"
	"ringwell/analysis/hearing"
	"ringwell/analysis/partial"
)

// Two things struck at almost the same moment are one event to package onset,
// and one model fits the rings of both. But what was struck later was not there
// before: taken for there from the onset on, it leaves its own negative in what
// the model does not explain. Within the contact of the first blow nothing can be
// said of that.
const (
	togetherFrom  = 0.006 // s after the onset: the contact is over
	togetherLast  = 0.024 // at most between the two
	togetherLeast = 0.003 // of sound in which a wave is seen to be there or not
	togetherLook  = 0.030 // of sound that is compared with the model
	togetherStep  = 0.0005
	togetherT60   = 0.12 // of a wave that is looked at, at least
	togetherGain  = 0.6  // of its own energy that leaving a wave out must win
	togetherOff   = 0.2  // what that wins in all is its own energy but for so much; if it is more or less it imitates something else: with anything above 0.6 three of fifteen recordings of one thing were told as two
	togetherShare = 0.03 // of the energy that each of the two has at least: 15 dB
)

// together reports whether the open strike was two, and by how many seconds
// apart; later are the partials of the second.
func (e *Ear) together() (apart float64, later []analysis.Partial) {
	t := &e.take
	n := int(e.samples(togetherLook))
	if t.held || t.whole != nil || !t.reading.Pitched || len(t.sound) < n {
		return 0, nil
	}
	ring := e.lasting(t.reading.Ring)
	if len(ring) < 2 {
		return 0, nil
	}
	from := int(e.samples(togetherFrom))
	rest := append([]float64(nil), t.sound[from:n]...)
	waves := make([][]float64, len(ring))
	for k := range ring {
		waves[k] = make([]float64, len(rest))
		partial.Render(waves[k], from, ring[k:k+1])
		for i, v := range waves[k] {
			rest[i] -= v
		}
	}
	least := int(e.samples(togetherLeast))
	best, most := 0, 0.0
	var set []bool
	for at := least; at <= int(e.samples(togetherLast))-from; at += max(1, int(e.samples(togetherStep))) {
		absent, won := leaveOut(rest[:at], waves)
		// What is absent before is there at once after.
		for k, out := range absent {
			if out {
				won += there(rest[at:min(at+least, len(rest))], waves[k][at:])
			}
		}
		if won > most {
			best, most, set = at, won, absent
		}
	}
	own := 0.0
	for k, out := range set {
		if out {
			own += energy(waves[k][:min(best+least, len(rest))])
		}
	}
	if best == 0 || math.Abs(most/own-1) > togetherOff {
		return 0, nil
	}
	whole, share := 0.0, 0.0
	for _, p := range t.strike.Partials {
		whole += early(p)
		w := 2 * math.Pi * float64(p.Frequency) / float64(e.rate)
		if k := slices.IndexFunc(ring, func(c partial.Component) bool { return math.Abs(c.Omega-w) < c.Decay }); k >= 0 && set[k] {
			later = append(later, p)
			share += early(p)
		}
	}
	if share < togetherShare*whole || share > (1-togetherShare)*whole {
		return 0, nil
	}
	return e.rate.Seconds(int64(from + best)), later
}

// lasting are the waves of a model but the short ones, with which it imitates
// what begins later.
func (e *Ear) lasting(ring []partial.Component) (long []partial.Component) {
	for _, c := range ring {
		if analysis.LnThousand/(c.Decay*float64(e.rate)) >= togetherT60 {
			long = append(long, c)
		}
	}
	return long
}

// leaveOut returns which waves, not there yet, explain best what is left of a
// stretch, and how much energy leaving them out wins.
func leaveOut(rest []float64, waves [][]float64) (absent []bool, won float64) {
	x := append([]float64(nil), rest...)
	absent = make([]bool, len(waves))
	for {
		best, most := -1, 0.0
		for k, w := range waves {
			if absent[k] {
				continue
			}
			if g := -there(x, w); g > togetherGain*energy(w[:len(x)]) && g > most {
				best, most = k, g
			}
		}
		if best < 0 {
			return absent, won
		}
		for i := range x {
			x[i] += waves[best][i]
		}
		absent[best] = true
		won += most
	}
}

// there returns how much less energy a stretch has for a wave being taken out of
// it, given what is left.
func there(left, wave []float64) float64 {
	won := 0.0
	for i, v := range left {
		won += wave[i] * (wave[i] + 2*v)
	}
	return won
}

func energy(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return sum
}

// two says of an answer that it is of two things, if it is. Each one's pitch is
// then told, the one that was told on the way first.
func (e *Ear) two(a *answer) *analysis.Remark {
	apart, later := e.together()
	if apart == 0 {
		return nil
	}
	t := &e.take
	sooner := slices.DeleteFunc(slices.Clone(t.strike.Partials), func(p analysis.Partial) bool {
		return slices.ContainsFunc(later, func(q analysis.Partial) bool { return p.Frequency == q.Frequency })
	})
	one, other := e.heardIn(sooner), e.heardIn(later)
	told := t.course.told
	if other != nil && (one == nil || told != nil && near(told, other) && !near(told, one)) {
		one, other = other, one
	}
	switch {
	case one == nil:
	case told == nil || near(told, one):
		a.heard, a.second = one, other
	case a.second == nil: // what was told is neither's
		a.second = one
	}
	return &analysis.Remark{Code: analysis.RemarkTwo, Words: fmt.Sprintf("perhaps two things, struck %.0f ms apart", 1000*apart)}
}

// near reports whether two pitches are one note.
func near(a, b *analysis.Pitch) bool { return apart(a, b) <= jumpCents }

// heardIn is the pitch of some of the strike's partials.
func (e *Ear) heardIn(some []analysis.Partial) *analysis.Pitch {
	p, _ := hearing.Heard(some, e.options.Kind)
	if p == nil || p.Partial < 0 {
		return p
	}
	at := some[p.Partial].Frequency
	p.Partial = slices.IndexFunc(e.take.strike.Partials, func(q analysis.Partial) bool { return q.Frequency == at })
	return p
}
