package hearing

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"ringwell/analysis"
)

// again is the same object struck elsewhere, with all its modes moved by shift
// in cents: levels by 6 dB and ratios by 3 cents (standard deviations), a fifth
// of the partials missing, two of the room's added. kept is where the partial
// with index pin is now, -1 for nowhere.
func again(r *rand.Rand, ps []analysis.Partial, pin int, shift float64) (out []analysis.Partial, kept int) {
	kept = -1
	for i, p := range ps {
		if i != pin && r.Float64() < 0.2 {
			continue
		}
		if i == pin {
			kept = len(out)
		}
		p.Frequency = p.Frequency.Shift(analysis.Cents(shift + 3*r.NormFloat64()))
		p.Level += 6 * r.NormFloat64()
		out = append(out, p)
	}
	for range 2 {
		out = append(out, analysis.Partial{Frequency: analysis.Hz(logUniform(r, 200, 6000)), Level: uniform(r, -45, -30), T60: uniform(r, .05, .3)})
	}
	return out, kept
}

// An object is known again and its pitch stays on the partial that was pinned;
// another object, of its own family or of another, is not taken for it.
func TestPinFollowsItsPartial(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 11))
	fs := families()
	own, refused, other, strange, taken, moved := 0, 0, 0, 0, 0, 0
	for k, f := range fs {
		for range 200 {
			ps := f.make(r).partials
			i := r.IntN(len(ps))
			pin, err := PinTo(ps, i)
			if err != nil {
				t.Fatal(err)
			}
			now, kept := again(r, ps, i, uniform(r, -90, 90))
			own++
			switch got := pin.find(now, 100); {
			case got < 0:
				refused++
			case got != kept:
				other++
			}
			// A strange object with a partial of its own near the pinned one.
			q := fs[(k+1+r.IntN(len(fs)-1))%len(fs)].make(r).partials
			by := float64(pin.Frequency.Above(q[r.IntN(len(q))].Frequency)) + uniform(r, -50, 50)
			for j := range q {
				q[j].Frequency = q[j].Frequency.Shift(analysis.Cents(by))
			}
			strange++
			if pin.find(q, 100) >= 0 {
				taken++
			}
			// The same water takes an octave of reach to follow.
			if now, kept = again(r, ps, i, uniform(r, -1100, -900)); pin.find(now, 1200) != kept {
				moved++
			}
		}
	}
	t.Logf("of %d own strikes: refused %d, put on another partial %d; of %d strange: taken for own %d; of %d moved by an octave: lost %d", own, refused, other, strange, taken, own, moved)
	if refused > own*4/100 || other > own/100 || taken > strange*3/100 || moved > own*6/100 {
		t.Errorf("of %d own strikes: refused %d, put on another partial %d; of %d strange: taken for own %d; moved and lost %d; wanted at most 4, 1, 3 and 6 %%", own, refused, other, strange, taken, moved)
	}
}

// Two takes of one real object, and other objects.
func TestPinFollowsRealObjects(t *testing.T) {
	all := append(recordings(t), unseen(t)...)
	find := func(name string) []analysis.Partial {
		for _, r := range all {
			if r.Name == name {
				return r.partials()
			}
		}
		t.Fatalf("there is no recording %q", name)
		return nil
	}
	takes := []struct {
		thing, pinned, again string
		hz                   analysis.Hz
	}{
		{"high glass", "glass_hi", "glass_hi_soft", 2490}, {"high glass", "glass_hi", "obj_gah_WaterglassHi_Med", 2490},
		{"low glass", "obj_gah_WaterglassLo_Med", "obj_gah_WaterglassLo_Softest", 2396},
		{"agogo", "agogo_hi", "obj_fz_AgogoHigh_3", 3336}, {"agogo", "obj_fz_AgogoHigh_1", "obj_fz_AgogoHigh_3", 4280},
		{"cowbell", "obj_gah_Cowbell_Soft", "cowbell_gh", 459},
	}
	for _, c := range takes {
		ps := find(c.pinned)
		i := slices.IndexFunc(ps, func(p analysis.Partial) bool { return math.Abs(float64(p.Frequency-c.hz)) < 2 })
		pin, err := PinTo(ps, i)
		if err != nil {
			t.Fatal(err)
		}
		now := pin.Heard(find(c.again), 100)
		if now == nil || math.Abs(float64(now.Frequency.Above(pin.Frequency))) > 25 {
			t.Errorf("%s pinned to %.1f Hz: in %s got %v, wanted that partial", c.pinned, pin.Frequency, c.again, now)
		}
		for _, o := range takes {
			if now := pin.Heard(find(o.pinned), 100); o.thing != c.thing && now != nil {
				t.Errorf("%s pinned to %.1f Hz: took %s for it, at %.1f Hz", c.pinned, pin.Frequency, o.pinned, now.Frequency)
			}
		}
	}
}

func TestPinnedPitch(t *testing.T) {
	jar := []analysis.Partial{
		{Frequency: 884, Sigma: .1, Level: -6, T60: 1.9}, {Frequency: 2096, Sigma: .2, Level: 0, T60: .8}, {Frequency: 3760, Sigma: .4, Level: -9, T60: .4},
	}
	pin, err := PinTo(jar, 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name string
		ps   []analysis.Partial
		hz   float64 // 0: not this object
		at   int
	}{
		{"the strike itself", jar, 2096, 1},
		{"warmer by 2 cents", []analysis.Partial{{Frequency: 883, Level: 0, T60: 1.9}, {Frequency: 2093.6, Level: -12, T60: .8}, {Frequency: 3755.7, Level: -20, T60: .4}}, 2093.6, 1},
		{"the pinned mode as a pair", []analysis.Partial{{Frequency: 884, Level: -6, T60: 1.9}, {Frequency: 2095, Level: 0, T60: .8}, {Frequency: 2097, Level: 0, T60: .8}, {Frequency: 3760, Level: -9, T60: .4}}, 2096, 1},
		{"struck where the mode has a node", []analysis.Partial{{Frequency: 884, Level: 0, T60: 1.9}, {Frequency: 3760, Level: -9, T60: .4}}, 0, -1},
		{"another jar", []analysis.Partial{{Frequency: 1010, Level: 0, T60: 1.9}, {Frequency: 2100, Level: -3, T60: .8}, {Frequency: 4100, Level: -9, T60: .4}}, 0, -1},
		{"nothing", nil, 0, -1},
		{"not numbers", []analysis.Partial{{Frequency: analysis.Hz(math.NaN())}, {Frequency: 2096, Level: math.Inf(1)}}, 0, -1},
	} {
		got := pin.Heard(c.ps, 100)
		switch {
		case c.hz == 0 && got != nil:
			t.Errorf("%s: got %.2f Hz, wanted nothing", c.name, got.Frequency)
		case c.hz > 0 && (got == nil || math.Abs(float64(got.Frequency)-c.hz) > .01 || got.Partial != c.at && c.ps[got.Partial].Frequency != 2097 || got.Likelihood != 1):
			t.Errorf("%s: got %+v, wanted %.2f Hz on partial %d", c.name, got, c.hz, c.at)
		}
	}
	alone := []analysis.Partial{{Frequency: 460, T60: .5}}
	if pin, err = PinTo(alone, 0); err != nil || pin.Heard(alone, 100) == nil || pin.Heard(jar, 100) != nil {
		t.Errorf("one partial alone: got %v, %v and %v; wanted itself and no jar", err, pin.Heard(alone, 100), pin.Heard(jar, 100))
	}
	for _, i := range []int{-1, 3} {
		if _, err := PinTo(jar, i); !errors.Is(err, ErrNoPartial) {
			t.Errorf("partial %d of 3: got %v, wanted %v", i, err, ErrNoPartial)
		}
	}
}

// The order in which partials are listed does not matter, and no numbers break
// it.
func FuzzPin(f *testing.F) {
	f.Add(440.0, 0.0, 1.0, 880.0, -6.0, 0.5, 100.0)
	f.Add(1e-300, 1e300, -1.0, math.Inf(1), math.NaN(), 0.0, math.NaN())
	f.Fuzz(func(t *testing.T, f1, l1, t1, f2, l2, t2, reach float64) {
		ps := []analysis.Partial{{Frequency: analysis.Hz(f1), Level: l1, T60: t1}, {Frequency: analysis.Hz(f2), Level: l2, T60: t2}, {Frequency: 1000}}
		for i := range ps {
			pin, err := PinTo(ps, i)
			if err != nil {
				continue
			}
			a := pin.Heard(ps, analysis.Cents(reach))
			mixed := slices.Clone(ps)
			slices.Reverse(mixed)
			b := pin.Heard(mixed, analysis.Cents(reach))
			if (a == nil) != (b == nil) || a != nil && math.Abs(float64(a.Frequency/b.Frequency-1)) > 1e-9 {
				t.Fatalf("given %v: got %v and, reversed, %v", ps, a, b)
			}
			if a != nil && !(a.Frequency > 0 && a.Sigma >= 0 && a.Partial < len(ps)) {
				t.Fatalf("given %v: got %+v", ps, *a)
			}
		}
	})
}
