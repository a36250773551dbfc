package main

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
)

// The newest strike of each voice beside those before: as it did, fallen by 40
// cents, too few to say, never struck.
func TestShelfHealth(t *testing.T) {
	home(t, "")
	ctx := context.Background()
	dir := filepath.Join(t.TempDir(), "shelf")
	s, err := catalogue.Open(ctx, dir, catalogue.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name    string
		strikes int
		fall    analysis.Cents // of the last
	}{{"sound jar", 8, 0}, {"hurt jar", 8, 40}, {"new jar", 2, 0}, {"quiet jar", 0, 0}} {
		o, err := s.AddObject(ctx, catalogue.Object{Name: c.name, Kind: analysis.Glass})
		if err != nil {
			t.Fatal(err)
		}
		v, err := s.AddVoice(ctx, catalogue.Voice{Object: o.ID, Place: "rim"})
		if err != nil {
			t.Fatal(err)
		}
		for n := range c.strikes {
			keepMade(t, s, v, n, func(_ int, p *analysis.Partial) {
				if n == c.strikes-1 {
					p.Frequency = p.Frequency.Shift(-c.fall)
				}
			})
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args   []string
		status int
		says   []string
	}{
		{nil, exitFault, []string{"It sounds as it did.", "cents lower", "Too few strikes", "never struck", "consistent with a crack", "hurt jar: "}},
		{[]string{"sound jar", "quiet jar"}, 0, []string{"sound jar, rim  struck", "It sounds as it did."}},
		{[]string{"nobody"}, exitFault, nil},
	} {
		status, out, complaints := shelfRun(dir, append([]string{"health"}, c.args...)...)
		if status != c.status {
			t.Errorf("%q: got status %d, %q, %q, want %d", c.args, status, out, complaints, c.status)
		}
		for _, want := range c.says {
			if strings.Count(out, want) != 1 {
				t.Errorf("%q: got %q, want %q once", c.args, out, want)
			}
		}
	}
}

// keepMade keeps the nth strike of a made-up voice of three partials, each of
// which may be altered.
func keepMade(t *testing.T, s *catalogue.Shelf, v catalogue.Voice, n int, alter func(i int, p *analysis.Partial)) {
	t.Helper()
	k := catalogue.Kept{Voice: v.ID, Analysis: release, Strike: analysis.Strike{ID: fmt.Sprint(v.ID, n), Stage: analysis.Final, Revision: 1,
		Rate: 48000, To: 48000, Time: time.Date(2026, 11, 25, 10, n, 0, 0, time.UTC), Used: 1, Peak: 0.5}}
	for i, ratio := range []float64{1, 2.4, 4.1} {
		p := analysis.Partial{Frequency: analysis.Hz(740 * ratio).Shift(analysis.Cents(0.2 * float64((n*7+i*3)%5))), Sigma: 0.2,
			Level: -6 * float64(i), SigmaLevel: 0.2, T60: 2 + 0.02*float64((n*3+i)%4), SigmaT60: 0.02}
		alter(i, &p)
		k.Partials = append(k.Partials, p)
	}
	k.Heard = &analysis.Pitch{Frequency: k.Partials[0].Frequency, Sigma: 0.2, Basis: analysis.OnPartial, Likelihood: 1}
	if err := s.Keep(context.Background(), k, []byte(k.ID)); err != nil {
		t.Fatal(err)
	}
}
