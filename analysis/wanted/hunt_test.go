package wanted_test

import (
	"cmp"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
	"ringwell/analysis/listen"
	"ringwell/analysis/wanted"
)

var (
	shopSize = flag.Int("shop", 24, "objects in the hunt replayed; 200 gives the figures that are told")
	shopSeed = flag.Uint64("seed", 1, "of the shop in the hunt replayed")
)

// deadline is how long after a strike's first telling its verdict must be
// right.
const deadline = 0.150 // s of sound

// tally counts verdicts.
type tally struct {
	objects, heard  int
	right, wrongYes int
	edge            int // right but for half a cent
	late            int // right, but only after the deadline
	extra, extraYes int // pitched strikes that were no object's
	first           []float64
	wrong           []string
}

func (c tally) String() string {
	slices.Sort(c.first)
	median := math.NaN()
	if len(c.first) > 0 {
		median = c.first[len(c.first)/2] * 1000
	}
	n := float64(c.objects)
	return fmt.Sprintf("%4d objects: heard %5.1f %%, right %5.1f %% and %4.1f %% on an edge, right later %4.1f %%, wrong yes %4.2f %%, first told at %3.0f ms (median); %d strikes of no object, %d of them yes",
		c.objects, 100*float64(c.heard)/n, 100*float64(c.right)/n, 100*float64(c.edge)/n, 100*float64(c.late)/n,
		100*float64(c.wrongYes+c.extraYes)/n, median, c.extra, c.extraYes)
}

// TestHuntReplayed strikes every object of a seeded shop amid talk and clatter
// and holds the answers against what the objects truly are. The figures of the
// whole shop:
//
//	go test -run TestHuntReplayed -v ./analysis/wanted -shop 200
//
// An object that lies within half a cent of where answers turn is right on
// either side of it, but for a yes: two strikes of one object agree no better,
// and such a yes is still counted as a wrong one.
//
// The level of the surroundings is told against the first quarter of a second
// of a strike, mean power against mean power.
func TestHuntReplayed(t *testing.T) {
	for _, snr := range []float64{20, 10} {
		t.Run(fmt.Sprintf("%.0f dB", snr), func(t *testing.T) {
			t.Parallel()
			c := replay(t, *shopSize, snr, *shopSeed)
			t.Log(c)
			for _, w := range c.wrong {
				t.Log(w)
			}
			least := map[float64]float64{20: 0.99, 10: 0.95}[snr]
			n := float64(c.objects)
			// Of a few objects two may be the few in a hundred.
			allowed := max(2, math.Floor(n*(1-least)+1e-9))
			if miss := float64(c.objects - c.right - c.edge); miss > allowed {
				t.Errorf("%d objects at %.0f dB, seed %d: got %.0f wrong verdicts, wanted at most %.0f (%.0f %% right)",
					c.objects, snr, *shopSeed, miss, allowed, 100*least)
			}
			if yes := float64(c.wrongYes + c.extraYes); yes > math.Floor(n*0.005+1e-9) {
				t.Errorf("%d objects at %.0f dB, seed %d: got %.0f wrong yes, wanted at most 0.5 %%", c.objects, snr, *shopSeed, yes)
			}
		})
	}
}

// replay hears a shop at a signal-to-noise ratio in dB.
func replay(t *testing.T, size int, snr float64, seed uint64) tally {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 20261125))
	in, err := instrument.ByName("vibraphone", 440)
	if err != nil {
		t.Fatal(err)
	}
	list, faults := wanted.Parse(wants)
	if len(faults) > 0 || len(list.Places) != 12 {
		t.Fatalf("the list of the hunt: got %d places, %v, wanted 12 and no fault", len(list.Places), faults)
	}
	shop := draws(size, &list, in, r)
	x, onsets := strikes(shop, r)
	noise := clutter(len(x), r)
	quarter := int(0.25 * float64(rate))
	var power float64
	for _, at := range onsets {
		power += meanSquare(x[at:int(at)+quarter]) / float64(len(onsets))
	}
	gain := math.Sqrt(power * math.Pow(10, -snr/10))
	for i := range x {
		x[i] += gain * noise[i]
	}
	told := hear(x)
	c := tally{objects: size}
	owned := map[string]bool{}
	for i, thing := range shop {
		want := list.Hold(wanted.Hand{Heard: &analysis.Pitch{Frequency: thing.heard}}, in, wanted.Usual)
		tellings := at(told, onsets[i])
		if len(tellings) == 0 {
			c.wrong = append(c.wrong, fmt.Sprintf("object %d, %s: not heard", i, thing.describe()))
			continue
		}
		owned[tellings[0].ID] = true
		c.heard++
		c.first = append(c.first, tellings[0].Used)
		due := tellings[0]
		for _, s := range tellings {
			if s.Used <= tellings[0].Used+deadline {
				due = s
			}
		}
		got := list.Hold(wanted.HandOf(due, analysis.Unknown), in, wanted.Usual)
		same := func(v wanted.Verdict) bool {
			return v.Answer == want.Answer && (v.Answer == wanted.NotWanted || v.Place == want.Place)
		}
		if got.Answer == wanted.Yes && !same(got) {
			c.wrongYes++
		}
		if same(got) {
			c.right++
			continue
		}
		if got.Answer != wanted.Yes && slices.ContainsFunc([]analysis.Cents{-0.5, 0.5}, func(c analysis.Cents) bool {
			v := list.Hold(wanted.Hand{Heard: &analysis.Pitch{Frequency: thing.heard.Shift(c)}}, in, wanted.Usual)
			return v.Answer == got.Answer && v.Place == got.Place
		}) {
			c.edge++
			continue
		}
		last := tellings[len(tellings)-1]
		if same(list.Hold(wanted.HandOf(last, analysis.Unknown), in, wanted.Usual)) {
			c.late++
		}
		c.wrong = append(c.wrong, fmt.Sprintf("object %d, %s\n  told after %.0f ms (%s, likelihood %.2f): %s (%s) at %.2f±%.2f c of %.0f; truly %s (%s) at %.2f c; finally %.2f±%.2f c off",
			i, thing.describe(), 1000*due.Used, due.Stage, due.Heard.Likelihood, list.Words(got, 440), got.Reason, got.Cents, got.Sigma, got.Within,
			list.Words(want, 440), want.Reason, want.Cents, last.Heard.Frequency.Above(thing.heard), last.Heard.Sigma))
	}
	for _, s := range told {
		if s.Heard == nil || owned[s.ID] {
			continue
		}
		if s.Stage == analysis.Final {
			c.extra++
		}
		got := list.Hold(wanted.HandOf(s, analysis.Unknown), in, wanted.Usual)
		if got.Answer != wanted.Yes {
			continue
		}
		// The ring of an object that is heard once more, after a knock, may
		// still be that object's yes.
		before, _ := slices.BinarySearch(onsets, s.Onset)
		if before > 0 {
			want := list.Hold(wanted.Hand{Heard: &analysis.Pitch{Frequency: shop[before-1].heard}}, in, wanted.Usual)
			if want.Answer == wanted.Yes && want.Place == got.Place {
				continue
			}
		}
		owned[s.ID] = true // counted once
		c.extraYes++
		c.wrong = append(c.wrong, fmt.Sprintf("no object's strike at %.2f s: %s (%s, %.2f±%.2f c)", rate.Seconds(s.Onset), list.Words(got, 440), s.Stage, got.Cents, got.Sigma))
	}
	return c
}

// hear runs the whole ear over x and returns all tellings.
func hear(x []float64) []analysis.Strike {
	n := 0
	ear := listen.New(rate, listen.Options{
		ClockPPM: analysis.UncalibratedClockPPM, Epoch: time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC),
		NewID: func(time.Time) string { n++; return fmt.Sprintf("%06d", n) },
	})
	var told []analysis.Strike
	for start := 0; start < len(x); start += 480 {
		end := min(start+480, len(x))
		told = append(told, ear.Step(analysis.Block{Start: int64(start), Samples: x[start:end]})...)
	}
	return append(told, ear.Flush()...)
}

// at returns the tellings with a pitch of the strike at an onset, by revision.
func at(told []analysis.Strike, onset int64) []analysis.Strike {
	var found []analysis.Strike
	for _, s := range told {
		if s.Heard != nil && math.Abs(float64(s.Onset-onset)) < 0.030*float64(rate) {
			found = append(found, s)
		}
	}
	slices.SortStableFunc(found, func(a, b analysis.Strike) int { return cmp.Compare(a.Revision, b.Revision) })
	return found
}
