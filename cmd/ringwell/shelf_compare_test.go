package main

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
)

// Two supports of one tile, called as the list has them.
func TestShelfCompareSupports(t *testing.T) {
	home(t, "")
	ctx := context.Background()
	dir := filepath.Join(t.TempDir(), "shelf")
	s, err := catalogue.Open(ctx, dir, catalogue.Options{})
	if err != nil {
		t.Fatal(err)
	}
	o, err := s.AddObject(ctx, catalogue.Object{Name: "tile, grey", Kind: analysis.Plate})
	if err != nil {
		t.Fatal(err)
	}
	for _, support := range []string{"felt", "foam"} {
		v, err := s.AddVoice(ctx, catalogue.Voice{Object: o.ID, Place: "middle", Support: support})
		if err != nil {
			t.Fatal(err)
		}
		for n := range 6 {
			keepMade(t, s, v, n, func(i int, p *analysis.Partial) {
				if support == "foam" && i == 1 {
					p.T60 *= 2.3
				}
			})
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		a, b          string
		status        int
		out, complain string
	}{
		{"tile, grey, felt", "tile, grey, middle, foam", 0, "The partial at 1777 Hz rings 2.3 times as long.\n", ""},
		{"tile, grey, middle", "tile, grey, foam", exitFault, "", "2 voices are called tile, grey, middle"},
		{"tile, grey, wool", "tile, grey, foam", exitFault, "", "nothing on the shelf is called tile, grey, wool"},
		{"tile, grey, ", "tile, grey, foam", exitFault, "", "nothing on the shelf is called"},
	} {
		status, out, complaints := shelfRun(dir, "compare", c.a, c.b)
		if status != c.status || !strings.HasSuffix(out, c.out) || strings.Count(out, "The partial") > 1 || !strings.Contains(complaints, c.complain) {
			t.Errorf("%q with %q: got status %d, %q, %q, want %d, %q alone, %q", c.a, c.b, status, out, complaints, c.status, c.out, c.complain)
		}
	}
}
