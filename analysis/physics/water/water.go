// Package water gives the density of water, so that what is poured may be
// weighed.
//
// Source: M. Tanaka, G. Girard, R. Davis, A. Peuto and N. Bignell, Recommended
// table for the density of water between 0 °C and 40 °C based on recent
// experimental reports, Metrologia 38, 301 (2001), eq. 1. From memory,
// unchecked but against a second formula, in the tests.
package water

import "fmt"

// Density is the mass of a millilitre of clean water at t °C, in grams, at one
// atmosphere, 0 to 40 °C. Tap water is heavier by 0.0001 to 0.0005 g, which
// nobody pours.
func Density(t float64) float64 {
	d := t - 3.983035
	return (1 - d*d*(t+301.797)/(522528.9*(t+69.34881))) * 0.999974950
}

// Check returns an error where water is not to be poured: outside 0 to 40 °C it
// is ice or, in cold glass, a danger.
func Check(t float64) error {
	if t >= 0 && t <= 40 {
		return nil
	}
	return fmt.Errorf("water: %g °C: take water of 0 to 40 °C; hot water cracks cold glass", t)
}

// Millilitres is the volume of so many grams of water at t °C.
func Millilitres(grams, t float64) float64 { return grams / Density(t) }

// Grams is the mass of so many millilitres of water at t °C.
func Grams(ml, t float64) float64 { return ml * Density(t) }
