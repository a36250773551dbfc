package accuracy

import (
	"fmt"
	"math"
)

// The columns that a table made from formulas and one made from a folder of
// recordings share.

func whole(n int) string { return fmt.Sprint(n) }

// halfAndMost are the median and the 90 % point of seconds, in ms.
func halfAndMost(v []float64) string {
	if len(v) == 0 {
		return "-"
	}
	return fmt.Sprintf("%.0f / %.0f", 1000*quantile(v, .5), 1000*quantile(v, .9))
}

func share(format string, a, b int) string {
	if b == 0 {
		return "-"
	}
	return num(format, ratio(a, b))
}

// pitches is a table of the pitch heard: kind unknown, kind told, and the rival.
func (b *bench) pitches(title string) (*table, func(name string, g, told, rival *group)) {
	t := b.table(title+" (gross: more than 50 cents off; octave: of these, by whole octaves)",
		"kind", "strikes", "found", "no pitch", "gross", "octave", "second right", "cents med", "95 %", "±2σ", "beyond 3σ", "kind told: no pitch", "gross", "octave", "strongest peak: gross")
	return t, func(name string, g, k, v *group) {
		stated := len(g.away) - g.loose
		t.row(name, whole(g.strikes), share("%.3f", g.found, g.strikes), whole(g.refused), whole(g.gross), whole(g.octave), whole(g.second),
			num("%.3f", quantile(g.away, .5)), num("%.2f", quantile(g.away, .95)), share("%.2f", g.inside2, stated), share("%.2f", g.outside3, stated),
			whole(k.refused), whole(k.gross), whole(k.octave), whole(v.gross))
	}
}

func (b *bench) pitchNotes(sum *group) {
	b.printf("  second right: of the gross ones, how often the second pitch told was right; gross though told as 90 %% likely or more: %d\n", sum.sure)
	b.printf("  ±2σ: - where the pitch itself is not defined so finely; strongest peak: Blackman window of 0.5 s, zero-padded, parabola\n")
}

// finds is a table of what was found, and of what was told where nothing is.
func (b *bench) finds(title string) (*table, func(name string, g *group)) {
	t := b.table(title, "what", "strikes", "found", "within 3 ms", "off ms med", "95 %", "no pitch", "knocks", "with a pitch", "pitched, nothing there", "other events", "minutes")
	return t, func(name string, g *group) {
		off := make([]float64, len(g.timing))
		for i, v := range g.timing {
			off[i] = math.Abs(v)
		}
		t.row(name, whole(g.strikes), share("%.3f", g.found, g.strikes), share("%.3f", g.near, g.found), num("%.2f", quantile(off, .5)), num("%.2f", quantile(off, .95)),
			whole(g.refused), whole(g.knocks), whole(g.knocksTold), whole(g.extra), whole(g.extraEvents), num("%.1f", g.seconds/60))
	}
}

func (b *bench) findNotes() {
	b.printf("  no pitch: found, but told without one; other events: told without a pitch where nothing was struck (talk, rattle)\n")
}

// modes is a table of partials.
func (b *bench) modes(title string) (*table, func(name string, g *group)) {
	t := b.table(title, "kind", "to be found", "missed a strike", "invented a strike", "f/CRB (trimmed)", "±2σ f")
	return t, func(name string, g *group) {
		t.row(name, whole(g.scored), share("%.3f", g.missed, g.counted), share("%.3f", g.spurious, g.counted), num("%.2f", trimmed(g.overBound)), share("%.3f", g.insideP, g.countP))
	}
}
