package onset

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"ringwell/analysis"
)

// scene is sound made from formulas, so that every strike's moment is known.
type scene struct {
	rate analysis.Rate
	x    []float64
	rng  *rand.Rand
}

func newScene(rate analysis.Rate, seconds, noise float64, seed uint64) *scene {
	s := &scene{rate: rate, x: make([]float64, int(float64(rate)*seconds)), rng: rand.New(rand.NewPCG(seed, 1))}
	for i := range s.x {
		s.x[i] = noise * s.rng.NormFloat64()
	}
	return s
}

// ring adds a·exp(-t ln1000/t60)·sin(2πft+phase) from the moment on.
func (s *scene) ring(at, a, f, t60, phase float64) {
	if f > 0.45*float64(s.rate) {
		return
	}
	first := int(math.Ceil(at * float64(s.rate)))
	for i := first; i < len(s.x); i++ {
		t := float64(i)/float64(s.rate) - at
		s.x[i] += a * math.Exp(-t*analysis.LnThousand/t60) * math.Sin(2*math.Pi*f*t+phase)
	}
}

// strike adds a free bar: ratios of a uniform bar free at both ends, with
// shorter rings for higher modes, and a contact click of 3 ms.
func (s *scene) strike(at, a, f, t60 float64) {
	for k, ratio := range []float64{1, 2.757, 5.404, 8.933} {
		s.ring(at, a*math.Pow(0.6, float64(k)), f*ratio, t60/math.Pow(ratio, 0.8), s.rng.Float64()*2*math.Pi)
	}
	first := int(math.Ceil(at * float64(s.rate)))
	n := s.rate.Samples(3e6)
	for i := first; i < min(first+n, len(s.x)); i++ {
		w := math.Sin(math.Pi * float64(i-first) / float64(n))
		s.x[i] += 0.3 * a * w * w * s.rng.NormFloat64()
	}
}

func (s *scene) find() []Event {
	f := New(s.rate, 1.0/32768)
	var found []Event
	for i := 0; i+f.Hop() <= len(s.x); i += f.Hop() {
		if e, ok := f.Step(s.x[i : i+f.Hop()]); ok {
			if e.Instead && len(found) > 0 {
				found = found[:len(found)-1]
			}
			found = append(found, e)
		}
	}
	return found
}

// match fails for each strike that was not found within 3 ms, and returns how
// many other events there were, Start ones aside.
func (s *scene) match(t *testing.T, strikes []float64) (extra int) {
	t.Helper()
	found := s.find()
	used := make([]bool, len(found))
	for _, at := range strikes {
		best, nearest := -1, math.Inf(1)
		for i, e := range found {
			if d := s.rate.Seconds(e.At) - at; math.Abs(d) < math.Abs(nearest) {
				best, nearest = i, d
			}
		}
		if math.Abs(nearest) > 0.003 {
			t.Errorf("strike at %.4f s: nearest event %+.1f ms away, wanted one within 3 ms; events %v", at, 1000*nearest, s.list(found))
			continue
		}
		used[best] = true
	}
	for i, e := range found {
		if !used[i] && !e.Start {
			extra++
			t.Logf("extra event at %.4f s, strength %.2f", s.rate.Seconds(e.At), e.Strength)
		}
	}
	return extra
}

func (s *scene) list(found []Event) (l []string) {
	for _, e := range found {
		l = append(l, fmt.Sprintf("%.4f s (%.1f)", s.rate.Seconds(e.At), e.Strength))
	}
	return l
}

func TestFindsStrikes(t *testing.T) {
	every := func(from, gap float64, n int) (at []float64) {
		for i := range n {
			at = append(at, from+gap*float64(i))
		}
		return at
	}
	cases := []struct {
		name    string
		strikes []float64
		make    func(s *scene, at []float64)
		noise   float64
	}{
		{"one on a quiet floor", []float64{0.5}, func(s *scene, at []float64) { s.strike(at[0], 0.3, 440, 1.5) }, 1e-4},
		{"at the first sample", []float64{0}, func(s *scene, at []float64) { s.strike(at[0], 0.3, 440, 1.5) }, 1e-5},
		{"after 2 ms", []float64{0.002}, func(s *scene, at []float64) { s.strike(at[0], 0.3, 440, 1.5) }, 1e-5},
		{"after 15 ms", []float64{0.015}, func(s *scene, at []float64) { s.strike(at[0], 0.3, 440, 1.5) }, 1e-4},
		{"after 25 ms", []float64{0.025}, func(s *scene, at []float64) { s.strike(at[0], 0.3, 440, 1.5) }, 1e-4},
		{"after 50 ms", []float64{0.05}, func(s *scene, at []float64) { s.strike(at[0], 0.3, 440, 1.5) }, 1e-4},
		{"eight, 120 ms apart, one object", every(0.4, 0.12, 8), func(s *scene, at []float64) {
			for _, a := range at {
				s.strike(a, 0.3, 440, 1.5)
			}
		}, 1e-4},
		{"eight, 250 ms apart, long ring", every(0.4, 0.25, 8), func(s *scene, at []float64) {
			for _, a := range at {
				s.strike(a, 0.2, 600, 5)
			}
		}, 1e-4},
		{"30 dB quieter beside a loud ring", []float64{0.4, 1.0}, func(s *scene, at []float64) {
			s.strike(at[0], 0.5, 500, 4)
			s.strike(at[1], 0.5*math.Pow(10, -30.0/20), 1330, 0.5)
		}, 1e-4},
		{"in noise, 20 dB above it", []float64{0.8, 1.6}, func(s *scene, at []float64) {
			s.strike(at[0], 0.3, 440, 1)
			s.strike(at[1], 0.3, 700, 1)
		}, 0.02},
		{"dull wood", every(0.5, 0.3, 4), func(s *scene, at []float64) {
			for _, a := range at {
				s.strike(a, 0.3, 300, 0.12)
			}
		}, 3e-4},
	}
	for _, rate := range []analysis.Rate{8000, 44100, 48000, 96000} {
		for _, c := range cases {
			t.Run(fmt.Sprintf("%s at %v", c.name, rate), func(t *testing.T) {
				s := newScene(rate, 2.6, c.noise, 7)
				c.make(s, c.strikes)
				if extra := s.match(t, c.strikes); extra > 0 {
					t.Errorf("given %d strikes: got %d events too many", len(c.strikes), extra)
				}
			})
		}
	}
}

// TestNothingStruck: sounds that go on give no event once they have begun.
func TestNothingStruck(t *testing.T) {
	cases := []struct {
		name string
		make func(s *scene)
	}{
		{"white noise", func(s *scene) {
			for i := range s.x {
				s.x[i] += 0.05 * s.rng.NormFloat64()
			}
		}},
		{"pink noise", func(s *scene) { s.pink(0.05) }},
		{"mains hum", func(s *scene) {
			for k := 1; k < 9; k++ {
				s.ring(0, 0.1/float64(k), 50*float64(k), 1e9, float64(k))
			}
		}},
		{"silence", func(s *scene) { clear(s.x) }},
		{"slow swell", func(s *scene) {
			for i := range s.x {
				t := float64(i) / float64(s.rate)
				s.x[i] += 0.2 * math.Sin(2*math.Pi*330*t) * (0.5 - 0.5*math.Cos(2*math.Pi*t/4))
			}
		}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			s := newScene(48000, 30, 1e-5, 3)
			c.make(s)
			if extra := s.match(t, nil); extra > 0 {
				t.Errorf("30 s of %s: got %d events, wanted none", c.name, extra)
			}
		})
	}
}

// pink adds noise of the given root mean square, 1/f by summing octaves of
// held random numbers (Voss's way, as told by Gardner 1978; from memory).
func (s *scene) pink(rms float64) {
	var held [14]float64
	for i := range s.x {
		sum := 0.0
		for k := range held {
			if i%(1<<k) == 0 {
				held[k] = s.rng.NormFloat64()
			}
			sum += held[k]
		}
		s.x[i] += rms * sum / math.Sqrt(float64(len(held)))
	}
}

// TestBeatIsBarelyAStrike: two near modes of one bowl beat; what that gives is
// weak, so that the ear can tell it from a strike by looking closer.
func TestBeatIsBarelyAStrike(t *testing.T) {
	for _, beat := range []float64{0.5, 2, 4, 6} {
		s := newScene(48000, 4, 1e-4, 5)
		s.strike(0.4, 0.2, 560, 5)
		s.ring(0.4, 0.19, 560+beat, 5, 1)
		for _, e := range s.find()[1:] {
			if s.rate.Seconds(e.At) > 0.41 && e.Strength >= 3 {
				t.Errorf("beat of %v Hz: got an event of strength %.2f at %.3f s, wanted less than 3", beat, e.Strength, s.rate.Seconds(e.At))
			}
		}
	}
}

func TestStepDoesNotAllocate(t *testing.T) {
	s := newScene(48000, 3, 1e-4, 9)
	for _, at := range []float64{0.3, 0.8, 1.3, 1.8, 2.3} {
		s.strike(at, 0.3, 440, 1)
	}
	f := New(s.rate, 0)
	i, found := 0, 0
	allocs := testing.AllocsPerRun(len(s.x)/f.Hop()-2, func() {
		if _, ok := f.Step(s.x[i : i+f.Hop()]); ok {
			found++
		}
		i += f.Hop()
	})
	if allocs != 0 || found < 5 {
		t.Errorf("3 s with 5 strikes: got %v allocations a hop and %d events, wanted 0 and at least 5", allocs, found)
	}
}

// TestDecidesSoon: an answer within 80 ms of the strike needs the strike itself
// within 20.
func TestDecidesSoon(t *testing.T) {
	s := newScene(48000, 1, 1e-4, 2)
	s.strike(0.5, 0.3, 440, 1)
	f := New(s.rate, 0)
	for i := 0; i+f.Hop() <= len(s.x); i += f.Hop() {
		if e, ok := f.Step(s.x[i : i+f.Hop()]); ok && !e.Start {
			if late := 1000 * s.rate.Seconds(int64(i+f.Hop())-e.At); late > 20 {
				t.Errorf("strike at 0.5 s: told %.1f ms after it, wanted at most 20", late)
			}
			return
		}
	}
	t.Error("strike at 0.5 s: not found")
}

func TestResumeForgetsTheSoundAndRestartTheRoom(t *testing.T) {
	s := newScene(48000, 1, 1e-3, 2)
	f := New(s.rate, 0)
	for i := 0; i+f.Hop() <= len(s.x); i += f.Hop() {
		f.Step(s.x[i : i+f.Hop()])
	}
	room := f.floor
	f.Resume(1e6)
	// The same room, louder by 20 dB at the first sample after the pause: no
	// strike, because what came before is unknown.
	for i := range s.x {
		s.x[i] *= 10
	}
	for i := 0; i+f.Hop() <= len(s.x); i += f.Hop() {
		if e, ok := f.Step(s.x[i : i+f.Hop()]); ok {
			t.Errorf("after Resume: got an event at %d (Start %v), wanted none", e.At, e.Start)
		}
		if i == 0 && f.floor[bandCount-1] != room[bandCount-1] {
			t.Errorf("after Resume: got floor %v in the highest band, wanted the one before, %v", f.floor[bandCount-1], room[bandCount-1])
		}
	}
	f.Restart(2e6)
	if e, ok := f.stepAll(s.x); !ok || !e.Start || e.At != 2e6 {
		t.Errorf("after Restart in noise: got event %+v, wanted Start at 2000000", e)
	}
}

// stepAll steps until the first event.
func (f *Finder) stepAll(x []float64) (Event, bool) {
	for i := 0; i+f.Hop() <= len(x); i += f.Hop() {
		if e, ok := f.Step(x[i : i+f.Hop()]); ok {
			return e, ok
		}
	}
	return Event{}, false
}

// A slow twin of the band energies: the Fourier sum written out.
func TestBandEnergiesAgreeWithTheSum(t *testing.T) {
	s := newScene(16000, 0.1, 0.1, 4)
	b := newBands(s.rate)
	n := len(b.window)
	var got [bandCount]float64
	b.energies(&got, s.x[:n])
	for k := range got {
		want := 0.0
		for bin := b.edge[k]; bin < b.edge[k+1]; bin++ {
			re, im := 0.0, 0.0
			for i := range n {
				w := 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(n))
				sin, cos := math.Sincos(2 * math.Pi * float64(bin*i) / float64(n))
				re += w * s.x[i] * cos
				im += w * s.x[i] * sin
			}
			want += re*re + im*im
		}
		if math.Abs(got[k]-want) > 1e-9*want {
			t.Errorf("band %d: got energy %v, wanted %v", k, got[k], want)
		}
	}
}

func TestNthAgreesWithSorting(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for n := 1; n < 40; n++ {
		x := make([]float64, n)
		for i := range x {
			x[i] = math.Floor(rng.Float64() * 10)
		}
		sorted := slices.Sorted(slices.Values(x))
		for k := range x {
			if got := nth(slices.Clone(x), k); got != sorted[k] {
				t.Errorf("smallest but %d of %v: got %v, wanted %v", k, x, got, sorted[k])
			}
		}
	}
}

func BenchmarkStep(b *testing.B) {
	s := newScene(48000, 10, 1e-3, 1)
	f := New(s.rate, 0)
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		if i+f.Hop() > len(s.x) {
			i = 0
		}
		f.Step(s.x[i : i+f.Hop()])
		i += f.Hop()
	}
	b.ReportMetric(100*float64(b.Elapsed().Seconds())/(float64(b.N)*s.rate.Seconds(int64(f.Hop()))), "%core")
}
