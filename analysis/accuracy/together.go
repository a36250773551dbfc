package accuracy

import (
	"fmt"
	"math"
	"math/rand/v2"

	"ringwell/analysis"
)

// together: two things struck at almost the same moment, and one alone.
func (b *bench) together() {
	t := b.table("Whole ear, two things struck so far apart, white 40 dB: told as two, by how much, and each one's pitch",
		"ms apart", "second softer by dB", "takes", "told as two", "off ms med", "both pitches told")
	told, all := 0, 0
	for _, gap := range []float64{0, .005, .010, .015, .020} {
		for _, softer := range []float64{0, 6} {
			n := b.count(60)
			said := make([]flam, n)
			name := fmt.Sprintf("together/%g/%g", gap, softer)
			parallel(n, func(i int) {
				r := random(b.seed, name, i)
				said[i] = heardAsTwo(atOnce(gap, softer, r, fmt.Sprintf("%s #%d", name, i)), gap)
			})
			var two, both int
			var off []float64
			for _, f := range said {
				if f.two {
					two++
					off = append(off, math.Abs(f.off))
				}
				if f.both {
					both++
				}
			}
			if gap >= .010 {
				told, all = told+two, all+n
			}
			t.row(num("%.0f", 1000*gap), num("%.0f", softer), whole(n), share("%.3f", two, n), num("%.1f", 1000*quantile(off, .5)), share("%.3f", both, n))
		}
	}
	t.end(nil)
	families := families()
	n := b.count(20)
	wrong := make([]bool, n*len(families))
	parallel(len(wrong), func(i int) {
		f := families[i/n]
		r := random(b.seed, "alone/"+f.name, i%n)
		bg, snr := surroundings(r)
		wrong[i] = heardAsTwo(lone(f, f.make(r), bg, snr, 2.5, r, fmt.Sprintf("alone/%s #%d", f.name, i%n)), 0).two
	})
	false := 0
	var failed []string
	for i, w := range wrong {
		if w {
			false++
			failed = append(failed, fmt.Sprintf("alone/%s #%d: told as two", families[i/n].name, i%n))
		}
	}
	b.failures(failed)
	b.aim("two things struck 10 to 20 ms apart told as two; one alone told as two", ">= 95 %; <= 1 %", "%.1f %% of %d; %.1f %% of %d", 100*ratio(told, all), all, 100*ratio(false, len(wrong)), len(wrong))
}

// flam is what was said of one take.
type flam struct {
	two, both bool
	off       float64 // s
}

// atOnce is two things of different kinds, the second a little later and softer.
func atOnce(gap, softer float64, r *rand.Rand, label string) Take {
	s := newScene(label, "together", "white", 40, lead+1.5, r)
	all := families()
	hands := []family{all[0], all[4], all[6], all[7]} // bar, glass, bottle, tile
	i := r.IntN(len(hands))
	j := (i + 1 + r.IntN(len(hands)-1)) % len(hands)
	at := lead + uniform(r, 0, .1)
	s.strike(hands[i].make(r), hands[i], at, 1)
	s.strike(hands[j].make(r), hands[j], at+gap, fromDB(-softer))
	return s.Take
}

// heardAsTwo is what the ear finally says of the first strike of a take.
func heardAsTwo(t Take, gap float64) (f flam) {
	courses := hear(t, analysis.Unknown)
	first := t.Truth.Strikes[0]
	for _, c := range courses {
		s := c.last()
		if math.Abs(t.Rate.Seconds(s.Onset)-first.Onset) > .03 {
			continue
		}
		for _, m := range s.Remarks {
			if m.Code == analysis.RemarkTwo {
				f.two = true
				var ms float64
				if _, err := fmt.Sscanf(m.Words, "perhaps two things, struck %f ms apart", &ms); err == nil {
					f.off = ms/1000 - gap
				}
			}
		}
		if len(t.Truth.Strikes) < 2 || s.Heard == nil || s.Second == nil {
			continue
		}
		within := func(p *analysis.Pitch, h *TrueHeard) bool { return math.Abs(h.away(float64(p.Frequency))) <= gross }
		a, b := first.Heard, t.Truth.Strikes[1].Heard
		f.both = f.both || within(s.Heard, a) && within(s.Second, b) || within(s.Heard, b) && within(s.Second, a)
	}
	return f
}
