package trial

import "testing"

// What days must show; a hundred more in `make bench-accuracy`.
func TestDays(t *testing.T) {
	d := Day(1, 600)
	n := float64(d.Count)
	t.Logf("%d days: slope within its interval %.1f %%, strike on stage %.1f %%; median width %.2f c a degree; lag noticed %d of %d, invented %d of %d",
		d.Count, 100*float64(d.Held)/n, 100*float64(d.Stage)/n, Median(d.Width), d.Noticed, d.Lagged, d.Invented, d.NoLag)
	for what, got := range map[string]int{"slopes": d.Held, "strikes on stage": d.Stage} {
		if share := float64(got) / n; share < .93 || share > .985 {
			t.Errorf("%s within the 95 %% interval: got %.3f of %d, wanted 0.93 to 0.985", what, share, d.Count)
		}
	}
}
