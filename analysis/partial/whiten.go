package partial

import (
	"math"

	"ringwell/analysis/fourier"
)

const (
	// order of the whitening filter: 32 follows hum, rumble and the slope of
	// pink noise; 16 leaves rumble in, 64 changes nothing and costs double.
	order = 32
	// bins of the background's spectrum, 0 to half the rate: the filter cannot
	// follow anything narrower, 1025 cost double and change nothing.
	bins  = 513
	frame = 2 * (bins - 1)
	// framesMost bounds the work before a strike; 28 frames of 21 ms give the
	// median of each bin within 25 % and the smoothed one within 8 %.
	framesMost = 28
	// framesFew are enough where the room's own spectrum is given as well.
	framesFew = 14
	// silence is the least power the background can have: a sixteenth of what
	// 24-bit samples round away.
	silence = 1e-16
	// beneath is the least power of the background against the strike's own:
	// no real decay is exponential to better than 50 dB, and what lies under
	// -70 dB would only shape the filter after silence.
	beneath = 1e-7
)

// whitener turns the background into white noise of unit variance by
// prediction: y[n] = Σ a[i]·x[n-i] / s. A damped wave stays one.
type whitener struct {
	a    [order + 1]float64
	s    float64
	gain []float64 // raw power of unit whitened power: s²/|A|² at each bin

	fft            *fourier.Real
	win            []float64
	buf            []float64
	spec           []complex128
	psd, mean, tmp []float64
	frames         []float64
	count          int // frames of what sounded before; 0 if unknown
	size           int // samples in each of them
}

func newWhitener() *whitener {
	w := &whitener{
		fft:  fourier.New(frame),
		gain: make([]float64, bins), win: make([]float64, frame), buf: make([]float64, frame),
		spec: make([]complex128, bins), psd: make([]float64, bins), mean: make([]float64, bins),
		tmp: make([]float64, 0, framesMost+2*25), frames: make([]float64, framesMost*bins),
	}
	for i := range w.win {
		w.win[i] = 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/frame)
	}
	return w
}

// collect writes the power spectra of frames of x, size samples long (size
// divides frame), and returns how many there are. White noise of variance v
// reads v.
func (w *whitener) collect(x []float64, size, most int) int {
	if len(x) < size {
		return 0
	}
	step := frame / size
	hop := max(size/2, (len(x)-size)/(most-1))
	n := 0
	for at := 0; at+size <= len(x) && n < most; at += hop {
		clear(w.buf)
		var ww float64
		for i := range size {
			g := w.win[i*step+step/2]
			w.buf[i] = tame(x[at+i]) * g
			ww += g * g
		}
		// A short frame padded with noughts gives the spectrum between its
		// own bins as well.
		w.fft.Coefficients(w.spec, w.buf)
		row := w.frames[n*bins : n*bins+bins]
		for k, c := range w.spec {
			row[k] = abs2(c) / ww
		}
		n++
	}
	return n
}

// before estimates the background from what sounded before the strike and
// reports whether there was enough of it. The median of each bin passes over
// what rings or knocks; the mean bounds it from below where a voice comes and
// goes.
func (w *whitener) before(x []float64, most int) bool {
	w.count = 0
	n, size := w.collect(x, frame, most), frame
	if n < 4 {
		n, size = w.collect(x, frame/4, most), frame/4
	}
	if n < 4 {
		return false
	}
	w.count, w.size = n, size
	col := w.tmp[:n]
	for k := range bins {
		var sum float64
		for f := range n {
			col[f] = w.frames[f*bins+k]
			sum += col[f]
		}
		// The median of exponentially distributed power is ln 2 of its mean;
		// 1.05 makes up for the spread of few frames.
		w.mean[k] = max(1.05/math.Ln2*middle(col), 0.5*sum/float64(n))
	}
	for k := range bins {
		var sum float64
		for j := -5; j <= 5; j++ {
			sum += w.mean[min(max(k+j, 0), bins-1)]
		}
		w.psd[k] = sum / 11
	}
	return true
}

// within guesses the background from the strike's own sound: in each bin the
// least tenth of its frames, fourfold, and of that the median over 25
// neighbours, which takes out narrow lines that still ring.
func (w *whitener) within(x []float64) bool {
	n := w.collect(x, frame, framesFew)
	if n < 2 {
		n = w.collect(x, frame/4, framesFew)
	}
	if n < 1 {
		return false
	}
	col := w.tmp[:n]
	for k := range bins {
		for f := range n {
			col[f] = w.frames[f*bins+k]
		}
		w.mean[k] = 4 * nth(col, n/10)
	}
	// Every fourth neighbourhood, and straight lines between.
	var near [25]float64
	const step = 4
	for k := 0; k < bins; k += step {
		for j := range near {
			near[j] = w.mean[min(max(k+j-12, 0), bins-1)]
		}
		v := middle(near[:])
		w.psd[k] = v
		if k > 0 {
			for q := 1; q < step; q++ {
				w.psd[k-step+q] = w.psd[k-step] + (v-w.psd[k-step])*float64(q)/step
			}
		}
	}
	return true
}

// atLeast raises the spectrum to a floor given at other bins, and to least.
func (w *whitener) atLeast(floor []float64, least float64) {
	for k := range w.psd {
		if len(floor) > 1 {
			at := float64(k) * float64(len(floor)-1) / (bins - 1)
			i := min(int(at), len(floor)-2)
			r := at - float64(i)
			if v := floor[i]*(1-r) + floor[i+1]*r; v > w.psd[k] && v < math.MaxFloat64 {
				w.psd[k] = v
			}
		}
		w.psd[k] = max(w.psd[k], least)
	}
}

// design makes the filter from the spectrum: its autocorrelation, then the
// Levinson-Durbin recursion.
func (w *whitener) design() {
	// The spectrum is real and even: one transform is as good as its inverse.
	for k, p := range w.psd {
		w.buf[k], w.buf[(frame-k)%frame] = p, p
	}
	w.fft.Coefficients(w.spec, w.buf)
	var r [order + 1]float64
	for i := range r {
		r[i] = real(w.spec[i])
	}
	inv := 1.0 / frame
	r0 := r[0] * inv * (1 + 1e-6) // 60 dB below the whole power a line may stand in a notch
	clear(w.a[:])
	w.a[0] = 1
	e := r0
	for i := 1; i <= order; i++ {
		acc := r[i] * inv
		for j := 1; j < i; j++ {
			acc += w.a[j] * r[i-j] * inv
		}
		k := -acc / e
		for j := 1; j <= i/2; j++ {
			p, q := w.a[j], w.a[i-j]
			w.a[j] = p + k*q
			w.a[i-j] = q + k*p
		}
		w.a[i] = k
		e *= 1 - k*k
	}
	w.s = math.Sqrt(max(e, silence))
	clear(w.buf)
	copy(w.buf, w.a[:])
	w.fft.Coefficients(w.spec, w.buf)
	for k, c := range w.spec {
		w.gain[k] = w.s * w.s / max(abs2(c), 1e-12)
	}
}

// apply appends to y the whitened samples of x from index from on; each needs
// the order samples before it, so from is at least order.
func (w *whitener) apply(y, x []float64, from int) []float64 {
	var b [order + 1]float64
	for i, a := range w.a {
		b[order-i] = a / w.s
	}
	n := from
	for ; n+4 <= len(x); n += 4 {
		s := x[n-order : n+4]
		_ = s[order+3]
		var p, q, r, t float64
		for i := range order + 1 {
			c := b[i]
			p += c * s[i]
			q += c * s[i+1]
			r += c * s[i+2]
			t += c * s[i+3]
		}
		y = append(y, p, q, r, t)
	}
	for ; n < len(x); n++ {
		var p float64
		for i, v := range x[n-order : n+1] {
			p += b[i] * v
		}
		y = append(y, p)
	}
	return y
}

// response returns what the filter does to a wave z^n: A(z)/s.
func (w *whitener) response(omega, decay float64) complex128 {
	inv := expi(-decay, -omega) // 1/z
	h := complex(w.a[order], 0)
	for i := order - 1; i >= 0; i-- {
		h = h*inv + complex(w.a[i], 0)
	}
	return h / complex(w.s, 0)
}

// raw returns the raw power that unit whitened power at omega stands for.
func (w *whitener) raw(omega float64) float64 {
	at := min(max(omega/math.Pi, 0), 1) * (bins - 1)
	i := min(int(at), bins-2)
	r := at - float64(i)
	return w.gain[i]*(1-r) + w.gain[i+1]*r
}

// breadth is the part of the band that the background fills, 1 for white noise:
// the square of its mean power over the mean of its square.
func (w *whitener) breadth() float64 {
	psd := w.psd
	if w.count > 0 {
		psd = w.mean // before it was smoothed
	}
	var sum, squares float64
	for _, p := range psd {
		sum += p
		squares += p * p
	}
	if !(squares > 0) || math.IsInf(squares, 1) {
		return 1
	}
	return sum * sum / (float64(len(psd)) * squares)
}

// middle returns the upper median of v, whose order it changes.
func middle(v []float64) float64 { return nth(v, len(v)/2) }

// nth returns the value that want others do not exceed (Hoare's selection); it
// changes the order of v.
func nth(v []float64, want int) float64 {
	lo, hi := 0, len(v)-1
	for lo < hi {
		p := v[(lo+hi)/2]
		i, j := lo, hi
		for i <= j {
			for v[i] < p {
				i++
			}
			for v[j] > p {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		if want <= j {
			hi = j
		} else if want >= i {
			lo = i
		} else {
			break
		}
	}
	return v[want]
}
