package accuracy

import (
	"fmt"
	"math"
	"math/rand/v2"

	"ringwell/analysis"
)

// move sounds a bowl of three modes, T60 2 to 4 s, whose pitch lies by(t) cents
// off f at t seconds after the onset.
func (s *scene) move(f float64, by func(t float64) float64, t60 float64) {
	from := int(lead * float64(rate))
	click(s.Samples[from:], full/2, s.r)
	var phase [3]float64
	for k := range phase {
		phase[k] = uniform(s.r, 0, 2*math.Pi)
	}
	for i := range s.Samples[from:] {
		t := float64(i) / float64(rate)
		step := 2 * math.Pi * f * math.Exp2(by(t)/1200) / float64(rate)
		for k, q := range [3]float64{1, 2.778, 5.181} {
			phase[k] += step * q
			decay := analysis.LnThousand / t60 * math.Sqrt(q)
			s.Samples[from+i] += full * fromDB(-6*float64(k)) * math.Exp(-decay*t) * math.Sin(phase[k])
		}
	}
	s.Truth.Strikes = append(s.Truth.Strikes, TrueStrike{
		Onset: float64(from) / float64(rate), Within: 0.03, Pitched: true, InHand: analysis.Glass, Heard: &TrueHeard{Frequency: f},
	})
}

// moved: bowls lowered into water, rocked and swirled, and bowls left alone.
func (b *bench) moved() {
	t := b.table("Whole ear, bowls whose pitch moves, 200-900 Hz, T60 2-4 s, white 40 dB",
		"what", "strikes", "told so", "told otherwise", "events a strike", "still pitch: cents rms", "interval or depth off: c med", "95 %", "% med", "95 %", "begin off ms med", "rate off % med", "95 %")
	type outcome struct {
		told, other, events          int
		still, off, share, begin, of []float64
	}
	row := func(name string, n int, one func(r *rand.Rand, label string, o *outcome)) *outcome {
		outcomes := make([]outcome, n)
		parallel(n, func(i int) {
			one(random(b.seed, "moved/"+name, i), fmt.Sprintf("moved/%s #%d", name, i), &outcomes[i])
		})
		sum := &outcome{}
		for _, o := range outcomes {
			sum.told, sum.other, sum.events = sum.told+o.told, sum.other+o.other, sum.events+o.events
			sum.still, sum.off, sum.share = append(sum.still, o.still...), append(sum.off, o.off...), append(sum.share, o.share...)
			sum.begin, sum.of = append(sum.begin, o.begin...), append(sum.of, o.of...)
		}
		t.row(name, whole(n), share("%.2f", sum.told, n), share("%.2f", sum.other, n), share("%.1f", sum.events, n), num("%.3f", rms(sum.still)),
			num("%.2f", quantile(sum.off, .5)), num("%.2f", quantile(sum.off, .95)), num("%.1f", quantile(sum.share, .5)), num("%.1f", quantile(sum.share, .95)),
			num("%.0f", quantile(sum.begin, .5)), num("%.1f", quantile(sum.of, .5)), num("%.1f", quantile(sum.of, .95)))
		return sum
	}
	sounded := func(s *scene, o *outcome) (analysis.Strike, bool) {
		courses := hear(s.Take, analysis.Unknown)
		o.events = len(courses)
		of, _ := assign(s.Take, courses)
		if of[0] < 0 {
			return analysis.Strike{}, false
		}
		c := courses[of[0]]
		if h := c.heard(); h != nil {
			o.still = append(o.still, cents(float64(h.Frequency), s.Truth.Strikes[0].Heard.Frequency))
		}
		return c.last(), true
	}
	n := b.count(12)
	var glides, swings outcome
	for _, pace := range []float64{50, 100, 187.5, 400} {
		o := row(fmt.Sprintf("glides by %.0f c in 0.8 s", .8*pace), n, func(r *rand.Rand, label string, o *outcome) {
			way := .8 * pace * float64(1-2*r.IntN(2))
			s := newScene(label, "glide", "white", 40, lead+3, r)
			begin := uniform(r, .4, .7)
			s.move(logUniform(r, 200, 900), func(t float64) float64 { return way * min(max((t-begin)/.8, 0), 1) }, uniform(r, 2, 4))
			k, found := sounded(s, o)
			if k.Wobble != nil {
				o.other++
			}
			if g := k.Glide; found && g != nil {
				o.told++
				off := math.Abs(float64(g.To.Above(g.From)) - way)
				o.off, o.share = append(o.off, off), append(o.share, 100*off/math.Abs(way))
				o.begin = append(o.begin, 1000*math.Abs(g.Begin-begin))
				o.of = append(o.of, 100*math.Abs(float64(g.Rate)/(way/.8)-1))
			}
		})
		if pace == 187.5 {
			glides = *o
		}
	}
	for _, depth := range []float64{5, 20, 60} {
		o := row(fmt.Sprintf("swings by %.0f c, 0.5-8 times a second", depth), 2*n, func(r *rand.Rand, label string, o *outcome) {
			per := logUniform(r, .5, 8)
			s := newScene(label, "wobble", "white", 40, lead+4, r)
			at := uniform(r, 0, 2*math.Pi)
			s.move(logUniform(r, 200, 900), func(t float64) float64 { return depth * math.Sin(2*math.Pi*per*t+at) }, uniform(r, 2, 4))
			k, found := sounded(s, o)
			if k.Glide != nil {
				o.other++
			}
			if w := k.Wobble; found && w != nil {
				o.told++
				off := math.Abs(float64(w.Depth) - depth)
				o.off, o.share = append(o.off, off), append(o.share, 100*off/depth)
				o.of = append(o.of, 100*math.Abs(w.Rate/per-1))
			}
		})
		swings.told += o.told
		swings.share, swings.of = append(swings.share, o.share...), append(swings.of, o.of...)
	}
	still := row("is left alone", 2*n, func(r *rand.Rand, label string, o *outcome) {
		s := newScene(label, "still", "white", 40, lead+3, r)
		s.move(logUniform(r, 200, 900), func(float64) float64 { return 0 }, uniform(r, 2, 4))
		if k, _ := sounded(s, o); k.Glide != nil || k.Wobble != nil {
			o.other++
		}
	})
	t.end(nil)
	b.printf("  told otherwise: a glide as a swing or the reverse, or what was left alone as either\n  still pitch: heard, against where it began or about which it swings; share and rate: of those told so\n")
	b.aim("glide of 150 c in 0.8 s (40 dB): told so; its interval off, median and 95 % (the trace itself is not in this table)", "<= 0.5 c rms along the trace", "%d of %d; %s c, %s c", glides.told, n, num("%.2f", quantile(glides.off, .5)), num("%.2f", quantile(glides.off, .95)))
	b.aim("wobble of 5-60 c at 0.5-8 Hz (40 dB): told so", "all", "%d of %d", swings.told, 6*n)
	b.aim("the same: rate off, depth off, 95 % of those told", "2 %; 5 %", "%s %%; %s %%", num("%.1f", quantile(swings.of, .95)), num("%.1f", quantile(swings.share, .95)))
	b.aim("a bowl left alone told as moving", "0", "%d of %d", still.other, 2*n)
}
