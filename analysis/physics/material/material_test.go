package material

import (
	"math"
	"testing"
)

// Cents a degree, 865.617·(e+α), computed by another program from the same
// sources; metals but the steels rest on values from memory, unchecked.
func TestPerDegree(t *testing.T) {
	for name, want := range map[string]float64{
		"steel": -0.237, "stainless steel": -0.261, "aluminium": -0.449, "glass": -0.105,
		"brass": -0.26, "bronze": -0.244, "copper": -0.263,
		"wood": -2.02, "dry wood": -1.73,
	} {
		m, ok := Named(name)
		if !ok {
			t.Fatalf("no material %q", name)
		}
		// Half of the last digit printed, and of the expansion of wood, which
		// scatters from species to species.
		if got := float64(m.PerDegree()); math.Abs(got-want) > 0.005 {
			t.Errorf("%s: got %.4f c a degree, wanted %.3f within 0.005", name, got, want)
		}
		if m.Low > m.PerDegree() || m.High < m.PerDegree() {
			t.Errorf("%s: %.3f c a degree lies outside its own bounds %.3f to %.3f", name, m.PerDegree(), m.Low, m.High)
		}
		if m.Source == "" {
			t.Errorf("%s: no source", name)
		}
	}
}

// (1/f)df/dT = (e+α)/2 by differences: f ∝ sqrt(E/ρ)·h/L² with E(1+e), lengths
// (1+α), density (1+α)^-3.
func TestByDifferences(t *testing.T) {
	for _, m := range Table() {
		const dt = 1e-3
		a := 1 + m.Expansion*dt
		ratio := math.Sqrt((1+m.Stiffness*dt)*a*a*a) * a / (a * a)
		if got, want := float64(m.PerDegree()), 1200*math.Log2(ratio)/dt; math.Abs(got-want) > 1e-5 {
			t.Errorf("%s: got %.6f c a degree, wanted %.6f by differences", m.Name, got, want)
		}
	}
}

// One per cent more moisture: -14.0 - 8.6 = -22.6 cents (first order).
func TestMoisture(t *testing.T) {
	if got := float64(MoisturePerPercent()); math.Abs(got+22.5) > 0.2 {
		t.Errorf("moisture: got %.2f c a per cent, wanted -22.5 within 0.2", got)
	}
}

func TestNamed(t *testing.T) {
	if _, ok := Named(" Steel "); !ok {
		t.Error(`Named(" Steel "): not found`)
	}
	if _, ok := Named("cheese"); ok {
		t.Error(`Named("cheese"): found`)
	}
}
