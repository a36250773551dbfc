package trace

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"ringwell/analysis"
)

const (
	// The rates a hand rocks and swirls at.
	slowest, quickest = 0.45, 9.0
	// swings is how many must have been heard.
	swings = 1.9
	// wobbleCents or wobbleDB is the least that is told. Two cents in a slow
	// vibrato are at the edge of what is heard (common practice, no source).
	wobbleCents = 2.0
	wobbleDB    = 1.0
	// wobbleShare is the part of what is left without it that a wobble explains.
	wobbleShare = 0.9
	// oneSided tells a beat from a wobble. The logarithm of two waves, 1 + ρe^iθ,
	// has frequencies on one side only (its series is in powers of e^iθ); what
	// swings in pitch or in level alone has both alike. The weaker side must have
	// this part of the stronger.
	oneSided = 0.3
	// wander, in rad², is what phase and level may stray for reasons of their own.
	wander = 4e-4
)

// Wobble is a slow even swing of pitch, of level, or of both.
type Wobble struct {
	Rate       float64 // swings a second
	SigmaRate  float64
	Still      analysis.Hz    // where the pitch lies between its swings
	SigmaStill analysis.Cents // one standard deviation
	Depth      analysis.Cents // how far it swings to either side
	SigmaDepth analysis.Cents
	DepthDB    float64 // how far the level swings to either side
}

// Wobble returns the wobble of a trace, and false where it has none.
func (t Trace) Wobble() (Wobble, bool) {
	n := len(t.phase)
	seconds := float64(n-1) * t.Step
	from := max(slowest, swings/seconds)
	if from > quickest {
		return Wobble{}, false
	}
	least := math.Inf(1)
	at := 0.0
	step := 0.2 / seconds
	for r := from; r <= quickest; r += step {
		if s := t.swing(r); s.rest < least {
			least, at = s.rest, r
		}
	}
	if math.IsInf(least, 1) {
		return Wobble{}, false
	}
	for d := step / 2; d > 1e-4*at; d /= 2 {
		for _, r := range [...]float64{at - d, at + d} {
			if r < slowest/1.2 {
				continue
			}
			if s := t.swing(r); s.rest < least {
				least, at = s.rest, r
			}
		}
	}
	s := t.swing(at)
	plain := t.swing(0)
	pitch := math.Hypot(s.pc, s.ps) // rad
	level := math.Hypot(s.lc, s.ls) // neper
	w := Wobble{
		Rate:    at,
		Still:   analysis.Hz(t.Reference + s.omega/(2*math.Pi)),
		Depth:   analysis.Cents(analysis.CentsPerNeper * pitch * at / t.Reference),
		DepthDB: 20 / math.Ln10 * level,
	}
	// Even swings in cents have a mean a little above their middle.
	swing := float64(w.Depth) / analysis.CentsPerNeper
	w.Still *= analysis.Hz(1 - swing*swing/4)
	// Amplitudes of both sides of the spectrum of ln z.
	upper := math.Hypot(s.lc+s.ps, s.pc-s.ls) / 2
	lower := math.Hypot(s.lc-s.ps, s.pc+s.ls) / 2
	dof := float64(2*n - 11)
	scale := max(1, least/dof)
	w.SigmaDepth = analysis.Cents(analysis.CentsPerNeper * s.sigma * at / t.Reference * math.Sqrt(scale))
	w.SigmaStill = analysis.Cents(analysis.CentsPerNeper * s.sigmaOmega / (2 * math.Pi * t.Reference) * math.Sqrt(scale))
	// What a shift of the rate by d changes in the phase grows as 2π·d·t.
	w.SigmaRate = s.sigma * math.Sqrt(scale) * math.Sqrt(12) / (2 * math.Pi * seconds * math.Hypot(pitch, level))
	switch {
	case float64(w.Depth) < max(wobbleCents, 5*float64(w.SigmaDepth)) && w.DepthDB < wobbleDB,
		least > (1-wobbleShare)*plain.rest,
		min(upper, lower) < oneSided*max(upper, lower),
		at*seconds < swings:
		return Wobble{}, false
	}
	return w, true
}

// swing is a wobble of a given rate fitted to phase and level.
type swing struct {
	omega          float64 // rad/s beside the reference
	pc, ps, lc, ls float64 // of cos and sin, rad and neper
	rest           float64 // weighted sum of squares left
	sigma          float64 // rad, of each of pc, ps
	sigmaOmega     float64
}

// swing fits, by weighted least squares, phase and level each as a quadratic
// (a decay that changes, a pitch that sinks a little) and a swing of rate r;
// with r = 0, as the quadratic alone.
func (t Trace) swing(r float64) swing {
	n := len(t.phase)
	m := 5
	if r == 0 {
		m = 3
	}
	a := mat.NewSymDense(m, nil)
	phase, level := mat.NewVecDense(m, nil), mat.NewVecDense(m, nil)
	var pp, ll float64
	middle := float64(n-1) / 2
	var b [5]float64
	for i := range n {
		x := (float64(i) - middle) / middle
		sin, cos := math.Sincos(2 * math.Pi * r * float64(i) * t.Step)
		b = [5]float64{1, x, x * x, cos, sin}
		w := 1 / (t.doubt[i] + wander)
		p, l := t.phase[i], t.Level[i]
		pp, ll = pp+w*p*p, ll+w*l*l
		for j := range m {
			phase.SetVec(j, phase.AtVec(j)+w*b[j]*p)
			level.SetVec(j, level.AtVec(j)+w*b[j]*l)
			for k := j; k < m; k++ {
				a.SetSym(j, k, a.At(j, k)+w*b[j]*b[k])
			}
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(a) || chol.Cond() > 1e10 {
		return swing{rest: math.Inf(1)}
	}
	var p, l mat.VecDense
	if chol.SolveVecTo(&p, phase) != nil || chol.SolveVecTo(&l, level) != nil {
		return swing{rest: math.Inf(1)}
	}
	s := swing{
		omega: p.AtVec(1) / (middle * t.Step),
		rest:  max(0, pp-mat.Dot(&p, phase)) + max(0, ll-mat.Dot(&l, level)),
	}
	if r > 0 {
		s.pc, s.ps, s.lc, s.ls = p.AtVec(3), p.AtVec(4), l.AtVec(3), l.AtVec(4)
		var inverse mat.SymDense
		if chol.InverseTo(&inverse) == nil {
			s.sigma = math.Sqrt(inverse.At(4, 4))
			s.sigmaOmega = math.Sqrt(inverse.At(1, 1)) / (middle * t.Step)
		}
	}
	return s
}
