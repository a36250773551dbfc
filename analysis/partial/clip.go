package partial

import "math"

// clipEnd returns the sample after which nothing in the first 0.6 s lies at
// the rail, or 0 if nothing is clipped. Clipped is a run of two samples or
// more within a ten-thousandth of the largest that the sound enters or leaves
// at a slope: the round top of a slow wave has no such step (at most a
// thousandth of it for two samples that close), or but one quantisation step lsb.
func clipEnd(x []float64, fs, lsb float64) int {
	x = x[:min(len(x), int(0.6*fs))]
	var top float64
	for _, v := range x {
		top = max(top, math.Abs(v))
	}
	if top < 1e-3 {
		return 0
	}
	rail, step := top*0.9999, top-max(0.003*top, 2.5*lsb)
	end, railed := 0, 0
	for i := 0; i < len(x); {
		if math.Abs(x[i]) < rail {
			i++
			continue
		}
		k := i + 1
		for k < len(x) && math.Abs(x[k]) >= rail && (x[k] > 0) == (x[i] > 0) {
			k++
		}
		if k-i >= 2 {
			before, after := i > 0 && math.Abs(x[i-1]) < step, k < len(x) && math.Abs(x[k]) < step
			if before || after {
				end = k
				railed += k - i
			}
		}
		i = k
	}
	if railed < 3 {
		return 0
	}
	return end
}
