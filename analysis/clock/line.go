package clock

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

const parts = 10 // of a record whose slopes are held against each other

// line fits a straight line and returns its slope, the slope's standard
// deviation and the scatter around it (both in the units of y). The deviation
// is the larger of two: the textbook one, widened for neighbours that are
// alike, and what the scatter of the parts' own slopes says; a phase that
// wanders slowly shows in the second only.
func line(x, y, w []float64) (slope, sigma, scatter float64) {
	offset, slope := stat.LinearRegression(x, y, w, false)
	res := make([]float64, len(x))
	for i := range x {
		res[i] = y[i] - offset - slope*x[i]
	}
	_, variance := stat.MeanVariance(res, nil)
	_, spread := stat.MeanVariance(x, w)
	var alike float64
	if variance > 0 {
		alike = math.Max(0, stat.Correlation(res[:len(res)-1], res[1:], nil))
	}
	// For residuals with a lag-one correlation r the effective number of
	// independent frames is n(1-r)/(1+r).
	n := float64(len(x)) * (1 - alike) / (1 + alike)
	sigma = math.Sqrt(variance / (math.Max(n-2, 1) * spread))
	return slope, math.Max(sigma, byParts(x, y, w)), math.Sqrt(variance)
}

// byParts returns the standard deviation of the whole record's slope as told by
// the slopes of its parts. Where the phase noise is white, the parts' slopes
// scatter parts^1.5 times wider than the whole's; where the frequency itself
// wanders, parts^0.5 times.
func byParts(x, y, w []float64) float64 {
	each := len(x) / parts
	if each < 3 {
		return 0
	}
	var slopes []float64
	for k := range parts {
		a, b := k*each, (k+1)*each
		_, s := stat.LinearRegression(x[a:b], y[a:b], w[a:b], false)
		slopes = append(slopes, s)
	}
	// What is left of the scatter once that between neighbours is taken off is
	// slow: a wander.
	_, v := stat.MeanVariance(slopes, nil)
	var drift float64
	for k := 1; k < len(slopes); k++ {
		d := slopes[k] - slopes[k-1]
		drift += d * d
	}
	drift /= float64(2 * (len(slopes) - 1))
	wander := math.Max(0, v-drift)
	return math.Sqrt(wander/parts + v/(parts*parts*parts))
}
