package catalogue

import (
	"context"
	"errors"
	"io/fs"
	"testing"

	"ringwell/analysis"
)

// Interrupted after any number of strikes, measuring again goes on where it
// was.
func TestRemeasureGoesOn(t *testing.T) {
	ctx := context.Background()
	s := openShelf(t, t.TempDir())
	_, v := jar(t, s)
	const all = 7
	for n := range all {
		keep(t, s, v.ID, n)
	}
	seen := 0
	for {
		some, err := s.Stale(ctx, "ear 4", "", 3) // the first of a fresh start each time
		if err != nil {
			t.Fatal(err)
		}
		if len(some) == 0 {
			break
		}
		for _, k := range some {
			seen++
			m := analysis.Strike{Rate: k.Rate, Used: 2, Peak: 0.5, Heard: &analysis.Pitch{Frequency: 800, Sigma: 0.1, Basis: analysis.OnPartial, Likelihood: 1},
				Partials: []analysis.Partial{{Frequency: 800, Sigma: 0.1}}}
			if err := s.Remeasure(ctx, k.ID, m, "ear 4"); err != nil {
				t.Fatal(err)
			}
		}
	}
	if seen != all {
		t.Errorf("measured %d strikes again, want each of %d once", seen, all)
	}
	k, err := s.Strike(ctx, strikeOf("", 3).ID)
	want := strikeOf(v.ID, 3)
	if err != nil || k.Analysis != "ear 4" || len(k.Partials) != 1 || len(k.Remarks) != 0 || !k.Time.Equal(want.Time) || k.Input != want.Input || k.Recording != hash(soundOf(3)) {
		t.Errorf("got %+v, %v, want it measured anew and otherwise as it was", k, err)
	}
	if f, err := s.Figures(ctx, v.ID); err != nil || f.Pitch != 800 || f.Strikes != all {
		t.Errorf("figures: got %+v, %v, want %d strikes at 800 Hz", f, err, all)
	}
	if err := s.Remeasure(ctx, "nobody", k.Strike, "ear 4"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("no such strike: got %v, want fs.ErrNotExist", err)
	}
}
