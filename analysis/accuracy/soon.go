package accuracy

import (
	"fmt"
	"math"

	"ringwell/analysis"
	"ringwell/analysis/partial"
)

// soon: how much sound the whole ear needs.
func (b *bench) soon() {
	t := b.table("Whole ear, free bars with a click, T60 0.5-4 s: sound after the onset, ms, until told (median / 90 %)",
		"Hz", "SNR dB", "strikes", "within ±5 c of its final", "±10 c of the truth", "±5 c", "±1 c", "bound ±5 c", "bound ±1 c")
	worst := 0.0
	for _, snr := range []float64{40, 20} {
		for _, f := range []float64{110, 220, 440, 880, 1760} {
			n := b.count(15)
			bounds := make([][2]float64, n)
			groups := make([]group, n)
			name := fmt.Sprintf("soon/%g/%g", f, snr)
			parallel(n, func(i int) {
				r := random(b.seed, name, i)
				s := newScene(fmt.Sprintf("%s #%d", name, i), "bar", "white", snr, lead+3, r)
				at := f * math.Exp2(uniform(r, -.5, .5)/12)
				o := modes(r, at, logUniform(r, .5, 4), .6, .01, []float64{1, 2.757, 5.404, 8.933}, []float64{0, -6, -12, -18})
				s.strike(thing{object: o, heard: at}, family{}, lead+uniform(r, 0, .1), 1)
				bounds[i] = s.soonest()
				groups[i].judge(s.Take, hear(s.Take, analysis.Unknown))
			})
			var sum group
			var b5, b1 []float64
			for i := range groups {
				sum.join(&groups[i])
				b5, b1 = append(b5, bounds[i][0]), append(b1, bounds[i][1])
			}
			t.row(num("%.0f", f), num("%.0f", snr), num("%.0f", float64(sum.strikes)), halfAndMost(sum.first), halfAndMost(sum.within[0]), halfAndMost(sum.within[1]), halfAndMost(sum.within[2]), num("%.0f", quantile(b5, .5)), num("%.0f", quantile(b1, .5)))
			if snr == 40 && f >= 220 {
				worst = max(worst, 1000*quantile(sum.first, .9))
			}
		}
	}
	t.end(nil)
	b.printf("  told: the block given when the ear said it; for good: no later telling leaves the interval; bound: two standard deviations of the whole chord, 6 ms left out\n")
	b.aim("first answer within ±5 c of the final, 40 dB, f >= 220 Hz, p90 of the worst row", "<= 20 ms", "%.0f ms", worst)
}

// soonest returns the ms after the onset from which two standard deviations of
// the lowest partial can be under 5 and 1 cents.
func (s *scene) soonest() (ms [2]float64) {
	k := s.rings[0]
	noise := make([]float64, len(k.ring))
	for i := range noise {
		noise[i] = s.level
	}
	skip := int(contact * float64(rate))
	for i, within := range []float64{5, 1} {
		ms[i] = math.Inf(1)
		for at := 7.0; at < 1000; at = math.Ceil(at * 1.05) {
			b := partial.Bounds(k.ring, skip, int(at*float64(rate)/1000)-skip, noise)
			if 2*1200/math.Ln2*b[0].Omega/k.ring[0].Omega < within {
				ms[i] = at
				break
			}
		}
	}
	return ms
}

// overloaded: the whole ear on sound whose top is cut off.
func (b *bench) overloaded() {
	t := b.table("Whole ear, clipped by so much, metal bars, white 40 dB",
		"dB", "strikes", "found", "no pitch", "gross", "remarked", "invented a strike", "missed a strike", "heard: cents rms", "worst")
	var failed []string
	var all group
	for _, over := range []float64{0, 3, 6, 9} {
		n, name := b.count(25), fmt.Sprintf("overloaded/%g", over)
		groups, said := make([]group, n), make([]int, n)
		parallel(n, func(i int) {
			r := random(b.seed, name, i)
			f := families()[0]
			s := newScene(fmt.Sprintf("%s #%d", name, i), f.name, "white", 40, lead+2.5, r)
			s.strike(f.make(r), f, lead+uniform(r, 0, .1), 1)
			s.expect()
			if over > 0 {
				(&take{sound: s.Samples}).clip(over)
			}
			courses := hear(s.Take, analysis.Unknown)
			groups[i].judge(s.Take, courses)
			for _, c := range courses {
				for _, m := range c.last().Remarks {
					if m.Code == analysis.RemarkClipped {
						said[i] = 1
					}
				}
			}
		})
		var sum group
		told := 0
		for i := range groups {
			sum.join(&groups[i])
			told += said[i]
		}
		t.row(num("%.0f", over), num("%.0f", float64(sum.strikes)), num("%.3f", ratio(sum.found, sum.strikes)), num("%.0f", float64(sum.refused)), num("%.0f", float64(sum.gross)), num("%.2f", ratio(told, sum.strikes)),
			num("%.3f", ratio(sum.spurious, sum.answered)), num("%.3f", ratio(sum.missed, sum.answered)), num("%.4f", rms(sum.deviation)), num("%.4f", quantile(sum.away, 1)))
		failed = append(failed, sum.failed...)
		if over > 0 {
			all.join(&sum)
		}
	}
	t.end(nil)
	b.failures(failed)
	b.aim("clipped by 3, 6, 9 dB: partials invented", "0", "%d in %d strikes", all.spurious, all.answered)
	b.aim("clipped by 3, 6, 9 dB: pitch heard, rms", "<= 0.1 c", "%s (%d of %d gross or without a pitch)", num("%.3f c", rms(all.deviation)), all.gross+all.refused, all.strikes)
}
