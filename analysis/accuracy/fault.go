package accuracy

import (
	"math"

	"ringwell/analysis"
	"ringwell/analysis/partial"
)

// stop lays a hand on the object at seconds after the onset: from there on
// every mode decays with the T60 after, or its own if that is shorter.
func (t *take) stop(at, after float64) {
	from := int(at * float64(rate))
	tail := t.sound[from:]
	for _, c := range t.ring {
		faster := max(c.Decay, analysis.LnThousand/(after*float64(rate)))
		s, k := math.Sincos(c.Omega * float64(from))
		g := math.Exp(-c.Decay * float64(from))
		amp := c.Amp * complex(g*k, g*s)
		partial.Render(tail, 0, []partial.Component{
			{Omega: c.Omega, Decay: c.Decay, Amp: -amp},
			{Omega: c.Omega, Decay: faster, Amp: amp},
		})
	}
}

// clip cuts the sound off so many dB below its largest sample.
func (t *take) clip(db float64) {
	var top float64
	for _, v := range t.sound {
		top = max(top, math.Abs(v))
	}
	rail := top * fromDB(-db)
	for i, v := range t.sound {
		t.sound[i] = min(max(v, -rail), rail)
	}
}
