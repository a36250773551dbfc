package audio

import (
	"math"
	"testing"
)

func near(t *testing.T, what string, got, want, tolerance float64, unit string) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %v %s, want %v ± %v", what, got, unit, want, tolerance)
	}
}

// A free bar's modes stand near 3.011², 5², 7², 9², 11² (Fletcher and Rossing,
// The Physics of Musical Instruments, section 2.12; from memory, unchecked).
func TestBeamRatios(t *testing.T) {
	first, _ := beamRoot(1)
	for n, square := range []float64{3.0112, 5, 7, 9, 11} {
		b, sigma := beamRoot(n + 1)
		near(t, "βL of a free bar over π/2", b/(math.Pi/2), square, 0.0006, "")
		near(t, "cos βL · cosh βL", math.Cos(b)*math.Cosh(b), 1, 1e-4*math.Cosh(b)*1e-8, "")
		if n > 0 {
			near(t, "ratio to the first mode", b*b/(first*first), square*square/(3.0112*3.0112), 0.003, "")
		}
		near(t, "σ", sigma, (math.Cosh(b)-math.Cos(b))/(math.Sinh(b)-math.Sin(b)), 1e-12, "")
	}
}

// The shape at its ends, at its nodes and in the middle. 0.2242 is where a bar
// is held for the impulse excitation test (ASTM E1876; from memory, unchecked).
func TestBeamShape(t *testing.T) {
	for n := 1; n <= 12; n++ {
		near(t, "shape at the end", beamShape(n, 0), 1, 1e-9, "")
		sign := 1.0 // odd modes are symmetric
		if n%2 == 0 {
			sign = -1
		}
		near(t, "shape at the other end", beamShape(n, 1), sign, 1e-6, "")
		if n%2 == 0 {
			near(t, "middle of an even mode", beamShape(n, 0.5), 0, 1e-9, "")
		}
		// ∫φ² = ¼, by the midpoint rule.
		var sum float64
		const steps = 2000
		for i := range steps {
			v := beamShape(n, (float64(i)+0.5)/steps)
			sum += v * v
		}
		near(t, "mean square", sum/steps, 0.25, 5e-5, "")
	}
	near(t, "mode 1 at its node", beamShape(1, 0.224158), 0, 1e-5, "")
	near(t, "mode 1 in the middle", beamShape(1, 0.5), -0.607822, 1e-6, "")
}

// Measured ratios of a uniform aluminium and a uniform wooden bar, from the
// Csound manual, appendix E, "Modal frequency ratios". The size of the bars is
// not given: thin, and about a twentieth as thick as long.
func TestBarsMeasuredElsewhere(t *testing.T) {
	thin := stuff{young: 69e9, density: 2700, shear: 2.66}
	for n, want := range []float64{1, 2.756, 5.423, 8.988} {
		got := beam(thin, 1, 0.001, 5.0/6, n+1) / beam(thin, 1, 0.001, 5.0/6, 1)
		near(t, "aluminium bar, ratio", got, want, 0.01*want, "")
	}
	r := 0.05 / math.Sqrt(12)
	for n, want := range []float64{1, 2.572, 4.644} {
		got := beam(oak, 1, r, 5.0/6, n+1) / beam(oak, 1, r, 5.0/6, 1)
		near(t, "wooden bar, ratio", got, want, 0.01*want, "")
	}
}

// The frequency factor by ASTM E1876's polynomial for a bar (from memory,
// unchecked): T₁ = 1 + 6.585(1+0.0752ν+0.8109ν²)(h/L)² − 0.868(h/L)⁴ − ...; at
// h/L = 0.05, ν = 0.3 it gives f/f_thin = 0.99114.
func TestThickBar(t *testing.T) {
	s := stuff{young: 200e9, density: 7850, shear: 2.6}
	got := beam(s, 1, 0.05/math.Sqrt(12), 5.0/6, 1)
	thin := 1.027920 * 0.05 * s.sound()
	near(t, "f/f_thin of a bar a twentieth as thick as long", got/thin, 0.99114, 5e-4, "")
}

// Measured ratios of three metal bowls (Csound manual, appendix E). The model
// is a straight wall on a flat bottom, so a tenth is what can be asked.
func TestBowlsMeasuredElsewhere(t *testing.T) {
	for _, bowl := range [][]float64{
		{1, 2.77828, 5.18099, 8.16289},
		{1, 2.66242, 4.83757, 7.51592},
		{1, 2.76515, 5.12121, 7.80681},
	} {
		for i, want := range bowl {
			got := wall(steel, 0.08, 0.003, 0.13, i+2) / wall(steel, 0.08, 0.003, 0.13, 2)
			near(t, "bowl, ratio", got, want, 0.1*want, "")
		}
	}
}

func TestWallAndWater(t *testing.T) {
	// (a/2πR²)·sqrt(3E/5ρ·(1 + 4/3·(R/H)⁴)), worked by hand.
	near(t, "wall of a glass", wall(stuff{young: 72e9, density: 2500}, 0.033, 0.0015, 0.08, 2), 928.71, 0.01, "Hz")
	if got := filled(glass, 0.033, 0.0024, 0); got != 1 {
		t.Errorf("an empty jar is lowered by %v, want 1", got)
	}
	for d := 0.1; d <= 1; d += 0.1 {
		if a, b := filled(glass, 0.033, 0.0024, d-0.1), filled(glass, 0.033, 0.0024, d); b >= a {
			t.Errorf("more water raises a struck jar: %v at %v, %v at %v", a, d-0.1, b, d)
		}
	}
}

// In the limit of a short wide cavity and a narrow neck the bottle is a
// Helmholtz resonator, (c/2π)·sqrt(S/(V·l′)).
func TestBottleIsAHelmholtzResonatorWhenSmall(t *testing.T) {
	const r, l, big, v = 0.002, 0.02, 0.05, 250e-6
	neck := l + 0.6133*r + 0.82*r*(1-1.25*r/big)
	want := 343.99 / (2 * math.Pi) * math.Sqrt(math.Pi*r*r/(v*neck))
	near(t, "small neck", bottle(r, l, big, v), want, 0.002*want, "Hz")
	if bottle(r, l, big, v/2) <= bottle(r, l, big, v) {
		t.Error("water does not raise a blown bottle")
	}
}

// The plate's two lowest modes against a beam and against a plate that only
// twists: λ of bending lies between 22.373·sqrt(1−ν²) and 22.373, the beam's
// (βL)² for width and for thickness alone.
func TestPlateLowestModeIsABeams(t *testing.T) {
	b, _ := beamRoot(1)
	lambda := plateModes()[0].lambda
	if lo := b * b * math.Sqrt(1-0.225*0.225); lambda < lo || lambda > b*b {
		t.Errorf("λ₁ of a plate 2 : 1 is %v, want %v to %v", lambda, lo, b*b)
	}
	last := 0.0
	for i, m := range plateModes() {
		if m.lambda <= last {
			t.Errorf("λ of mode %d is %v, below the one before", i+1, m.lambda)
		}
		last = m.lambda
	}
}

func TestSoftness(t *testing.T) {
	near(t, "a tap of no length", softness(5000, 0), 1, 1e-12, "")
	near(t, "where numerator and denominator vanish", softness(500, 1e-3), math.Pi/4, 1e-6, "")
	near(t, "just beside", softness(500.01, 1e-3), math.Pi/4, 1e-4, "")
	// The half sine's spectrum by numbers, against its mean.
	for _, f := range []float64{100, 700, 1100} {
		const T, steps = 1e-3, 10000
		var re, im, all float64
		for i := range steps {
			x := (float64(i) + 0.5) / steps
			w := math.Sin(math.Pi * x)
			re += w * math.Cos(2*math.Pi*f*T*x)
			im += w * math.Sin(2*math.Pi*f*T*x)
			all += w
		}
		near(t, "spectrum of a half sine", softness(f, T), math.Hypot(re, im)/all, 1e-6, "")
	}
}
