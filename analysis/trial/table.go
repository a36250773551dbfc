package trial

import (
	"fmt"
	"io"
	"text/tabwriter"

	"ringwell/analysis/bench"
)

// Run plays everything and writes what came of it. The same seed and scale give
// the same table anywhere; scale 1 takes about four minutes on one core.
func Run(w io.Writer, seed uint64, scale float64) error {
	count := func(full float64) int { return max(5, int(full*scale)) }
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "bench: seed %d, players against vessels of other models\n\n", seed)
	fmt.Fprintln(t, "way\tpoured by\tplayers\twithin 5 c\tpromise kept\tpromise, median\tsounds, median\tinterval holds\tof")
	for _, row := range []struct {
		way     bench.Way
		pouring bench.Pouring
		full    float64
	}{{bench.Struck, bench.Scale, 200}, {bench.Struck, bench.Eye, 200}, {bench.Blown, bench.Syringe, 1000}, {bench.Blown, bench.Eye, 1000}} {
		p := Play(seed, row.way, row.pouring, count(row.full))
		n := float64(p.Count)
		fmt.Fprintf(t, "%s\t%s\t%d\t%.1f %%\t%.1f %%\t±%.0f c\t%g\t%.1f %%\t%d\n", p.Way, p.Pouring, p.Count, 100*float64(p.Within5)/n,
			100*float64(p.Kept)/n, Median(p.Promises), Median(p.Sounds), 100*float64(p.Held)/float64(p.Forecast), p.Forecast)
	}
	if err := t.Flush(); err != nil {
		return fmt.Errorf("trial: write the table: %w", err)
	}
	d := Day(seed, count(2000))
	n := float64(d.Count)
	told := Tell(seed, count(200))
	_, err := fmt.Fprintf(w, "\ndrift: %d days; cents a degree within its 95 %% interval %.1f %%, a strike on stage %.1f %%; interval %.2f c a degree wide, median;\n"+
		"  a lag of ten minutes and more told of %d in %d, of none where there was none but %d in %d\n"+
		"\nsound: struck told as struck %d of %d, blown as blown %d of %d, neither %d\n",
		d.Count, 100*float64(d.Held)/n, 100*float64(d.Stage)/n, Median(d.Width), d.Noticed, d.Lagged, d.Invented, d.NoLag,
		told.StruckRight, told.Struck, told.BlownRight, told.Blown, told.Silent)
	if err != nil {
		return fmt.Errorf("trial: write the table: %w", err)
	}
	return nil
}
