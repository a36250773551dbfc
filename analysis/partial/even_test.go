package partial

import (
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"ringwell/analysis"
)

// same compares two readings of one sound, partial by partial.
func same(t *testing.T, what string, a, b Reading, cents, db float64) {
	t.Helper()
	if len(a.Partials) != len(b.Partials) {
		t.Fatalf("%s: got %d partials, want %d", what, len(b.Partials), len(a.Partials))
	}
	for i := range a.Partials {
		p, q := a.Partials[i], b.Partials[i]
		if c := math.Abs(float64(q.Frequency.Above(p.Frequency))); c > cents {
			t.Errorf("%s: got %.6f Hz, want %.6f (%.2g cents away)", what, q.Frequency, p.Frequency, c)
		}
		if math.Abs(p.Level-q.Level) > db || math.Abs(p.T60-q.T60) > db*p.T60 {
			t.Errorf("%s: %.1f Hz: got %.4f dB and T60 %.5f s, want %.4f and %.5f", what, p.Frequency, q.Level, q.T60, p.Level, p.T60)
		}
	}
	if a.Pitched != b.Pitched || a.N != b.N {
		t.Errorf("%s: got pitched %v from %d samples, want %v from %d", what, b.Pitched, b.N, a.Pitched, a.N)
	}
}

func TestGainAndSignChangeNothing(t *testing.T) {
	m := makeStrike(12, 48000, 1, 2e-3, bar(440)...)
	want := m.read()
	for _, g := range []float64{-1, 0.01, 3} {
		k := m
		k.before, k.sound = slices.Clone(m.before), slices.Clone(m.sound)
		for i := range k.before {
			k.before[i] *= g
		}
		for i := range k.sound {
			k.sound[i] *= g
		}
		same(t, "gain", want, k.read(), 1e-5, 1e-4)
	}
}

// Where the windows end must not decide what is found in the end.
func TestOtherWindowsSameAnswer(t *testing.T) {
	m := makeStrike(13, 48000, 1, 2e-3, bar(440)...)
	want := m.read()
	for _, steps := range [][]int{{48000}, {1500, 2000, 3000, 4400, 9000, 20000, 48000}, {700, 900, 2600, 30000, 48000}} {
		e := New(48000)
		e.Begin(m.take())
		var r Reading
		for _, n := range steps {
			r = e.Grow(m.sound[:n])
		}
		same(t, "windows", want, r, 0.01, 1e-2)
	}
}

// An estimator that read something else before reads the same.
func TestEstimatorForgets(t *testing.T) {
	m, other := makeStrike(14, 48000, 1, 2e-3, bar(440)...), makeStrike(15, 48000, 1, 1e-2, mode{333, 2, 0}, mode{334, 2, 0}, mode{2000, .3, 3})
	e := New(48000)
	want := readAll(e, m.take(), m.sound)
	readAll(e, other.take(), other.sound)
	got := readAll(e, m.take(), m.sound)
	same(t, "second time", want, got, 0, 0)
}

// The model itself, played back, must take the ring out of the sound.
func TestRingTakesItselfOut(t *testing.T) {
	m := makeStrike(16, 48000, 1.5, 1e-3, append(bar(523), mode{524.5, 1.5, -4})...)
	r := m.read()
	for i := range r.Ring {
		r.Ring[i].Amp = -r.Ring[i].Amp
	}
	from := int(0.02 * m.fs)
	rest := slices.Clone(m.sound[from:])
	whole := square(rest)
	Render(rest, from, r.Ring)
	if left := square(rest) / float64(len(rest)); left > 1.1*m.sigma*m.sigma {
		t.Errorf("taken out: got %.3g left a sample of %.3g, want the noise, %.3g", left, whole/float64(len(rest)), m.sigma*m.sigma)
	}
}

func TestRenderAgainstTheFormula(t *testing.T) {
	c := Component{Omega: 0.31, Decay: 2e-4, Amp: 0.4 - 0.2i}
	for _, from := range []int{0, 17, 5000, -40} {
		x := make([]float64, 6000)
		Render(x, from, []Component{c})
		for i, got := range x {
			n := float64(from + i)
			want := 0.0
			if n >= 0 {
				want = real(c.Amp * cmplx.Exp(complex(-c.Decay, c.Omega)*complex(n, 0)))
			}
			if math.Abs(got-want) > 1e-11 {
				t.Fatalf("from %d, sample %d: got %.15g, want %.15g", from, i, got, want)
			}
		}
	}
}

// What sounded before the strike is no part of it.
func TestHumIsNotThePitch(t *testing.T) {
	m := makeStrike(17, 48000, 1, 1e-3, bar(523)...)
	for h, amp := range map[float64]float64{150: 0.02, 250: 0.01, 1000: 0.005} {
		for i := range m.before {
			m.before[i] += amp * math.Sin(2*math.Pi*h*float64(i)/m.fs)
		}
		for i := range m.sound {
			m.sound[i] += amp * math.Sin(2*math.Pi*h*float64(len(m.before)+i)/m.fs)
		}
	}
	r := m.read()
	for _, p := range r.Partials {
		near := math.Inf(1)
		for _, o := range m.modes {
			near = min(near, math.Abs(float64(p.Frequency)-o.f))
		}
		if near > 1 {
			t.Errorf("hum at 150, 250 and 1000 Hz: got a partial at %.2f Hz, %.1f dB", p.Frequency, p.Level)
		}
	}
}

func TestKnocksHaveNoPitch(t *testing.T) {
	for seed := range uint64(20) {
		m := makeStrike(seed, 48000, 0.6, 1e-3)
		if r := m.read(); r.Pitched || len(r.Partials) > 0 {
			t.Errorf("click %d: got pitched %v, partials %v", seed, r.Pitched, r.Partials)
		}
	}
}

// The scan promises one false partial in a hundred windows of noise.
func TestFalseAlarms(t *testing.T) {
	found := 0
	const strikes = 60
	for seed := range uint64(strikes) {
		m := makeStrike(seed, 48000, 0.7, 1e-3)
		// No click either: five windows of noise alone.
		copy(m.sound[:400], m.before[:400])
		found += len(m.read().Partials)
	}
	// 300 windows: 3 expected, more than 8 in one case of a hundred.
	if found > 8 {
		t.Errorf("noise alone, %d strikes: got %d partials, want about 3 at most", strikes, found)
	}
}

func TestUncertaintyCarriedToTheOnset(t *testing.T) {
	// (ln a, φ, ω, d) at sample 300 independent with these deviations:
	sd := [4]float64{0.01, 0.02, 1e-5, 2e-5}
	var v [16]float64
	for k, s := range sd {
		v[5*k] = s * s
	}
	got := atOnset(v, 300)
	want := map[int]float64{
		0: sd[0]*sd[0] + 300*300*sd[3]*sd[3], 5: sd[1]*sd[1] + 300*300*sd[2]*sd[2],
		3: 300 * sd[3] * sd[3], 12: 300 * sd[3] * sd[3], 6: -300 * sd[2] * sd[2], 9: -300 * sd[2] * sd[2],
		10: sd[2] * sd[2], 15: sd[3] * sd[3],
	}
	for i, g := range got {
		if math.Abs(g-want[i]) > 1e-15 {
			t.Errorf("entry %d,%d: got %g, want %g", i/4, i%4, g, want[i])
		}
	}
}

// Covariances are symmetric, and agree with the sigmas beside them.
func TestCovariancesAgreeWithSigmas(t *testing.T) {
	m := makeStrike(18, 48000, 1.5, 2e-3, append(bar(523), mode{524.5, 1.5, -4})...)
	for _, p := range m.read().Partials {
		for a := range 4 {
			for b := range 4 {
				if x, y := p.Cov[a][b], p.Cov[b][a]; math.Abs(x-y) > 1e-9*math.Sqrt(p.Cov[a][a]*p.Cov[b][b]) {
					t.Errorf("%.1f Hz: covariance %d,%d is %g one way and %g the other", p.Frequency, a, b, x, y)
				}
			}
		}
		f := math.Sqrt(p.Cov[2][2]) / (2 * math.Pi) / float64(p.Frequency) * analysis.CentsPerNeper
		l := math.Sqrt(p.Cov[0][0]) * 20 / math.Ln10
		d := math.Sqrt(p.Cov[3][3]) * p.T60 * p.T60 / lnThousand
		if math.Abs(f/float64(p.Sigma)-1) > 1e-6 || math.Abs(l/p.SigmaLevel-1) > 1e-6 || math.Abs(d/p.SigmaT60-1) > 1e-6 {
			t.Errorf("%.1f Hz: sigmas %.3g c, %.3g dB, %.3g s, by covariance %.3g c, %.3g dB, %.3g s", p.Frequency, p.Sigma, p.SigmaLevel, p.SigmaT60, f, l, d)
		}
	}
}
