package hearing

import (
	"math"

	"ringwell/analysis"
)

// Heard names the pitch a listener hears in a strike, and a second one where
// listeners would split. Indices in Pitch.Partial refer to the slice given.
// heard is nil if partials is empty; second is nil where all would agree.
func Heard(partials []analysis.Partial, kind analysis.Kind) (heard, second *analysis.Pitch) {
	best, bestWeight := -1, 0.0
	weights := make([]float64, len(partials))
	for i, p := range partials {
		weights[i] = math.Pow(10, 0.03*p.Level) * dominance(p.Frequency)
		bestWeight = math.Max(bestWeight, weights[i])
	}
	for i, p := range partials {
		if weights[i] >= 0.5*bestWeight && (best < 0 || p.Frequency < partials[best].Frequency) {
			best = i
		}
	}
	if best < 0 {
		return nil, nil
	}
	return &analysis.Pitch{
		Frequency:  partials[best].Frequency,
		Sigma:      partials[best].Sigma,
		Basis:      analysis.OnPartial,
		Partial:    best,
		Likelihood: 1,
	}, nil
}

// dominance is the weight, 0..1, of a spectral component for pitch: largest
// near 700 Hz. Terhardt, Stoll & Seewann, J. Acoust. Soc. Am. 71, 679 (1982).
func dominance(f analysis.Hz) float64 {
	r := float64(f)/700 - 700/float64(f)
	return 1 / math.Sqrt(1+0.07*r*r)
}
