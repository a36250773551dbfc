package partial

import (
	"math"
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"

	"ringwell/analysis"
)

// leastSquares is the textbook's estimate of one damped wave in white noise:
// the frequency (Hz) and decay (neper a second) whose best cosine and sine, by
// normal equations over all samples, leave least. A general minimiser finds
// them (Nelder and Mead, as gonum has it), knowing nothing of a Fisher matrix.
func leastSquares(t *testing.T, sound []float64, fs, f, decay float64) (float64, float64) {
	t.Helper()
	left := func(p []float64) float64 {
		w, d := 2*math.Pi*(f+p[0])/fs, (decay+p[1])/fs
		var cc, cs, ss, xc, xs, xx float64
		for n, x := range sound {
			a := math.Exp(-d * float64(n))
			c, s := a*math.Cos(w*float64(n)), a*math.Sin(w*float64(n))
			cc, cs, ss = cc+c*c, cs+c*s, ss+s*s
			xc, xs, xx = xc+x*c, xs+x*s, xx+x*x
		}
		var sol mat.VecDense
		if err := sol.SolveVec(mat.NewDense(2, 2, []float64{cc, cs, cs, ss}), mat.NewVecDense(2, []float64{xc, xs})); err != nil {
			return xx
		}
		return xx - sol.AtVec(0)*xc - sol.AtVec(1)*xs
	}
	r, err := optimize.Minimize(optimize.Problem{Func: left}, []float64{0, 0},
		&optimize.Settings{Converger: &optimize.FunctionConverge{Absolute: 1e-13, Iterations: 60}}, &optimize.NelderMead{SimplexSize: 0.02})
	if err != nil {
		t.Fatal(err)
	}
	return f + r.X[0], decay + r.X[1]
}

// TestAgainstLeastSquares: of one wave in white noise the whole estimator gives
// what a textbook's least squares gives over the same samples, to a fraction of
// the standard deviation both have. What the estimator does besides (whitening,
// deciding, windows that grow) may cost no more.
func TestAgainstLeastSquares(t *testing.T) {
	for seed := range uint64(8) {
		m := makeStrike(200+seed, 48000, 0.5, 1e-3, mode{f: 700 + 37.3*float64(seed), t60: 0.8})
		r := m.read()
		p := nearest(r, m.modes[0].f)
		if p == nil {
			t.Errorf("seed %d: got no partial near %.1f Hz", seed, m.modes[0].f)
			continue
		}
		skip := int(contact * m.fs)
		f, d := leastSquares(t, m.sound[skip:], m.fs, m.modes[0].f, analysis.LnThousand/m.modes[0].t60)
		b := m.bounds()[0]
		bound := b.Omega * m.fs / (2 * math.Pi)
		t60 := analysis.LnThousand / d
		// Measured over 8 seeds: 0.008 at the most.
		if off := (float64(p.Frequency) - f) / bound; math.Abs(off) > 0.05 {
			t.Errorf("seed %d: got %.6f Hz, least squares has %.6f Hz, %.3f standard deviations away, wanted 0.05 at most", seed, p.Frequency, f, off)
		}
		if off := (p.T60 - t60) / (b.Decay * m.fs / d * t60); math.Abs(off) > 0.05 {
			t.Errorf("seed %d: got T60 %.6f s, least squares has %.6f s, %.3f standard deviations away, wanted 0.05 at most", seed, p.T60, t60, off)
		}
	}
}

// goertzelAmplitude is how strong a wave is that goes round a whole number of
// times, by Goertzel's recursion (see package fourier's test).
func goertzelAmplitude(x []float64, cycles int) float64 {
	w := 2 * math.Pi * float64(cycles) / float64(len(x))
	s1, s2 := 0.0, 0.0
	for _, v := range x {
		s1, s2 = v+2*math.Cos(w)*s1-s2, s1
	}
	return 2 / float64(len(x)) * cmplx.Abs(complex(s1*math.Cos(w)-s2, s1*math.Sin(w)))
}

// TestLevelsAgainstGoertzel: the levels of waves that hardly die away are what
// Goertzel's recursion finds in the same sound.
func TestLevelsAgainstGoertzel(t *testing.T) {
	m := makeStrike(31, 48000, 0.5, 1e-4, mode{400, 30, 0}, mode{1000, 30, -13}, mode{2730, 30, -27})
	r := m.read()
	if len(r.Partials) != 3 {
		t.Fatalf("got %d partials, wanted 3: %v", len(r.Partials), r.Partials)
	}
	// From where the contact is over, 0.4 s: a whole number of turns of each.
	x := m.sound[4800:][:19200]
	first := goertzelAmplitude(x, 160)
	for i, o := range m.modes {
		want := 20 * math.Log10(goertzelAmplitude(x, int(o.f*0.4+0.5))/first)
		if p := r.Partials[i]; math.Abs(p.Level-want) > max(0.01, 5*p.SigmaLevel) {
			t.Errorf("%g Hz: got %.3f dB ± %.3f, Goertzel's recursion has %.3f dB", o.f, p.Level, p.SigmaLevel, want)
		}
	}
}
