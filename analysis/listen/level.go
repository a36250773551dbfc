package listen

import (
	"math"

	"ringwell/analysis"
)

// meter sums up what comes in, a tenth of a second at a time.
type meter struct {
	length int // samples
	n      int
	peak   float64
	square float64
	lost   int64
	zeros  int64 // samples of exact 0 in a row
	run    int   // samples in a row at the rail
	railed bool
}

func newMeter(rate analysis.Rate) meter { return meter{length: max(1, int(float64(rate)/10))} }

// rail is where a converter or a sample format ends: within two steps of 16
// bits of full scale. Three samples there in a row are clipping.
const (
	rail     = 1 - 2.0/32768
	railRuns = 3
)

// take adds the samples of b and calls tell at the end of each tenth.
func (m *meter) take(b analysis.Block, tell func(Level)) {
	m.lost += b.Lost
	for i, x := range b.Samples {
		x = sane(x)
		if x == 0 {
			m.zeros++
		} else {
			m.zeros = 0
		}
		a := math.Abs(x)
		if a >= rail {
			m.run++
			m.railed = m.railed || m.run >= railRuns
		} else {
			m.run = 0
		}
		m.peak = max(m.peak, a)
		m.square += x * x
		m.n++
		if m.n == m.length {
			tell(Level{
				At:      b.Start + int64(i) + 1,
				Peak:    m.peak,
				RMS:     math.Sqrt(m.square / float64(m.n)),
				Clipped: m.railed,
				Lost:    m.lost,
			})
			m.n, m.peak, m.square, m.railed = 0, 0, 0, false
		}
	}
}
