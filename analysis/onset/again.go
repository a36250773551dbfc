package onset

import "math"

// modelError is the share of a predicted ring's energy by which the prediction
// may be wrong without that being a strike: -10 dB. A ring heard for 100 ms is
// predicted for the next 50 to about -20 dB; a pair of modes not yet resolved
// is worse.
const modelError = 0.1

// Rise returns the strength of the largest rise within rest, as Step measures
// it and against today's floor. rest is sound from which a ring predicted by a
// model was taken out, ring is what was taken out, of the same length; a rise
// that an error of the prediction would explain does not count. So a beat that
// the model foresees gives less than 1, and a strike it could not foresee
// gives more. Both need about 50 ms before the moment in question.
func (f *Finder) Rise(rest, ring []float64) float64 {
	if len(rest) != len(ring) {
		panic("onset: Rise wants rest and ring of one length")
	}
	a := highPassed(rest)
	b := highPassed(ring)
	n := len(f.bands.window)
	var heard, known [][bandCount]float64
	for end := n; end <= len(a); end += f.hop {
		var e [bandCount]float64
		f.bands.energies(&e, a[end-n:end])
		heard = append(heard, e)
		f.bands.energies(&e, b[end-n:end])
		known = append(known, e)
	}
	largest := 0.0
	for i := f.from; i < len(heard); i++ {
		var rises [bandCount]float64
		mean := 0.0
		for k := range rises {
			before := 0.0
			for back := f.from; back <= f.to && back <= i; back++ {
				before = max(before, heard[i-back][k])
			}
			allowed := f.floor[k] + modelError*known[i][k]
			rises[k] = min(max(10*math.Log10((heard[i][k]+allowed)/(before+allowed)), 0), clipRise)
			mean += rises[k] / bandCount
		}
		largest = max(largest, meanOfLargest(&rises)/f.raised, mean/meanRise*strongRise/f.raised)
	}
	return largest
}

// highPassed returns a copy of x without its steady part, by the same filter
// as Step's.
func highPassed(x []float64) []float64 {
	y := make([]float64, len(x))
	for i := 1; i < len(x); i++ {
		y[i] = x[i] - x[i-1] + steady*y[i-1]
	}
	return y
}
