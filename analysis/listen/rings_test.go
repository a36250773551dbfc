package listen

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"ringwell/analysis"
	"ringwell/analysis/partial"
)

func component(rate analysis.Rate, f, t60, a, phase float64) partial.Component {
	return partial.Component{
		Omega: 2 * math.Pi * f / float64(rate),
		Decay: analysis.LnThousand / t60 / float64(rate),
		Amp:   cmplx.Rect(a, phase),
	}
}

func TestRingsAreTakenOut(t *testing.T) {
	const rate = 48000
	ring := []partial.Component{component(rate, 440, 1, 0.3, 1), component(rate, 1210, 0.4, 0.1, 2)}
	sound := newHistory(4 * rate)
	sound.clear(1000)
	x := make([]float64, 2*rate)
	for i := range x {
		x[i] = 0.01
	}
	const onset = 1000 + 5000
	partial.Render(x, 1000-onset, ring)
	sound.push(x)

	r := newRings(rate)
	r.reset(1000)
	r.add(onset, math.MaxInt64, ring)
	r.advance(&sound, 1000+2*rate)
	got := r.before(make([]float64, 0, 3*rate), 1000+2*rate)
	if len(got) != 2*rate {
		t.Fatalf("2 s of sound: got %d samples without rings, wanted %d", len(got), 2*rate)
	}
	for i, v := range got {
		if math.Abs(v-0.01) > 1e-9 {
			t.Fatalf("sample %d: got %v with the ring taken out, wanted 0.01", i, v)
		}
	}
	// What lies within a blow is left out, and so are shreds between blows.
	r.blow(onset-100, onset+2000)
	r.blow(onset+2100, onset+4000)
	if got := r.before(got[:0], 1000+2*rate); len(got) != 2*rate-4100 {
		t.Errorf("two blows 100 samples apart: got %d samples, wanted %d", len(got), 2*rate-4100)
	}
}

func TestPruneKeepsWhatCanStillBeHeard(t *testing.T) {
	r := newRings(48000)
	r.add(0, math.MaxInt64, []partial.Component{component(48000, 440, 1, 0.3, 0), component(48000, 900, 0.1, 0.3, 0)})
	r.prune(24000, func(float64) float64 { return 1e-8 })
	if len(r.list) != 1 || len(r.list[0].components) != 1 || math.Abs(r.list[0].components[0].Omega*48000/2/math.Pi-440) > 1e-9 {
		t.Errorf("half a second after T60 of 1 and 0.1 s: got %+v, wanted the first only", r.list)
	}
	r.prune(10*48000, func(float64) float64 { return 1e-8 })
	if len(r.list) != 0 {
		t.Errorf("ten seconds after: got %+v, wanted nothing", r.list)
	}
}

// TestUpdateIsTheMinimum: no other amplitudes near the ones found make the
// stated sum smaller.
func TestUpdateIsTheMinimum(t *testing.T) {
	const rate, floor, from = 8000, 1e-5, -700
	rng := rand.New(rand.NewPCG(3, 3))
	predicted := []partial.Component{
		component(rate, 400, 1, 0.3, 0.3), component(rate, 402, 1.3, 0.2, 2), // a pair 640 samples cannot resolve
		component(rate, 1130, 0.5, 0.1, 1), component(rate, 3000, 0.2, 0.05, 4),
	}
	x := make([]float64, 640)
	for i := range x {
		x[i] = 0.003 * rng.NormFloat64()
	}
	truth := append([]partial.Component(nil), predicted...)
	for i := range truth {
		truth[i].Amp *= cmplx.Rect(1+0.2*rng.NormFloat64(), 0.2*rng.NormFloat64())
	}
	back := append([]partial.Component(nil), truth...)
	for i := range back { // Render knows no time before the onset: move it
		back[i].Amp *= cmplx.Rect(math.Exp(-back[i].Decay*from), back[i].Omega*from)
	}
	partial.Render(x, 0, back)

	noise := max(floor, 1e-3*power(x))
	cost := func(c []partial.Component) float64 {
		left := append([]float64(nil), x...)
		sum := 0.0
		for i, v := range c {
			for n := range left {
				m := float64(from + n)
				left[n] -= real(v.Amp * cmplx.Rect(math.Exp(-v.Decay*m), v.Omega*m))
			}
			sum += math.Pow(cmplx.Abs(v.Amp-predicted[i].Amp)/(doubtShare*cmplx.Abs(predicted[i].Amp)), 2)
		}
		return sum + power(left)*float64(len(left))/noise
	}
	got := append([]partial.Component(nil), predicted...)
	update(got, x, from, floor)
	least := cost(got)
	if before := cost(predicted); least > before/2 {
		t.Errorf("cost: got %v, wanted far less than the prediction's %v", least, before)
	}
	for i := range got {
		for _, d := range []complex128{1e-4, -1e-4, 1e-4i, -1e-4i} {
			moved := append([]partial.Component(nil), got...)
			moved[i].Amp += d
			if c := cost(moved); c < least {
				t.Errorf("component %d moved by %v: got cost %v, less than the %v found", i, d, c, least)
			}
		}
	}
	if e := cmplx.Abs(got[2].Amp - truth[2].Amp); e > 0.003 {
		t.Errorf("component on its own: got amplitude %v, wanted %v within 0.003", got[2].Amp, truth[2].Amp)
	}
}

func TestAnchorMergesOneThingStruckTwice(t *testing.T) {
	const rate = 48000
	r := newRings(rate)
	sound := newHistory(4 * rate)
	sound.clear(0)
	first := []partial.Component{component(rate, 700, 2, 0.3, 0.5), component(rate, 1900, 1, 0.1, 0)}
	again := []partial.Component{component(rate, 700.05, 2, 0.2, 2.5), component(rate, 2500, 1, 0.1, 0)}
	x := make([]float64, rate)
	partial.Render(x, -1000, first)
	partial.Render(x, -20000, again)
	sound.push(x)
	r.add(1000, math.MaxInt64, first)
	r.add(20000, math.MaxInt64, again)
	r.anchor(&sound, 20000, rate, 0, 1e-10)
	if len(r.list) != 1 || len(r.list[0].components) != 3 || r.list[0].onset != rate {
		t.Fatalf("700 Hz twice, 1900 and 2500 Hz: got %+v, wanted three components from sample %d on", r.list, rate)
	}
	// It foretells the next 50 ms as the sum of the two would have gone.
	want, got := make([]float64, 2400), make([]float64, 2400)
	partial.Render(want, rate-1000, first)
	partial.Render(want, rate-20000, again)
	r.takeOut(got, rate)
	for i := range want {
		if math.Abs(want[i]+got[i]) > 2e-3 {
			t.Fatalf("sample %d after the moment: got %v foretold, wanted %v within 0.002", i, -got[i], want[i])
		}
	}
}
