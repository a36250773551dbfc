package bench

import (
	"math"

	"ringwell/analysis"
)

// Part is one partial followed from fill to fill.
type Part struct {
	First  analysis.Hz // at the first entry
	Fills  int         // entries it was found at
	At     analysis.Hz // where it will lie once the vessel is at the aim
	Below  Interval    // cents above First there; negative is below
	Ground bool        // it is the one that is heard
}

const (
	mostParts  = 6
	faintParts = -40 // dB: fainter ones are lost from fill to fill
)

// parts follows the partials of the first entry through the others. Each must be
// found at two fills at least, and is fitted by itself: the water weighs
// differently on each mode.
func parts(j Job, entries []Entry, aim Interval) []Part {
	if len(entries) < 2 {
		return nil
	}
	var out []Part
	for _, p := range entries[0].Partials {
		if p.Level < faintParts || len(out) == mostParts {
			continue
		}
		ground := math.Abs(float64(p.Frequency.Above(entries[0].Heard))) < 20
		var own []Entry
		added, last := 0.0, p.Frequency
		for i, e := range entries {
			added += e.Added
			f, sigma, ok := p.Frequency, p.Sigma, true
			if i > 0 {
				f, sigma, ok = follow(last, entries[i-1].Heard, e)
			}
			if !ok {
				continue
			}
			own = append(own, Entry{Added: added, Heard: f, Sigma: sigma})
			added, last = 0, f
		}
		if len(own) < 2 {
			continue
		}
		k := j
		k.Aim.Target = p.Frequency
		c := NewCurve(k, own)
		at := c.At(aim.Value, sq(aim.Sigma), 0)
		out = append(out, Part{p.Frequency, len(own), p.Frequency.Shift(analysis.Cents(at.Value)), at, ground})
	}
	return out
}

// follow finds the partial that was at f when before was heard: one that moved
// by as much as what is heard did, give or take half of it and a quarter tone.
func follow(f, before analysis.Hz, e Entry) (at analysis.Hz, sigma analysis.Cents, ok bool) {
	moved := e.Heard.Above(before)
	away := 50 + math.Abs(float64(moved))/2
	for _, p := range e.Partials {
		if d := math.Abs(float64(p.Frequency.Above(f.Shift(moved)))); d < away {
			away, at, sigma, ok = d, p.Frequency, p.Sigma, true
		}
	}
	return at, sigma, ok
}
