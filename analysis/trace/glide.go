package trace

import (
	"math"

	"ringwell/analysis"
)

const (
	// glideCents is the least a pitch must move to be told: an interval of ten
	// cents is heard in a slow glide (common practice, no source).
	glideCents = 10
	// glideRest is the part of the way that the trace may stray from a straight
	// glide between two still ends (rms). A drum's, which sinks ever more
	// slowly, strays by a tenth; a pair of modes that beats by more.
	glideRest = 0.12
	// glideShare is how much better than no glide it must be (sum of squares).
	glideShare = 0.05
)

// Glide is a pitch that moved from one place to another.
type Glide struct {
	From, To   analysis.Hz
	Begin, End float64        // s after the onset
	Cents      analysis.Cents // of the whole way, signed
	Sigma      analysis.Cents // one standard deviation of it, by what strays from it
}

// Rate returns how fast it moved, in cents a second, signed.
func (g Glide) Rate() float64 { return float64(g.Cents) / (g.End - g.Begin) }

// Glide returns the glide of a trace, and false where it has none.
func (t Trace) Glide() (Glide, bool) {
	n := len(t.Cents)
	if n < 12 {
		return Glide{}, false
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, c := range t.Cents {
		low, high = min(low, c), max(high, c)
	}
	if high-low < glideCents {
		return Glide{}, false
	}
	const cells = 24
	least := math.Inf(1)
	var best ramp
	try := func(b, e float64) {
		if b < 0 || e > float64(n-1) || e-b < 3 {
			return
		}
		if r := t.ramp(b, e); r.rest < least {
			least, best = r.rest, r
		}
	}
	cell := float64(n-1) / cells
	for i := range cells {
		for j := i + 1; j <= cells; j++ {
			try(float64(i)*cell, float64(j)*cell)
		}
	}
	for d := cell / 2; d > 0.2; d /= 2 {
		for range 2 {
			b, e := best.begin, best.end
			for _, m := range [...][2]float64{{-d, 0}, {d, 0}, {0, -d}, {0, d}, {-d, -d}, {d, d}, {-d, d}, {d, -d}} {
				try(b+m[0], e+m[1])
			}
		}
	}
	way := best.to - best.from
	rms := math.Sqrt(least / best.weight)
	if math.Abs(way) < glideCents || rms > glideRest*math.Abs(way) || least > glideShare*best.still {
		return Glide{}, false
	}
	place := func(c float64) analysis.Hz {
		return analysis.Hz(t.Reference * math.Exp(c/analysis.CentsPerNeper))
	}
	return Glide{
		From: place(best.from), To: place(best.to),
		Begin: t.Start + best.begin*t.Step, End: t.Start + best.end*t.Step,
		Cents: analysis.Cents(way), Sigma: analysis.Cents(math.Sqrt2 * rms),
	}, true
}

// ramp is a line that is level, goes straight from one place to another, and is
// level again.
type ramp struct {
	begin, end float64 // points
	from, to   float64 // c
	rest       float64 // weighted sum of squares it leaves, c²
	still      float64 // and a level line
	weight     float64
}

// noiseless is a sigma, in cents, that is added to each point's: the ends of a
// glide are rounder than a ramp's.
const noiseless = 0.3

func (t Trace) ramp(begin, end float64) ramp {
	var w, s, ss, c, sc, cc float64
	for i, v := range t.Cents {
		k := 1 / (t.Sigma[i]*t.Sigma[i] + noiseless*noiseless)
		x := min(max((float64(i)-begin)/(end-begin), 0), 1)
		w, s, ss = w+k, s+k*x, ss+k*x*x
		c, sc, cc = c+k*v, sc+k*x*v, cc+k*v*v
	}
	r := ramp{begin: begin, end: end, still: cc - c*c/w, weight: w}
	d := w*ss - s*s
	if !(d > 1e-9*w*w) {
		r.rest = math.Inf(1)
		return r
	}
	slope := (w*sc - s*c) / d
	r.from = (c - slope*s) / w
	r.to = r.from + slope
	r.rest = max(0, cc-r.from*c-slope*sc)
	return r
}
