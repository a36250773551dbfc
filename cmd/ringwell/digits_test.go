package main

import (
	"math"
	"testing"
)

func TestDigits(t *testing.T) {
	for _, c := range []struct {
		x, u  float64
		value string
		band  string
	}{
		{12.3456, 0.3, "12.3", "±0.3"},
		{12.3456, 0.31, "12.3", "±0.4"}, // never smaller than it is
		{12.3456, 0.04, "12.35", "±0.04"},
		{12.3456, 0.096, "12.3", "±0.1"}, // 0.096 shows as 0.1
		{12.3456, 4, "12", "±4"},
		{12.3456, 9.1, "10", "±10"},
		{1234.56, 30, "1230", "±30"},
		{-0.04, 0.3, "0.0", "±0.3"}, // no -0.0
		{-3.26, 0.3, "-3.3", "±0.3"},
		{440.123, 0, "440", ""}, // unknown: as coarse as told
		{440.123, math.NaN(), "440", ""},
		{440.123, math.Inf(1), "440", ""},
		{12.3456, 0.1 + 0.2, "12.3", "±0.3"}, // 0.30000000000000004 is 0.3
	} {
		if got := digits(c.x, c.u, 1); got != c.value {
			t.Errorf("%g with an uncertainty of %g: got %q, want %q", c.x, c.u, got, c.value)
		}
		if got := plusMinus(c.u); got != c.band {
			t.Errorf("an uncertainty of %g: got %q, want %q", c.u, got, c.band)
		}
	}
}

func nan() float64 { return math.NaN() }
func inf() float64 { return math.Inf(1) }
