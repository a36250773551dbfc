package cavity

import (
	"math"
	"testing"

	"ringwell/analysis/physics/air"
)

// speed is that of air at 20 °C and 50 % humidity, 343.9867 m/s (Cramer 1993).
var speed = air.Air{Celsius: 20, Humidity: .5}.Speed()

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: got %v, wanted %v within %g", what, got, want, within)
	}
}

func cents(f, g float64) float64 { return 1200 * math.Log2(f/g) }

// A worked bottle, r 9.25 mm, L 75 mm, V 750 ml; its numbers were computed by
// another program (Python) from the formulas of the package comment.
func TestWorkedBottle(t *testing.T) {
	const r, l, v = 9.25e-3, 75e-3, 750e-6
	bare := Helmholtz(speed, area(r), v, l)
	near(t, "no end correction, Hz", bare, 119.6788, 0.5e-4)
	both := l + r*(Unflanged+Flanged)
	near(t, "neck with end corrections, mm", both*1000, 88.2738, 0.51e-4)
	f := Helmholtz(speed, area(r), v, both)
	near(t, "with end corrections, Hz", f, 110.3144, 0.5e-4)
	near(t, "what they cost, cents", cents(f, bare), -141.1, 0.05)
	near(t, "left for C3, ml", Left(750, f, 130.8128), 533.365, 0.5e-3)
	near(t, "water for C3, ml", 750-Left(750, f, 130.8128), 216.635, 0.5e-3)
	near(t, "water for D3, ml", 750-Left(750, f, 146.8324), 326.668, 0.5e-3)
	near(t, "water for E3, ml", 750-Left(750, f, 164.8138), 414.001, 0.5e-3)
	// With a bore of 75 mm (body 169.77 mm): 107.6830 Hz, 41.8 cents lower.
	body := v / area(37.5e-3)
	near(t, "body, mm", body*1000, 169.77, 0.005)
	tt := TanTan(speed, area(r)/area(37.5e-3), both, body)
	near(t, "tan-tan, Hz", tt, 107.6830, 0.5e-4)
	near(t, "tan-tan against Helmholtz, cents", cents(tt, f), -41.8, 0.05)
}

// 1 l, 3 cm², 5 cm, no end correction: 133.796 Hz at 343.2 m/s, 132.548 at 340
// (computed by the same program); a university page rounds it to 130 Hz (UNSW,
// Helmholtz resonance, from memory, unchecked).
func TestLitreBottle(t *testing.T) {
	near(t, "at 343.2 m/s, Hz", Helmholtz(343.2, 3e-4, 1e-3, .05), 133.796, 0.5e-3)
	near(t, "at 340 m/s, Hz", Helmholtz(340, 3e-4, 1e-3, .05), 132.548, 0.5e-3)
	near(t, "rounded as published, Hz", math.Round(Helmholtz(340, 3e-4, 1e-3, .05)/10)*10, 130, 0)
}

// How far Helmholtz is off grows with a long body and a wide neck (neck r, L,
// body R, L in mm; computed by the same program, inner end after Ingard).
func TestHelmholtzError(t *testing.T) {
	for _, row := range []struct{ r, l, R, L, want, within float64 }{
		{9.25, 75, 37.5, 170, -42.5, 0.05},
		{12.5, 90, 30, 150, -100.2, 0.05},
		{20, 50, 30, 120, -259, 0.5},
	} {
		b := Bottle{row.r / 1000, row.l / 1000, row.R / 1000, area(row.R/1000) * row.L / 1000}
		h := Helmholtz(speed, area(b.NeckRadius), b.Volume, b.Effective())
		near(t, "tan-tan against Helmholtz, cents", cents(b.TanTan(speed), h), row.want, row.within)
	}
}

// A pipe without a neck is a quarter wave: f = c/4L (closed form).
func TestQuarterWave(t *testing.T) {
	near(t, "quarter wave, Hz", TanTan(340, 1, .1, .15), 340/(4*.25), 1e-9)
}

// Small and far below a wavelength, tan-tan is Helmholtz.
func TestSmallBottle(t *testing.T) {
	h := Helmholtz(340, 1e-7, 4e-4*.01, .02)
	near(t, "tan-tan against Helmholtz, cents", cents(TanTan(340, 1e-7/4e-4, .02, .01), h), 0, 1)
}

// Levine and Schwinger's low-frequency integral, (1/π)∫ln{1/[2·I1(x)·K1(x)]}/x² dx,
// by quadrature elsewhere (scipy): 0.61270; 8/3π = 0.848826.
func TestEndCorrections(t *testing.T) {
	near(t, "piston", Piston, 0.848826, 0.5e-6)
	near(t, "unflanged against its integral, cents on a 100 mm neck of 10 mm",
		600*math.Log2((100+10*Unflanged)/(100+10*0.61270)), 0, 0.1)
	near(t, "inner end of a narrow neck", Inner(0, 1), Flanged, 0)
	near(t, "inner end of a straight pipe", Inner(1, 1), 0, 0)
}
