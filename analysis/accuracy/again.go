package accuracy

import (
	"fmt"
	"math"
	"math/rand/v2"

	"ringwell/analysis"
)

// again: what is struck while something rings, the same thing or another?
func (b *bench) again() {
	t := b.table("Whole ear, six strikes one in the ring of the other, white 40 dB: is it the same thing, or another beside it?",
		"what", "ms apart", "strikes", "told the same", "told another", "not told")
	var right, wrong, all int
	for _, what := range []string{"the same thing", "another thing", "another thing of the same pitch"} {
		for _, gap := range []float64{.12, .25, .5, 1} {
			n := b.count(20)
			said := make([][3]int, n)
			parallel(n, func(i int) {
				name := fmt.Sprintf("again/%s/%g", what, gap)
				said[i] = saidAgain(inTheRing(gap, what, random(b.seed, name, i), fmt.Sprintf("%s #%d", name, i)))
			})
			var sum [3]int
			for _, s := range said {
				for k := range sum {
					sum[k] += s[k]
				}
			}
			strikes := sum[0] + sum[1] + sum[2]
			t.row(what, num("%.0f", 1000*gap), whole(strikes), share("%.3f", sum[0], strikes), share("%.3f", sum[1], strikes), share("%.3f", sum[2], strikes))
			r, w := sum[0], sum[1]
			if what != "the same thing" {
				r, w = w, r
			}
			right, wrong, all = right+r, wrong+w, all+strikes
		}
	}
	t.end(nil)
	b.aim("struck while something rings: told rightly the same or another; wrongly", ">= 95 %; 0", "%.1f %%; %.1f %% of %d", 100*ratio(right, all), 100*ratio(wrong, all), all)
}

// inTheRing is six strikes, each in the ring of those before.
func inTheRing(gap float64, what string, r *rand.Rand, label string) *scene {
	if what != "another thing of the same pitch" {
		return apart(gap, what == "the same thing", r, label)
	}
	s := newScene(label, "apart", "white", 40, 3.2+5*gap, r)
	all := families()
	hands := []family{all[0], all[4], all[6], all[7]} // bar, glass, bottle, tile
	pitch := logUniform(r, 300, 1200)
	k := r.IntN(len(hands))
	for i := range 6 {
		k = (k + 1 + r.IntN(len(hands)-1)) % len(hands)
		on := hands[k].make(r)
		for m := range on.modes {
			on.modes[m].f *= pitch / on.heard
		}
		on.heard = pitch
		s.strike(on, hands[k], 1.2+gap*float64(i), uniform(r, .6, 1))
		s.Truth.Strikes[i].Within = min(.03, gap/3)
	}
	return s
}

// sounding reports whether the strike before strike k had sunk by less than
// 40 dB, where the noise lies, when k was struck.
func (s *scene) sounding(k int) bool {
	seconds := float64(s.rings[k].from-s.rings[k-1].from) / float64(rate)
	for _, m := range s.rings[k-1].modes {
		if 20*math.Log10(m.amp)-60*seconds/m.t60 > -40 {
			return true
		}
	}
	return false
}

// saidAgain counts what was said of the strikes in the ring of another that were
// found with a pitch: the same, another, neither.
func saidAgain(s *scene) (n [3]int) {
	courses := hear(s.Take, analysis.Unknown)
	of, _ := assign(s.Take, courses)
	for k := 1; k < len(of); k++ {
		if of[k] < 0 || courses[of[k]].heard() == nil || !s.sounding(k) {
			continue
		}
		said := 2
		for _, m := range courses[of[k]].last().Remarks {
			switch m.Code {
			case analysis.RemarkSame:
				said = 0
			case analysis.RemarkBeside:
				said = 1
			}
		}
		n[said]++
	}
	return n
}
