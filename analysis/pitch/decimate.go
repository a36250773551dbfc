package pitch

import "math"

// decimator keeps one sample in every factor, after a low-pass that leaves
// what lies under high alone and takes out what would fold onto it. A period
// needs a few samples to be found, not the dozens of full rate.
type decimator struct {
	factor int
	taps   []float64 // symmetric, odd; none if factor is 1
	held   []float64 // the last len(taps)-1 samples, then the hop
}

// newDecimator keeps four samples or more for a period of high, in hertz.
func newDecimator(rate, high float64, hop int) *decimator {
	d := &decimator{factor: max(1, min(4, int(rate/(4*high))))}
	if d.factor == 1 {
		return d
	}
	// Blackman's window needs 5.5/N of the rate from pass to stop, 74 dB down
	// (A.V. Oppenheim & R.W. Schafer, Discrete-Time Signal Processing, table
	// of windows, from memory, unchecked).
	stop := rate/float64(d.factor) - high
	n := int(math.Ceil(5.5*rate/(stop-high))) | 1
	cut := (high + stop) / 2 / rate
	d.taps = make([]float64, n)
	sum := 0.0
	for i := range d.taps {
		x := float64(i - n/2)
		sinc := 2 * cut
		if x != 0 {
			sinc = math.Sin(2*math.Pi*cut*x) / (math.Pi * x)
		}
		phase := 2 * math.Pi * (float64(i) + 0.5) / float64(n)
		d.taps[i] = sinc * (0.42 - 0.5*math.Cos(phase) + 0.08*math.Cos(2*phase))
		sum += d.taps[i]
	}
	for i := range d.taps {
		d.taps[i] /= sum
	}
	d.held = make([]float64, n-1+hop)
	return d
}

// delay is how many samples of full rate an output lies behind the last input
// it was made from.
func (d *decimator) delay() int { return len(d.taps) / 2 }

// step fills dst, of len(hop)/factor, from hop, whose length is a multiple of
// the factor.
func (d *decimator) step(dst, hop []float64) {
	if d.factor == 1 {
		copy(dst, hop)
		return
	}
	n := len(d.taps)
	copy(d.held, d.held[len(hop):])
	copy(d.held[n-1:], hop)
	for k := range dst {
		at := d.held[(k+1)*d.factor-1:]
		sum := 0.0
		for i, t := range d.taps {
			sum += t * at[i]
		}
		dst[k] = sum
	}
}

func (d *decimator) reset() { clear(d.held) }
