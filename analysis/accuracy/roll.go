package accuracy

import (
	"fmt"
	"math"

	"ringwell/analysis"
)

// rolled: strokes so fast that they are one event with a rate.
func (b *bench) rolled() {
	t := b.table("Whole ear, rolls of 8 to 24 strokes, white 40 dB, gaps scattered by 3 %: told as one event, and how fast",
		"strokes a second", "rolls", "told as one", "events a roll", "with a pitch", "gross", "rate off % med", "95 %", "rate ±2σ", "strokes told of those played")
	var ones, rolls, near int
	var failed []string
	for _, pace := range []float64{8, 10, 12, 14, 16} {
		n, name := b.count(12), fmt.Sprintf("roll/%g", pace)
		type outcome struct {
			group
			one, events, inside, told, played int
			off                               []float64
		}
		outcomes := make([]outcome, n)
		parallel(n, func(i int) {
			r, o := random(b.seed, name, i), &outcomes[i]
			all := families()
			f := []family{all[0], all[4], all[6], all[7]}[r.IntN(4)] // bar, glass, bottle, tile
			on, strokes := f.make(r), 8+r.IntN(17)
			s := newScene(fmt.Sprintf("%s #%d (%s, %d strokes)", name, i, f.name, strokes), f.name, "white", 40, lead+float64(strokes)/pace+2, r)
			at, first, last := lead, 0, 0
			for k := range strokes {
				s.strike(on, f, at, uniform(r, .7, 1))
				last = s.rings[k].from
				at += (1 + .03*r.NormFloat64()) / pace
			}
			first = s.rings[0].from
			s.Truth.Strikes = s.Truth.Strikes[:1]
			courses := hear(s.Take, analysis.Unknown)
			o.events, o.played = len(courses), strokes
			for _, c := range courses {
				if roll := c.last().Roll; roll != nil {
					rate := float64(strokes-1) / s.Rate.Seconds(int64(last-first))
					o.off = append(o.off, 100*math.Abs(roll.Rate/rate-1))
					o.told = roll.Strokes
					if math.Abs(roll.Rate-rate) <= 2*roll.SigmaRate {
						o.inside++
					}
					if len(courses) == 1 {
						o.one = 1
					}
				}
			}
			o.judge(s.Take, courses[:min(1, len(courses))]) // the pitch; the others are counted as events
			if pace >= 10 && o.one == 0 {
				o.failed = append(o.failed, fmt.Sprintf("%s: told as %d events", s.Name, len(courses)))
			}
		})
		var sum outcome
		for i := range outcomes {
			o := &outcomes[i]
			sum.join(&o.group)
			sum.one, sum.events, sum.inside, sum.told, sum.played = sum.one+o.one, sum.events+o.events, sum.inside+o.inside, sum.told+o.told, sum.played+o.played
			sum.off = append(sum.off, o.off...)
		}
		t.row(num("%.0f", pace), whole(n), share("%.2f", sum.one, n), share("%.1f", sum.events, n), whole(len(sum.away)+sum.gross), whole(sum.gross),
			num("%.2f", quantile(sum.off, .5)), num("%.2f", quantile(sum.off, .95)), share("%.2f", sum.inside, len(sum.off)), share("%.2f", sum.told, sum.played))
		failed = append(failed, sum.failed...)
		if pace >= 10 {
			ones, rolls = ones+sum.one, rolls+n
			for _, v := range sum.off {
				if v <= 2 {
					near++
				}
			}
		}
	}
	t.end(nil)
	b.failures(failed)
	b.aim("rolls of 10-16 strokes a second told as one event", "all", "%.1f %% of %d", 100*ratio(ones, rolls), rolls)
	b.aim("the same: rate within 2 %", "all", "%.1f %%", 100*ratio(near, rolls))
}
