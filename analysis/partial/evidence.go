package partial

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// evidence holds what the sound before the strike and beside a partial says
// against it.
type evidence struct {
	white  bool      // pre and uv are made
	pre    []float64 // the sound before, whitened
	uv     []float64 // folded
	seq    []complex128
	beside []complex128
	plan   map[int]*fourier.CmplxFFT
	known  []seenBefore // exact answers given already in this strike
}

type seenBefore struct {
	w, d  float64
	n     int
	lam   float64
	looks float64
}

func (v *evidence) begin() { v.white, v.known = false, v.known[:0] }

// decimate writes Σ_k x[c+k]·exp(iωk) of each folded block about its middle.
func decimate(dst []complex128, uv []float64, w float64, blocks int) []complex128 {
	const h = block / 2
	var c, s [h]float64
	for i := range h {
		s[i], c[i] = math.Sincos(w * (float64(i) + 0.5))
	}
	dst = grown(dst, blocks)
	for b := range blocks {
		u := (*[h]float64)(uv[b*block : b*block+h])
		v := (*[h]float64)(uv[b*block+h : b*block+block])
		var re, im, re2, im2 float64
		for i := 0; i < h; i += 2 {
			re += u[i] * c[i]
			im += v[i] * s[i]
			re2 += u[i+1] * c[i+1]
			im2 += v[i+1] * s[i+1]
		}
		dst[b] = complex(re+re2, im+im2)
	}
	return dst
}

// neighbours returns mean and maximum of the likelihood ratio of what the fit
// leaves at the same damping within ±25 Hz (at least 8 cells) of a pole, over
// the part of the window that the partial fills. White noise gives a mean of 1.
// seq is what is left, decimated at w; chance is the maximum that noise alone
// exceeds once in a hundred times.
func (v *evidence) neighbours(seq []complex128, w, d, fs float64) (mean, most, chance float64) {
	span := min(float64(len(seq)*block), max(3/d, 0.02*fs))
	count := int(span) / block
	if count < 8 {
		return 1, 1, math.Inf(1)
	}
	group := 1
	for count/group > 128 {
		group *= 2
	}
	m := count / group
	nf := 16
	for nf < m {
		nf *= 2
	}
	if v.plan == nil {
		v.plan = map[int]*fourier.CmplxFFT{}
	}
	p := v.plan[nf]
	if p == nil {
		p = fourier.NewCmplxFFT(nf)
		v.plan[nf] = p
	}
	v.beside = grown(v.beside, nf)
	clear(v.beside)
	const mid = (block - 1) / 2.0
	u, step := expi(d*mid, w*mid), expi(d*block, w*block)
	for k := range m * group {
		v.beside[k/group] += u * seq[k]
		u *= step
	}
	p.Coefficients(v.beside, v.beside)
	samples := m * group * block
	scale := 1 / real(doubling(complex(math.Exp(-2*d), 0), samples).s0)
	cells := min(max(int(25/fs*float64(nf*group*block)), 8), nf/2-1)
	for k := 1; k <= cells; k++ {
		a, b := abs2(v.beside[k])*scale, abs2(v.beside[nf-k])*scale
		mean += a + b
		most = max(most, a, b)
	}
	return mean / float64(2*cells), most, math.Log(float64(2*cells) / falseAlarm)
}

// heardBefore reports whether something like the partial (w, d) of likelihood
// ratio lam sounded before the strike already: a hum, a voice, a fan. It must
// stand out sixfold (tuned on speech, fourfold let 2 % more voices in) from
// the most the same wave finds in any stretch of equal length before, and
// eightfold from the loudest moment's mean over ±12 %.
func (e *Estimator) heardBefore(w, d, lam float64, n int) bool {
	wh := e.white
	if wh.count == 0 {
		return false
	}
	raw := wh.raw(w)
	at := int(w / math.Pi * (bins - 1))
	lo, hi := max(int(0.88*float64(at)), 1), min(int(1.12*float64(at))+2, bins)
	wide := 2 * frame / wh.size // bins that one line of a frame fills
	var band, line float64
	for f := range wh.count {
		row := wh.frames[f*bins : f*bins+bins]
		var sum float64
		for _, p := range row[lo:hi] {
			sum += p
		}
		band = max(band, sum/float64(hi-lo))
		for k := max(at-wide, 0); k <= min(at+wide+1, bins-1); k++ {
			line = max(line, row[k])
		}
	}
	// The mean of m exponential powers exceeds x with probability
	// exp(-m·(x-1-ln x)) at most (Chernoff): less than that is noise.
	if x := band / raw; lam < 8*x && x > 1 &&
		float64(hi-lo)*(x-1-math.Log(x)) > math.Log(float64(wh.count)/falseAlarm) {
		return true
	}
	span := int(min(float64(n), max(2/d, 0.02*e.fs), float64(len(e.before)/2)))
	// A wave that went on as strong through the whole span gives at most this.
	if lam > 6*3*max(1, 2*float64(span)/float64(wh.size))*line/raw {
		return false
	}
	most, looks := e.mostBefore(w, d, span)
	return lam < 6*most && most > math.Log(looks/falseAlarm)
}

// mostBefore returns the largest likelihood ratio of the wave (w, d), and of
// its neighbours half a cell and a cell away, in stretches of span samples
// before the strike, and at how many places it looked.
func (e *Estimator) mostBefore(w, d float64, span int) (most, looks float64) {
	v := &e.ev
	if !v.white {
		v.pre = v.pre[:0]
		if len(e.before) > order {
			e.tmp = sanitise(e.tmp[:0], e.before)
			v.pre = e.white.apply(v.pre, e.tmp, order)
		}
		v.uv = fold(v.uv[:0], v.pre, 0, len(v.pre)/block)
		v.white = true
	}
	for _, k := range v.known {
		if math.Abs(k.w-w) < 0.2/float64(span) && k.d < 1.3*d && d < 1.3*k.d && 2*k.n > span && k.n < 2*span {
			return k.lam, k.looks
		}
	}
	blocks := len(v.uv) / block
	v.seq = decimate(v.seq, v.uv, w, blocks)
	count := min(span/block, blocks)
	if count < 2 {
		return 0, 1
	}
	for off := -2; off <= 2; off++ {
		wo := w + float64(off)*math.Pi/float64(span)
		step := expi(d*block, wo*block)
		for at := 0; at+count <= blocks; at += max(count/2, 1) {
			// Horner's rule from the end: Σ seq[m]·step^m.
			var z complex128
			for m := at + count - 1; m >= at; m-- {
				z = z*step + v.seq[m]
			}
			most = max(most, abs2(z))
			looks++
		}
	}
	const mid = (block - 1) / 2.0
	most *= math.Exp(-2*d*mid) / real(doubling(complex(math.Exp(-2*d), 0), count*block).s0)
	v.known = append(v.known, seenBefore{w, d, span, most, looks})
	return most, looks
}
