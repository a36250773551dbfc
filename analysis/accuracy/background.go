package accuracy

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/dsp/fourier"
)

// backgrounds are the six kinds of what else sounds.
var backgrounds = []string{"white", "pink", "rumble", "babble", "hum", "shop"}

// background returns n samples of a kind, root mean square 1 (of rumble, hum
// and shop: of the white part, on which the rest stands).
func background(kind string, n int, r *rand.Rand) []float64 {
	x := make([]float64, n)
	switch kind {
	case "pink":
		pink(x, r)
	case "rumble": // a room's ventilation: 15 to 90 Hz, 25 dB over the rest
		white(x, r)
		low := make([]float64, n)
		white(low, r)
		lowPass(low, 90)
		lowPass(low, 90)
		highPass(low, 15)
		scale(low, 1)
		for i := range x {
			x[i] += fromDB(25) * low[i]
		}
	case "babble":
		babble(x, r)
	case "hum":
		white(x, r)
		hum(x, 10, r)
	case "shop": // talk, hum and things set down
		babble(x, r)
		hum(x, 3, r)
		for at := 0; ; {
			at += int(uniform(r, .3, 1.5) * float64(rate))
			if at >= n {
				break
			}
			knock(x[at:], uniform(r, 2, 8), r)
		}
	default:
		white(x, r)
	}
	return x
}

func white(x []float64, r *rand.Rand) {
	for i := range x {
		x[i] = r.NormFloat64()
	}
}

// scale brings the root mean square to v.
func scale(x []float64, v float64) {
	var s float64
	for _, a := range x {
		s += a * a
	}
	g := v / math.Sqrt(s/float64(len(x))+1e-300)
	for i := range x {
		x[i] *= g
	}
}

// pink shapes white noise by 1/√f from 20 Hz on, in the spectrum.
func pink(x []float64, r *rand.Rand) {
	n := 1
	for n < len(x) {
		n *= 2
	}
	y := make([]float64, n)
	white(y, r)
	f := fourier.NewFFT(n)
	c := f.Coefficients(nil, y)
	for k := range c {
		hz := float64(k) * float64(rate) / float64(n)
		c[k] /= complex(math.Sqrt(max(hz, 20)), 0)
	}
	f.Sequence(y, c)
	copy(x, y)
	scale(x, 1)
}

func lowPass(x []float64, hz float64) {
	a := math.Exp(-2 * math.Pi * hz / float64(rate))
	y := 0.0
	for i, v := range x {
		y = v + a*(y-v)
		x[i] = y
	}
}

func highPass(x []float64, hz float64) {
	a := math.Exp(-2 * math.Pi * hz / float64(rate))
	y := 0.0
	for i, v := range x {
		y = v + a*(y-v)
		x[i] = v - y
	}
}

// babble is six voices: glottal pulses of wandering pitch in syllables of 2 to
// 5 a second through three formants each, and a little white noise.
func babble(x []float64, r *rand.Rand) {
	voice := make([]float64, len(x))
	for range 6 {
		f0, syllable, phase := uniform(r, 90, 220), uniform(r, 2, 5), uniform(r, 0, 2*math.Pi)
		wander, turn := 0.0, uniform(r, 0, 1)
		target, slope := 0.0, 0.0
		for i := range voice {
			if i%480 == 0 {
				target += 0.004 * r.NormFloat64()
				slope = (target - wander) / 480
			}
			wander += slope
			turn += f0 * math.Exp(wander) / float64(rate)
			v := 0.02 * r.NormFloat64()
			if turn >= 1 {
				turn--
				v++
			}
			env := max(0, math.Sin(2*math.Pi*syllable*float64(i)/float64(rate)+phase)+0.3)
			voice[i] = v * env
		}
		for _, p := range [][2]float64{{uniform(r, 300, 800), 80}, {uniform(r, 900, 2200), 120}, {uniform(r, 2300, 3200), 180}} {
			resonate(voice, p[0], p[1])
		}
		scale(voice, 1)
		for i := range x {
			x[i] += voice[i]
		}
	}
	scale(x, 1)
	for i := range x {
		x[i] += 0.1 * r.NormFloat64()
	}
	scale(x, 1)
}

// resonate passes x through one formant at f, b wide, in Hz.
func resonate(x []float64, f, b float64) {
	q := math.Exp(-math.Pi * b / float64(rate))
	c1, c2 := 2*q*math.Cos(2*math.Pi*f/float64(rate)), -q*q
	var y1, y2 float64
	for i, v := range x {
		y := (1-q)*v + c1*y1 + c2*y2
		y2, y1 = y1, y
		x[i] = y
	}
}

// hum adds mains hum: 50 or 60 Hz and its harmonics to the ninth, amp the
// amplitude of the first.
func hum(x []float64, amp float64, r *rand.Rand) {
	f := 50.0 + 10*float64(r.IntN(2)) + 0.05*r.NormFloat64()
	for h := 1; h <= 9; h++ {
		a, p := amp/float64(h), uniform(r, 0, 2*math.Pi)
		if h%2 == 0 {
			a *= 0.4
		}
		w := 2 * math.Pi * f * float64(h) / float64(rate)
		for i := range x {
			x[i] += a * math.Sin(w*float64(i)+p)
		}
	}
}

// knock adds a thud: a burst through two resonances of T60 20 to 60 ms.
func knock(x []float64, amp float64, r *rand.Rand) {
	n := min(len(x), int(0.1*float64(rate)))
	b := make([]float64, n)
	click(b, 1, r)
	resonate(b, uniform(r, 80, 400), uniform(r, 60, 120))
	var top float64
	for _, v := range b {
		top = max(top, math.Abs(v))
	}
	for i, v := range b {
		x[i] += amp * v / (top + 1e-300)
	}
}
