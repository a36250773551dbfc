package partial

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// BenchmarkGrow reads strikes as they come four times a second: 250 ms each,
// in windows that double, with 2.5 s of background before.
func BenchmarkGrow(b *testing.B) {
	const fs = 48000
	for _, count := range []int{8, 20, 40} {
		b.Run(fmt.Sprintf("partials=%d", count), func(b *testing.B) {
			r := rand.New(rand.NewPCG(5, uint64(count)))
			x, before := make([]float64, fs/4), make([]float64, fs*5/2)
			for i := range x {
				x[i] = 1e-4 * r.NormFloat64()
			}
			for i := range before {
				before[i] = 1e-4 * r.NormFloat64()
			}
			ring := make([]Component, count)
			for k := range ring {
				f := 200 + 8000*(float64(k)+0.6*r.Float64())/float64(count)
				ring[k] = Component{2 * math.Pi * f / fs, decayOf(0.3+2*r.Float64(), fs), complex(0.03*(1+r.Float64()), 0)}
			}
			Render(x, 0, ring)
			e := New(fs)
			var got Reading
			b.ReportAllocs()
			for b.Loop() {
				e.Begin(Take{Rate: fs, Before: before})
				for _, ms := range []float64{26, 46, 86, 166, 250} {
					got = e.Grow(x[:int(ms*fs/1000)])
				}
			}
			b.ReportMetric(float64(len(got.Partials)), "found")
			b.ReportMetric(float64(e.joint.steps), "steps")
			b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N), "ms/strike")
		})
	}
}
