package trial

import (
	"testing"

	"ringwell/analysis/bench"
)

// What the players must show. Few of them here; `make bench-accuracy` has more.
func TestPlayers(t *testing.T) {
	for _, row := range []struct {
		way     bench.Way
		pouring bench.Pouring
		count   int
		sounds  float64 // median, at most
	}{
		{bench.Struck, bench.Scale, 30, 4},
		{bench.Struck, bench.Eye, 30, 0},
		{bench.Blown, bench.Syringe, 200, 3},
		{bench.Blown, bench.Eye, 200, 0},
	} {
		p := Play(1, row.way, row.pouring, row.count)
		n := float64(p.Count)
		held := float64(p.Held) / float64(p.Forecast)
		t.Logf("%s, by %s: within 5 c %.1f %%, promise kept %.1f %% (median ±%.0f c), median of sounds %g, gave up %d, interval holds %.1f %% of %d; worst %+v",
			row.way, row.pouring, 100*float64(p.Within5)/n, 100*float64(p.Kept)/n, Median(p.Promises), Median(p.Sounds), p.Gave, 100*held, p.Forecast, p.Worst[:3])
		if row.pouring != bench.Eye && float64(p.Within5) < .9*n {
			t.Errorf("%s, by %s: got %d of %d within 5 c, wanted 90 %%", row.way, row.pouring, p.Within5, p.Count)
		}
		if row.sounds > 0 && Median(p.Sounds) > row.sounds {
			t.Errorf("%s, by %s: got a median of %g sounds, wanted %g", row.way, row.pouring, Median(p.Sounds), row.sounds)
		}
		if float64(p.Kept) < .9*n {
			t.Errorf("%s, by %s: promise kept by %d of %d, wanted 90 %%", row.way, row.pouring, p.Kept, p.Count)
		}
		if held < .9 || held > .98 {
			t.Errorf("%s, by %s: the 95 %% interval holds %.3f of %d sounds to come, wanted 0.90 to 0.98", row.way, row.pouring, held, p.Forecast)
		}
	}
}
