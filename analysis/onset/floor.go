package onset

import "math"

const (
	floorSeconds = 2.5
	// The floor is a low quantile of the recent past: what sounds between
	// strikes, even when strikes come four a second. At 0.4 the ring of a pipe
	// struck often became its own floor and hid the next strike.
	floorQuantile = 0.2
	unrestSeconds = 1.5
)

// history holds the last values of one quantity and gives a quantile of them
// without allocating.
type history struct {
	values  []float64
	scratch []float64
	next    int
	full    bool
}

func newHistory(n int) history {
	return history{values: make([]float64, n), scratch: make([]float64, n)}
}

func (h *history) reset() { h.next, h.full = 0, false }

func (h *history) push(v float64) {
	h.values[h.next] = v
	h.next++
	if h.next == len(h.values) {
		h.next, h.full = 0, true
	}
}

// copy returns the values in scratch memory, in no particular order.
func (h *history) copy() []float64 {
	n := h.next
	if h.full {
		n = len(h.values)
	}
	return h.scratch[:copy(h.scratch, h.values[:n])]
}

// quantile returns the p-quantile, 0 for an empty history.
func (h *history) quantile(p float64) float64 {
	s := h.copy()
	if len(s) == 0 {
		return 0
	}
	return nth(s, min(int(p*float64(len(s))), len(s)-1))
}

// middle returns the median and the median absolute deviation from it.
func (h *history) middle() (median, deviation float64) {
	s := h.copy()
	if len(s) == 0 {
		return 0, 0
	}
	median = nth(s, len(s)/2)
	for i, v := range s {
		s[i] = math.Abs(v - median)
	}
	return median, nth(s, len(s)/2)
}

// nth returns the k-th smallest of x (0 the smallest), reordering it: Hoare's
// selection.
func nth(x []float64, k int) float64 {
	lo, hi := 0, len(x)-1
	for lo < hi {
		pivot := x[lo+(hi-lo)/2]
		i, j := lo, hi
		for i <= j {
			for x[i] < pivot {
				i++
			}
			for x[j] > pivot {
				j--
			}
			if i <= j {
				x[i], x[j] = x[j], x[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return x[k]
		}
	}
	return x[k]
}

// quantileToMean is what the floorQuantile of a noise band's energy must be
// multiplied with to give its mean, for a band of so many bins. Each Hann bin
// counts as 2/3 of an independent one. The cube-root rule for quantiles of the
// chi-squared distribution: Wilson & Hilferty, PNAS 17 (1931) 684.
func quantileToMean(bins int) float64 {
	if bins <= 1 {
		return -1 / math.Log(1-floorQuantile) // exact for an exponential
	}
	const z = -0.8416212 // floorQuantile of the standard normal distribution
	k := max(1, float64(bins)*2/3)
	v := 1 / (9 * k)
	q := 1 - v + z*math.Sqrt(v)
	return 1 / (q * q * q)
}
