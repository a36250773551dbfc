package partial

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"ringwell/analysis"
)

// mode is a true partial: Hz, seconds, dB.
type mode struct{ f, t60, db float64 }

// made is a strike from a formula, with its truth.
type made struct {
	fs     float64
	modes  []mode
	ring   []Component
	before []float64
	sound  []float64
	sigma  float64 // of the white background
}

// make makes one: modes at full scale 0.3, white noise of deviation sigma, a
// click of 4 ms at half the amplitude.
func makeStrike(seed uint64, fs, seconds, sigma float64, modes ...mode) made {
	r := rand.New(rand.NewPCG(seed, 99))
	m := made{fs: fs, modes: modes, sigma: sigma}
	m.before, m.sound = make([]float64, int(1.5*fs)), make([]float64, int(seconds*fs))
	for i := range m.before {
		m.before[i] = sigma * r.NormFloat64()
	}
	for i := range m.sound {
		m.sound[i] = sigma * r.NormFloat64()
		if t := float64(i) / fs; t < 0.004 {
			m.sound[i] += 0.15 * r.NormFloat64() * math.Exp(-t/0.0012)
		}
	}
	for _, o := range modes {
		m.ring = append(m.ring, Component{2 * math.Pi * o.f / fs, decayOf(o.t60, fs), cmplx.Rect(0.3*math.Pow(10, o.db/20), 6*r.Float64())})
	}
	Render(m.sound, 0, m.ring)
	return m
}

func (m made) take() Take { return Take{Rate: analysis.Rate(m.fs), Before: m.before} }

func (m made) read() Reading { return readAll(New(analysis.Rate(m.fs)), m.take(), m.sound) }

// bounds is the Cramér-Rao bound from the end of the contact on.
func (m made) bounds() []Bound {
	skip := int(contact * m.fs)
	noise := make([]float64, len(m.ring))
	for i := range noise {
		noise[i] = m.sigma
	}
	return Bounds(m.ring, skip, len(m.sound)-skip, noise)
}

// nearest returns the partial nearest to f.
func nearest(r Reading, f float64) *analysis.Partial {
	var best *analysis.Partial
	for i := range r.Partials {
		if p := &r.Partials[i]; best == nil || math.Abs(float64(p.Frequency)-f) < math.Abs(float64(best.Frequency)-f) {
			best = p
		}
	}
	return best
}

// check holds every partial against the truth: within five times the bound in
// frequency and T60, its level within five of its own sigma, and no more of them.
func (m made) check(t *testing.T, r Reading) {
	t.Helper()
	if len(r.Partials) != len(m.modes) {
		t.Errorf("%d modes: got %d partials %v", len(m.modes), len(r.Partials), r.Partials)
	}
	b := m.bounds()
	for k, o := range m.modes {
		p := nearest(r, o.f)
		if p == nil {
			t.Errorf("%.2f Hz: got nothing", o.f)
			continue
		}
		if sd := b[k].Omega * m.fs / (2 * math.Pi); math.Abs(float64(p.Frequency)-o.f) > 5*sd+1e-6*o.f {
			t.Errorf("%.2f Hz: got %.5f Hz, %.1f times the bound of %.5f Hz away", o.f, p.Frequency, math.Abs(float64(p.Frequency)-o.f)/sd, sd)
		}
		if sd := b[k].Decay / m.ring[k].Decay; math.Abs(p.T60/o.t60-1) > 5*sd+1e-4 {
			t.Errorf("%.2f Hz: got T60 %.4f s, want %.4f within five times %.2f %%", o.f, p.T60, o.t60, 100*sd)
		}
		if math.Abs(p.Level-o.db) > 5*p.SigmaLevel+0.02 {
			t.Errorf("%.2f Hz: got level %.2f ±%.2f dB, want %.2f", o.f, p.Level, p.SigmaLevel, o.db)
		}
		if f := float64(p.Sigma) / analysis.CentsPerNeper * o.f / (b[k].Omega * m.fs / (2 * math.Pi)); f < 0.8 || f > 3 {
			t.Errorf("%.2f Hz: got a sigma of %.2f times the bound, want 0.8 to 3", o.f, f)
		}
	}
	if !r.Pitched {
		t.Errorf("got a knock (explained %.2f, first %.1f dB, rise %.0f ms), want a ring", r.Explained, r.FirstDB, r.RiseMS)
	}
}

// A free bar's modes stand as 1 : 2.757 : 5.404 : 8.933 (Euler-Bernoulli;
// Fletcher & Rossing, The Physics of Musical Instruments, from memory).
func bar(f float64) []mode {
	return []mode{{f, 1.8, 0}, {2.757 * f, 1.0, -6}, {5.404 * f, 0.6, -11}, {8.933 * f, 0.4, -17}}
}

func TestWholeObjects(t *testing.T) {
	for _, c := range []struct {
		name           string
		fs, sec, sigma float64
		modes          []mode
	}{
		{"bar, 40 dB", 48000, 1.5, 2e-3, bar(523.25)},
		{"bar, 20 dB", 48000, 1.5, 2e-2, bar(523.25)},
		{"bar at 44.1 kHz", 44100, 1.5, 2e-3, bar(311.13)},
		{"bar at 96 kHz", 96000, 1.0, 2e-3, bar(880)},
		{"bar at 22.05 kHz", 22050, 1.5, 2e-3, bar(440)},
		{"low", 48000, 1.5, 2e-3, []mode{{70, 1.2, 0}, {190, 0.8, -4}}},
		{"high", 48000, 0.8, 2e-3, []mode{{9000, 0.5, 0}, {15500, 0.3, -8}}},
		{"short", 48000, 0.4, 2e-3, []mode{{1200, 0.06, 0}, {2900, 0.05, -3}}},
		{"long", 48000, 2.4, 2e-3, []mode{{660, 5, 0}, {1900, 4, -10}}},
		{"twelve", 48000, 1.2, 1e-3, []mode{{212, 2, -8}, {401, 1.5, 0}, {633, 1.2, -4}, {811, 1.3, -9}, {1290, 1.1, -2}, {1701, 1, -12},
			{2333, .9, -6}, {3101, .8, -15}, {4100, .6, -9}, {5200, .5, -12}, {6700, .4, -8}, {8100, .35, -14}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := makeStrike(7, c.fs, c.sec, c.sigma, c.modes...)
			m.check(t, m.read())
		})
	}
}

func TestNearPairs(t *testing.T) {
	for _, c := range []struct {
		name  string
		modes []mode
	}{
		{"equal, split × T60 = 0.8", []mode{{500, 1, 0}, {500.8, 1, 0}}},
		{"equal, 2 Hz", []mode{{500, 1.5, 0}, {502, 1.4, 0}}},
		{"10 dB unequal", []mode{{700, 1.2, -10}, {701.5, 1.3, 0}}},
		{"the weaker one first, 15 dB", []mode{{1300, 1.2, -15}, {1303, 1.2, 0}}},
		{"two pairs", []mode{{430, 2, 0}, {431.2, 2, -3}, {1190, 1.2, -6}, {1193, 1.1, -9}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := makeStrike(8, 48000, 2, 1e-3, c.modes...)
			r := m.read()
			m.check(t, r)
			for k := 0; k+1 < len(c.modes); k += 2 {
				p, q := nearest(r, c.modes[k].f), nearest(r, c.modes[k+1].f)
				split := c.modes[k+1].f - c.modes[k].f
				if p.Pair == 0 || p.Pair != q.Pair || math.Abs(p.Beat-split) > 5*p.SigmaBeat || p.SigmaBeat > 0.05*split {
					t.Errorf("pair %d: got pair ids %d and %d, beat %.4f ±%.4f Hz, want one id and %.4f", k/2, p.Pair, q.Pair, p.Beat, p.SigmaBeat, split)
				}
				for a := range 4 {
					for b := range 4 {
						if p.Cross[a][b] != q.Cross[b][a] {
							t.Errorf("pair %d: cross covariance %d,%d is %g seen from one, %g from the other", k/2, a, b, p.Cross[a][b], q.Cross[b][a])
						}
					}
				}
			}
		})
	}
}

// Before a pair can be told apart it is one partial.
func TestPairComesAsOneFirst(t *testing.T) {
	m := makeStrike(9, 48000, 2, 1e-3, mode{500, 3, 0}, mode{500.7, 3, -3})
	e := New(48000)
	e.Begin(m.take())
	for _, ms := range []int{26, 46, 86, 166, 326} {
		if r := e.Grow(m.sound[:ms*48]); len(r.Partials) != 1 {
			t.Errorf("a pair 0.7 Hz apart after %d ms: got %d partials, want 1", ms, len(r.Partials))
		}
	}
	if r := e.Grow(m.sound); len(r.Partials) != 2 {
		t.Errorf("a pair 0.7 Hz apart after 2 s: got %d partials, want 2", len(r.Partials))
	}
}

func TestHandStopsTheRing(t *testing.T) {
	for _, after := range []float64{0.08, 0.25, 0.8} {
		m := makeStrike(10, 48000, 1.8, 2e-3, bar(392)...)
		const at = 0.7
		from := int(at * m.fs)
		for _, c := range m.ring {
			amp := c.Amp * expi(c.Decay*float64(from), c.Omega*float64(from))
			Render(m.sound[from:], 0, []Component{{c.Omega, c.Decay, -amp}, {c.Omega, max(c.Decay, decayOf(after, m.fs)), amp}})
		}
		r := m.read()
		if late := float64(r.Broke)/m.fs - at; r.Broke == 0 || math.Abs(late) > 0.02 {
			t.Errorf("T60 from 1.8 to %g s at %g s: got a break at %.3f s, want within 20 ms", after, at, float64(r.Broke)/m.fs)
		}
		if p := nearest(r, 392); p == nil || math.Abs(p.T60/1.8-1) > 0.02 {
			t.Errorf("T60 from 1.8 to %g s: got %.3f s for the free part, want 1.8 within 2 %%", after, p.T60)
		}
		if len(r.Remarks) != 1 || r.Remarks[0].Code != analysis.RemarkDamped {
			t.Errorf("T60 from 1.8 to %g s: got remarks %v, want damped", after, r.Remarks)
		}
	}
}

func TestClippedStrike(t *testing.T) {
	m := makeStrike(11, 48000, 1, 1e-3, bar(440)...)
	var top float64
	for _, v := range m.sound {
		top = max(top, math.Abs(v))
	}
	for i, v := range m.sound {
		m.sound[i] = min(max(v, -0.4*top), 0.4*top)
	}
	r := m.read()
	if r.Clipped == 0 || len(r.Remarks) == 0 || r.Remarks[0].Code != analysis.RemarkClipped {
		t.Errorf("clipped by 8 dB: got end %d, remarks %v, want a clipped remark", r.Clipped, r.Remarks)
	}
	for _, p := range r.Partials {
		near := math.Inf(1)
		for _, o := range m.modes {
			near = min(near, math.Abs(1200*math.Log2(float64(p.Frequency)/o.f)))
		}
		if near > 1 {
			t.Errorf("clipped by 8 dB: got a partial at %.2f Hz, %.1f cents from any true one", p.Frequency, near)
		}
	}
	if p := nearest(r, 440); p == nil || math.Abs(1200*math.Log2(float64(p.Frequency)/440)) > 0.1 {
		t.Errorf("clipped by 8 dB: got lowest %v, want 440 Hz within 0.1 cent", p)
	}
}

// The round top of a slow wave, or of one held by a converter's steps, is no
// clipping.
func TestRoundTopsAreNotClipped(t *testing.T) {
	for _, f := range []float64{40, 60, 110, 440, 3000} {
		for _, lsb := range []float64{0, 1. / 32768, 1. / 128} {
			x := make([]float64, 24000)
			for i := range x {
				x[i] = 0.7 * math.Sin(2*math.Pi*f*float64(i)/48000)
				if lsb > 0 {
					x[i] = math.Round(x[i]/lsb) * lsb
				}
			}
			if end := clipEnd(x, 48000, lsb); end != 0 {
				t.Errorf("sine at %g Hz, step %.2g: got clipped up to %d, want not", f, lsb, end)
			}
		}
	}
}
