package pitch

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// Time runs from the middle of the sound, t = ±½, ±1½, ... Cosines are then
// even and sines odd, so the even part of the sound belongs to the cosines and
// the odd part to the sines: two problems of half the length that know nothing
// of each other. Only t > 0 is kept; a sum over all t is twice that over t > 0.

// waves holds cos(hωt) and sin(hωt), rows h = 0..H, columns t = ½, 1½, ...,
// and their sums over all t.
type waves struct {
	cos, sin [][]float64
	sums     []float64 // Σ cos(mωt), m = 0..2H
	m        int       // columns in use
}

func newWaves(harmonics, most int) waves {
	w := waves{sums: make([]float64, 2*harmonics+1)}
	for range harmonics + 1 {
		w.cos = append(w.cos, make([]float64, most))
		w.sin = append(w.sin, make([]float64, most))
	}
	return w
}

func (v *waves) fill(n int, w float64, h int) {
	v.m = n / 2
	rs, rc := math.Sincos(w)
	var c, s float64
	for i := range v.m {
		if i%256 == 0 { // the recurrence loses a few ulps a step
			s, c = math.Sincos(w * (float64(i) + 0.5))
		}
		v.cos[0][i], v.sin[0][i] = 1, 0
		v.cos[1][i], v.sin[1][i] = c, s
		c, s = c*rc-s*rs, c*rs+s*rc
	}
	c1 := v.cos[1][:v.m]
	for k := 2; k <= h; k++ { // Chebyshev's recurrence, fine for a few dozen
		pc, ppc, ps, pps := v.cos[k-1][:v.m], v.cos[k-2][:v.m], v.sin[k-1][:v.m], v.sin[k-2][:v.m]
		oc, os := v.cos[k][:v.m], v.sin[k][:v.m]
		for i, x := range c1 {
			oc[i] = 2*x*pc[i] - ppc[i]
			os[i] = 2*x*ps[i] - pps[i]
		}
	}
	// Σ cos(mωt) = sin(mωn/2)/sin(mω/2)
	for m := range 2*h + 1 {
		v.sums[m] = float64(n)
		if d := math.Sin(float64(m) * w / 2); m > 0 && d != 0 {
			v.sums[m] = math.Sin(float64(m)*w*float64(n)/2) / d
		}
	}
}

// half is the even (first = 0, with the mean as harmonic 0) or the odd
// (first = 1) half of the problem.
type half struct {
	first                int
	part, residue, slope []float64 // t > 0
	coef, taken          []float64 // of each harmonic, in the sound and in the slope
	gram                 square
}

func newHalf(first, harmonics, most int) half {
	return half{
		first:   first,
		coef:    make([]float64, harmonics+1),
		taken:   make([]float64, harmonics+1),
		gram:    newSquare(harmonics + 1),
		part:    make([]float64, most),
		residue: make([]float64, most),
		slope:   make([]float64, most),
	}
}

// load takes the even (sign +1) or odd (-1) part of sound, of even length.
func (p *half) load(sound []float64, sign float64) {
	m := len(sound) / 2
	p.part, p.residue, p.slope = p.part[:m], p.residue[:m], p.slope[:m]
	for i := range m {
		p.part[i] = (sound[m+i] + sign*sound[m-1-i]) / 2
	}
}

// own is the table this half draws from, other the one it does not.
func (p *half) own(v waves) [][]float64 {
	if p.first == 0 {
		return v.cos
	}
	return v.sin
}

func (p *half) other(v waves) [][]float64 {
	if p.first == 0 {
		return v.sin
	}
	return v.cos
}

// solve finds the coefficients, leaves the residue and returns its sum of
// squares over all t. Σ cos(jωt)cos(kωt) = ½[S(j-k) + S(j+k)], S the sums of
// waves; for sines the sign between them is minus.
func (p *half) solve(v waves, h int) float64 {
	sign := 1 - 2*float64(p.first)
	for j := p.first; j <= h; j++ {
		for k := p.first; k <= j; k++ {
			p.gram.set(j, k, (v.sums[j-k]+sign*v.sums[j+k])/2)
		}
	}
	p.gram.factor(p.first, h+1)
	clear(p.coef)
	p.takeOut(p.residue, p.part, p.coef, v, h)
	return 2 * floats.Dot(p.residue, p.residue)
}

// tangent leaves the slope sign·t·Σ h·coef·(the other table), less what this
// half's harmonics can take up, and returns its sum of squares over all t.
func (p *half) tangent(v waves, sign float64, coef []float64, h int) float64 {
	other := p.other(v)
	clear(p.slope)
	for k := 1; k <= h; k++ {
		floats.AddScaled(p.slope, sign*float64(k)*coef[k], other[k][:len(p.slope)])
	}
	for i := range p.slope {
		p.slope[i] *= float64(i) + 0.5
	}
	p.takeOut(p.slope, p.slope, p.taken, v, h)
	return 2 * floats.Dot(p.slope, p.slope)
}

// takeOut sets dst to y less its projection on this half's harmonics, whose
// coefficients go to coef. dst may be y.
func (p *half) takeOut(dst, y, coef []float64, v waves, h int) {
	own := p.own(v)
	for k := p.first; k <= h; k++ {
		coef[k] = 2 * floats.Dot(y, own[k][:len(y)])
	}
	p.gram.solve(coef[:h+1], p.first)
	if &dst[0] != &y[0] {
		copy(dst, y)
	}
	for k := p.first; k <= h; k++ {
		floats.AddScaled(dst, -coef[k], own[k][:len(dst)])
	}
}
