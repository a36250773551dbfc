package trace

import (
	"math"

	"ringwell/analysis"
)

const (
	// hopSeconds is the grain of the path. Between its points the frequency is
	// taken to glide evenly: at 400 cents a second it moves by 8 cents.
	hopSeconds = 0.010
	// windowSeconds is how much sound a point of the path rests on. It tells
	// partials 67 Hz apart, and two points of it a wobble of 8 a second.
	windowSeconds = 0.040
	// firstSeconds is the middle of the first window: the blow is over by then.
	firstSeconds = 0.030
	// strayCents is how far the path may go in one hop: twice what a swing of 60
	// cents eight times a second does. Beyond it something else was found.
	strayCents = 60
	// faintest is how many times the noise's power a point must have, and the
	// path ends where lost points in a row have less.
	faintest = 30
	lost     = 3
)

// point is one place on the path.
type point struct {
	at    float64 // samples after the onset
	omega float64 // rad a sample
	power float64 // |sum of windowed, turned sound|² over the sum of the window squared
}

// Follower follows partials of sound with one sample rate. It keeps its
// buffers, so that only its first use allocates, and serves one goroutine.
type Follower struct {
	fs     float64
	window []float64 // Hann
	slope  []float64 // its derivative, a sample
	kernel []float64 // of the low-pass: Hann, sum 1
	path   []point
	turned []complex128
}

// New returns a Follower for sound with the given sample rate.
func New(rate analysis.Rate) *Follower {
	f := &Follower{fs: float64(rate)}
	n := 2*int(windowSeconds*f.fs/2) + 1
	f.window, f.slope = make([]float64, n), make([]float64, n)
	for i := range n {
		x := 2 * math.Pi * (float64(i) + 0.5) / float64(n)
		f.window[i] = 0.5 - 0.5*math.Cos(x)
		f.slope[i] = math.Pi / float64(n) * math.Sin(x)
	}
	f.kernel = hann(2*int(kernelSeconds*f.fs/2) + 1)
	return f
}

func hann(n int) []float64 {
	k, sum := make([]float64, n), 0.0
	for i := range k {
		k[i] = 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(n))
		sum += k[i]
	}
	for i := range k {
		k[i] /= sum
	}
	return k
}

// look returns the reassigned point of the window around a sample, seen at a
// frequency. It reports false where the window leaves the sound.
func (f *Follower) look(sound []float64, middle int, omega float64) (point, bool) {
	half := len(f.window) / 2
	if middle < half || middle+half >= len(sound) {
		return point{}, false
	}
	x := sound[middle-half : middle+half+1]
	var h, d, t complex128
	var squares float64
	turn := complex(math.Cos(omega), -math.Sin(omega))
	z := complex(math.Cos(omega*float64(half)), math.Sin(omega*float64(half)))
	for i, v := range x {
		w := f.window[i]
		h += complex(v*w, 0) * z
		d += complex(v*f.slope[i], 0) * z
		t += complex(v*w*float64(i-half), 0) * z
		squares += w * w
		z *= turn
	}
	p := real(h)*real(h) + imag(h)*imag(h)
	if p == 0 {
		return point{}, false
	}
	return point{
		at:    float64(middle) + real(t/h),
		omega: omega - imag(d/h),
		power: p / squares,
	}, true
}

// first returns where the path begins: at the point found there, or at one much
// louder up to a third of a tone beside it. What wobbles may have been measured
// at one end of its swing.
func (f *Follower) first(sound []float64, middle int, found point) point {
	best := found
	for _, cents := range [...]float64{-60, -30, 0, 30, 60} {
		p, ok := f.look(sound, middle, found.omega*math.Exp(cents/analysis.CentsPerNeper))
		if ok && (cents == 0 && best == found || p.power > 4*best.power) {
			best = p
		}
	}
	return best
}

// follow fills the path of the partial that begins at a frequency, as far as it
// stands above noise (power a sample at its frequency).
func (f *Follower) follow(sound []float64, from analysis.Hz, noise float64) {
	f.path = f.path[:0]
	omega := 2 * math.Pi * float64(from) / f.fs
	hop := hopSeconds * f.fs
	under := 0
	for k := 0; ; k++ {
		middle := int(firstSeconds*f.fs + float64(k)*hop)
		p, ok := f.look(sound, middle, omega)
		if !ok {
			break
		}
		if k == 0 {
			p = f.first(sound, middle, p)
			omega = p.omega
		}
		stray := math.Abs(analysis.CentsPerNeper * math.Log(p.omega/omega))
		if !(p.power >= faintest*noise) || !(stray <= strayCents*float64(1+under)) || math.Abs(p.at-float64(middle)) > hop/2 {
			if under++; under >= lost {
				break
			}
			continue
		}
		if n := len(f.path); n > 0 && p.at <= f.path[n-1].at {
			continue
		}
		under = 0
		omega = p.omega
		f.path = append(f.path, p)
	}
}
