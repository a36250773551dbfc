package water

import (
	"math"
	"testing"
)

// G. S. Kell, Density, thermal expansivity, and compressibility of liquid water
// from 0° to 150 °C, J. Chem. Eng. Data 20, 97 (1975): an independent formula
// on the older temperature scale, from memory, unchecked.
func TestAgainstKell(t *testing.T) {
	for c := 0.0; c <= 40; c += 2.5 {
		kell := (999.83952 + 16.945176*c - 7.9870401e-3*c*c - 46.170461e-6*c*c*c + 105.56302e-9*math.Pow(c, 4) -
			280.54253e-12*math.Pow(c, 5)) / (1 + 16.879850e-3*c) / 1000
		// 2e-5 g: fifty times less than the finest kitchen scale shows of 1 l.
		if got := Density(c); math.Abs(got-kell) > 2e-5 {
			t.Errorf("density at %g °C: got %.6f g/ml, wanted %.6f within 2e-5", c, got, kell)
		}
	}
}

// Handbooks print 0.99821 g/ml at 20 °C and 0.99705 at 25 °C (CRC Handbook of
// Chemistry and Physics, from memory, unchecked).
func TestHandbook(t *testing.T) {
	for c, want := range map[float64]float64{4: 0.99997, 20: 0.99821, 25: 0.99705} {
		if got := Density(c); math.Abs(got-want) > 0.51e-5 {
			t.Errorf("density at %g °C: got %.5f g/ml, wanted %.5f", c, got, want)
		}
	}
}

func TestGramsAndBack(t *testing.T) {
	if got := Millilitres(Grams(216.6, 17), 17); math.Abs(got-216.6) > 1e-9 {
		t.Errorf("216.6 ml to grams and back at 17 °C: got %v ml", got)
	}
	for c, ok := range map[float64]bool{-1: false, 0: true, 40: true, 70: false, math.NaN(): false} {
		if got := Check(c) == nil; got != ok {
			t.Errorf("Check(%g °C): got ok %v, wanted %v", c, got, ok)
		}
	}
}
