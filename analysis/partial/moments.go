package partial

import "math"

// block is how many samples one block moment holds. Its half, 16, times the
// distance to the reference must stay small (maxDrift); 64 makes a fit cheaper
// and the reading of short rings worse.
const block = 32

const (
	// maxDrift bounds |ω-ω0|·block/2 while a fit still moves: the series below
	// then errs by 0.1³/6 of what lies in a block, less than a step is worth.
	maxDrift = 0.1
	// settledDrift is the same bound where a fit ends: 0.01³/6 = 2e-7.
	settledDrift = 0.01
)

// fold prepares samples for block moments: of each whole block of y it stores
// the 16 sums y[c+k]+y[c-k] and then the 16 differences y[c+k]-y[c-k], where c
// is the block's middle and k = 0.5, 1.5, ... A moment about the middle then
// needs half the products, for all frequencies alike.
func fold(uv, y []float64, from, blocks int) []float64 {
	if need := blocks * block; cap(uv) < need {
		uv = append(make([]float64, 0, 2*need), uv...)
	}
	uv = uv[:blocks*block]
	for m := from; m < blocks; m++ {
		s := y[m*block : m*block+block]
		d := uv[m*block : m*block+block]
		for k := range block / 2 {
			a, b := s[block/2+k], s[block/2-1-k]
			d[k] = a + b
			d[block/2+k] = a - b
		}
	}
	return uv
}

// moments holds, for each block of the whitened sound, the three moments
// M_r = Σ_k y[c+k]·k^r·exp(i·ω0·k) about the block's middle. They turn the
// sums Z_r(z) = Σ n^r·y[n]·z^n for any z near exp(i·ω0) into a short sum over
// blocks, and they stay valid while the window grows.
type moments struct {
	w0     float64
	blocks int
	m      []float64 // re, im of M0, M1, M2 for each block
}

// refer moves the reference to w0 and forgets what was summed.
func (p *moments) refer(w0 float64) { p.w0, p.blocks, p.m = w0, 0, p.m[:0] }

// extend sums the blocks that are not summed yet.
func (p *moments) extend(uv []float64, blocks int) {
	if blocks <= p.blocks {
		return
	}
	const h = block / 2
	var c, s, kc, ks, kkc, kks [h]float64
	for i := range h {
		k := float64(i) + 0.5
		si, co := math.Sincos(p.w0 * k)
		c[i], s[i] = co, si
		kc[i], ks[i] = k*co, k*si
		kkc[i], kks[i] = k*k*co, k*k*si
	}
	if need := 6 * blocks; cap(p.m) < need {
		p.m = append(make([]float64, 0, 2*need), p.m...)
	}
	p.m = p.m[:6*blocks]
	for b := p.blocks; b < blocks; b++ {
		u := (*[h]float64)(uv[b*block : b*block+h])
		v := (*[h]float64)(uv[b*block+h : b*block+block])
		var r0, i0, r1, i1, r2, i2 float64
		for i := range h {
			r0 += u[i] * c[i]
			i0 += v[i] * s[i]
			r1 += v[i] * kc[i]
			i1 += u[i] * ks[i]
			r2 += u[i] * kkc[i]
			i2 += v[i] * kks[i]
		}
		o := (*[6]float64)(p.m[6*b : 6*b+6])
		o[0], o[1], o[2], o[3], o[4], o[5] = r0, i0, r1, i1, r2, i2
	}
	p.blocks = blocks
}

// at returns Z0 = Σ y[n]·z^n and Z1 = Σ n·y[n]·z^n over the first blocks,
// z = exp(-d+iω), by the series in δ = -d + i(ω-ω0) inside each block.
func (p *moments) at(w, d float64, blocks int) (z0, z1 complex128) {
	// Beyond 24 nepers (208 dB) nothing is left that counts.
	blocks = min(blocks, p.blocks, int(24/d/block)+1)
	er, ei := -d, w-p.w0
	// ½δ²
	qr, qi := 0.5*(er*er-ei*ei), er*ei
	const mid = (block - 1) / 2.0
	g := math.Exp(-d * mid)
	s, c := math.Sincos(w * mid)
	pr, pi := g*c, g*s
	g = math.Exp(-d * block)
	s, c = math.Sincos(w * block)
	sr, si := g*c, g*s
	var a0r, a0i, a1r, a1i float64
	t := mid
	m := p.m
	for range blocks {
		o := (*[6]float64)(m)
		m = m[6:]
		br := o[0] + er*o[2] - ei*o[3] + qr*o[4] - qi*o[5]
		bi := o[1] + er*o[3] + ei*o[2] + qr*o[5] + qi*o[4]
		cr := o[2] + er*o[4] - ei*o[5] + t*br
		ci := o[3] + er*o[5] + ei*o[4] + t*bi
		a0r += pr*br - pi*bi
		a0i += pr*bi + pi*br
		a1r += pr*cr - pi*ci
		a1i += pr*ci + pi*cr
		pr, pi = pr*sr-pi*si, pr*si+pi*sr
		t += block
	}
	return complex(a0r, a0i), complex(a1r, a1i)
}
