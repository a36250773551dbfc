package partial

import (
	"encoding/binary"
	"math"
	"testing"

	"ringwell/analysis"
)

// sane fails on anything a reading must not hold.
func sane(t *testing.T, r Reading, sound int) {
	t.Helper()
	number := func(what string, v float64) {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			t.Fatalf("%s: got %g, want a number (%+v)", what, v, r)
		}
	}
	number("explained", r.Explained)
	number("rise", r.RiseMS)
	number("first", r.FirstDB)
	if r.Explained < 0 || r.Explained > 1 || r.FirstDB > 0 || r.N < 0 || r.N > sound || r.Broke > sound || r.Clipped > sound {
		t.Fatalf("out of range: %+v, sound %d", r, sound)
	}
	if len(r.Ring) > polesMost || len(r.Partials) > len(r.Ring) {
		t.Fatalf("got %d poles and %d partials, want at most %d, and no more partials than poles", len(r.Ring), len(r.Partials), polesMost)
	}
	for i, p := range r.Partials {
		for _, v := range []float64{float64(p.Frequency), float64(p.Sigma), p.Level, p.SigmaLevel, p.T60, p.SigmaT60, p.Beat, p.SigmaBeat} {
			number("partial", v)
		}
		for a := range 4 {
			for b := range 4 {
				number("covariance", p.Cov[a][b])
				number("cross covariance", p.Cross[a][b])
			}
		}
		if p.Frequency <= 0 || p.Sigma < 0 || p.Level > 0 || p.T60 < 0 || p.SigmaBeat < 0 || i > 0 && p.Frequency < r.Partials[i-1].Frequency {
			t.Fatalf("partial %d out of range or order: %+v", i, p)
		}
		if (p.Pair != 0) != (p.Beat > 0) {
			t.Fatalf("partial %d: pair %d with a beat of %g Hz", i, p.Pair, p.Beat)
		}
	}
	for _, c := range r.Ring {
		number("amplitude", real(c.Amp)+imag(c.Amp))
		if !(c.Omega > 0 && c.Omega < math.Pi && c.Decay > 0) {
			t.Fatalf("pole out of range: %+v", c)
		}
	}
}

// sound unpacks bytes as 64-bit floats, each repeated so that short inputs
// make long sounds, with a decay so that some of them ring.
func sound(data []byte, n int) []float64 {
	x := make([]float64, n)
	if len(data) < 8 {
		return x
	}
	for i := range x {
		at := i % (len(data) / 8) * 8
		x[i] = math.Float64frombits(binary.LittleEndian.Uint64(data[at:]))
	}
	return x
}

func FuzzGrow(f *testing.F) {
	floats := func(v ...float64) []byte {
		var b []byte
		for _, x := range v {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(x))
		}
		return b
	}
	sine := make([]float64, 48)
	for i := range sine {
		sine[i] = math.Sin(2 * math.Pi * float64(i) / 48)
	}
	f.Add(floats(sine...), floats(0.001, -0.002, 0.0005), 20000, 48000.0, 0.0)
	f.Add(floats(math.NaN(), 1, math.Inf(1), -1), floats(math.Inf(-1)), 5000, 44100.0, math.NaN())
	f.Add(floats(1e300, -1e300, 0), floats(1e-300), 9000, 96000.0, -1.0)
	f.Add(floats(1, 1, -1, -1), []byte{}, 30000, 8000.0, 1./32768)
	f.Add(floats(0), floats(0), 30000, 48000.0, 1./128)
	f.Add(floats(5e-324, -5e-324), floats(1), 3000, 192000.0, 2.0)
	f.Fuzz(func(t *testing.T, data, before []byte, n int, rate, lsb float64) {
		n = min(max(n, 0), 60000)
		if !(rate >= 8000 && rate <= 192000) {
			rate = 48000
		}
		x := sound(data, n)
		e := New(analysis.Rate(rate))
		for _, decay := range []float64{0, 3e-4} {
			for i := range x {
				x[i] *= math.Exp(-decay * float64(i))
			}
			e.Begin(Take{Rate: analysis.Rate(rate), Before: sound(before, n/2), LSB: lsb, Floor: sound(before, len(before)%9)})
			for _, k := range []int{n / 9, n / 4, n / 2, n} {
				sane(t, e.Grow(x[:k]), k)
			}
		}
	})
}

// Harder sounds than a fuzzer finds soon: many poles, steps, bursts, ramps,
// tones at the ends of the range, equal twins.
func TestNothingBreaksIt(t *testing.T) {
	const fs, n = 48000, 40000
	for name, at := range map[string]func(i int) float64{
		"silence":         func(i int) float64 { return 0 },
		"dc":              func(i int) float64 { return 0.5 },
		"step":            func(i int) float64 { return float64(i / 20000) },
		"ramp":            func(i int) float64 { return float64(i) / n },
		"square":          func(i int) float64 { return float64(i/50%2)*2 - 1 },
		"impulses":        func(i int) float64 { return float64(1 - min(i%400, 1)) },
		"one impulse":     func(i int) float64 { return float64(1 - min(i, 1)) },
		"steady tone":     func(i int) float64 { return math.Sin(0.1 * float64(i)) },
		"top of the band": func(i int) float64 { return math.Cos(math.Pi * float64(i)) },
		"near the top":    func(i int) float64 { return math.Cos(3.1 * float64(i)) },
		"very low":        func(i int) float64 { return math.Sin(0.001 * float64(i)) },
		"chirp":           func(i int) float64 { return math.Sin(1e-5 * float64(i) * float64(i)) },
		"swelling":        func(i int) float64 { return math.Sin(0.1*float64(i)) * math.Exp(float64(i-n)/5000) },
		"over in 5 ms":    func(i int) float64 { return math.Sin(0.1*float64(i)) * math.Exp(-float64(i)/30) },
		"sixty tones": func(i int) float64 {
			var s float64
			for k := range 60 {
				s += math.Sin(0.04 * float64(k+1) * float64(i))
			}
			return s / 60 * math.Exp(-float64(i)/9000)
		},
		"all not a number": func(i int) float64 { return math.NaN() },
		"one not a number": func(i int) float64 {
			if i == 5000 {
				return math.Inf(1)
			}
			return math.Sin(0.1*float64(i)) * math.Exp(-float64(i)/9000)
		},
	} {
		t.Run(name, func(t *testing.T) {
			x := make([]float64, n)
			for i := range x {
				x[i] = at(i)
			}
			for _, before := range [][]float64{nil, make([]float64, 100), make([]float64, 48000), x} {
				e := New(fs)
				e.Begin(Take{Rate: fs, Before: before})
				for k := 1; k < n; k = k*3/2 + 100 {
					sane(t, e.Grow(x[:k]), k)
				}
				sane(t, e.Grow(x), n)
			}
		})
	}
}

// Buffers are kept from strike to strike: what is allocated is the answers.
func TestGrowAllocatesLittle(t *testing.T) {
	m := makeStrike(21, 48000, 0.25, 1e-3, bar(440)...)
	e := New(48000)
	got := testing.AllocsPerRun(5, func() {
		e.Begin(m.take())
		for _, ms := range []int{26, 46, 86, 166, 250} {
			e.Grow(m.sound[:ms*48])
		}
	})
	if got > 60 {
		t.Errorf("a strike of four partials read five times: got %.0f allocations, want at most 60", got)
	}
}
