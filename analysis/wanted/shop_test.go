package wanted_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
	"ringwell/analysis/wanted"
)

// rate of all sound made here.
const rate analysis.Rate = 48000

// thing is one object of the shop, as it truly is.
type thing struct {
	kind  analysis.Kind
	heard analysis.Hz // of its lowest mode; of a pair, its energy-weighted mean
	modes []mode
}

type mode struct{ f, t60, amp float64 } // Hz, s, at the onset

func uniform(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

// Ratios of the modes to the lowest, from closed forms: a free bar's are the
// roots of cos x·cosh x = 1 squared; a round wall's n(n²-1)/√(n²+1), n = 2...5;
// a square free plate's with ν = 0.225 a Ritz solution of our own (1, 1.444,
// 1.692, 2.549).
var ratios = map[analysis.Kind][]float64{
	analysis.Bar:    {1, 2.7565, 5.4039, 8.9330},
	analysis.Glass:  {1, 2.8284, 5.4233, 8.7706},
	analysis.Bottle: {1, 2.8284, 5.4233, 8.7706},
	analysis.Bell:   {1, 2.8284, 5.4233, 8.7706},
	analysis.Plate:  {1, 1.4442, 1.6915, 2.5486},
}

// draw makes an object whose lowest mode lies at f and is what is heard: it is
// the strongest and lasts longest.
func draw(f float64, r *rand.Rand) thing {
	kinds := []analysis.Kind{analysis.Bottle, analysis.Glass, analysis.Bell, analysis.Bar, analysis.Plate}
	t := thing{kind: kinds[r.IntN(len(kinds))]}
	ring := uniform(r, 0.35, 2.5)
	for n, ratio := range ratios[t.kind] {
		if n > 0 {
			ratio *= 1 + uniform(r, -0.03, 0.03) // no wall is even
		}
		m := mode{f: f * ratio, t60: ring / math.Pow(ratio, uniform(r, 0.4, 0.9)), amp: 1}
		if n > 0 {
			m.amp = math.Pow(10, -uniform(r, 8, 26)/20)
		}
		if m.f > 12000 {
			break
		}
		if t.kind == analysis.Bottle || t.kind == analysis.Glass || t.kind == analysis.Bell {
			// Two waves round the rim, split by what is uneven, the place of the
			// blow deciding between them.
			split := uniform(r, 0.0002, 0.003)
			share := math.Pow(10, -uniform(r, 3, 20)/20)
			t.modes = append(t.modes,
				mode{m.f * (1 - split/2), m.t60, m.amp}, mode{m.f * (1 + split/2), m.t60, m.amp * share})
			if n == 0 {
				t.heard = analysis.Hz((t.modes[0].f + share*share*t.modes[1].f) / (1 + share*share))
			}
			continue
		}
		t.modes = append(t.modes, m)
		if n == 0 {
			t.heard = analysis.Hz(m.f)
		}
	}
	return t
}

// sound adds one strike of t to dst, its strongest mode at loud.
func (t thing) sound(dst []float64, loud float64, r *rand.Rand) {
	for _, m := range t.modes {
		phase := uniform(r, 0, 2*math.Pi)
		w, d := 2*math.Pi*m.f/float64(rate), analysis.LnThousand/(m.t60*float64(rate))
		for i := range dst {
			dst[i] += loud * m.amp * math.Exp(-d*float64(i)) * math.Sin(w*float64(i)+phase)
		}
	}
	contact := uniform(r, 0.0015, 0.004) * float64(rate)
	for i := 0; i < len(dst) && float64(i) < 3*contact; i++ {
		dst[i] += 0.3 * loud * math.Exp(-2*float64(i)/contact) * r.NormFloat64()
	}
}

// wants is the list of the hunt: twelve places among a vibraphone's notes.
const wants = `# the trio's jars, bottles and pipes
A3 +-15
C#4 +30 +-15
E4 quarter-flat +-12
F#4 -25 +-10
G4 +-20
Bb4 quarter-sharp +-15
550 Hz +-12
D5 +10 +-15
E5 +-8
F#5 +30 +-15
A5 three-quarters-sharp +-15
C6 +-20
`

// draws is a shop: half of the objects lie within a quarter-tone of a place,
// where answers turn, the rest anywhere on the instrument.
func draws(n int, list *wanted.List, in instrument.Instrument, r *rand.Rand) []thing {
	shop := make([]thing, n)
	for i := range shop {
		f := 185 * math.Pow(1300./185, r.Float64())
		if i%2 == 0 {
			p := list.Places[r.IntN(len(list.Places))]
			f = float64(p.Target(in).Shift(analysis.Cents(uniform(r, -50, 50))))
		}
		shop[i] = draw(f, r)
	}
	return shop
}

// spacing is between one strike and the next.
const spacing = 1.6 // s

// strikes sounds the whole shop, one object after the other, and returns the
// onsets. It begins with two seconds of the shop alone.
func strikes(shop []thing, r *rand.Rand) (x []float64, onsets []int64) {
	step := int(spacing * float64(rate))
	lead := int(2 * float64(rate))
	x = make([]float64, lead+(len(shop)+1)*step)
	for i, t := range shop {
		at := lead + i*step + r.IntN(step/8)
		onsets = append(onsets, int64(at))
		end := min(len(x), at+2*step)
		t.sound(x[at:end], 0.2, r)
	}
	return x, onsets
}

// clutter returns n samples of a shop at work, root mean square 1: six voices
// and things set down, the clatter as strong on the whole as the talk, and 20 dB
// below them the rustle of room and microphone.
func clutter(n int, r *rand.Rand) []float64 {
	talk, clatter := make([]float64, n), make([]float64, n)
	for range 6 {
		voice(talk, r)
	}
	for at := 0.0; ; {
		at += uniform(r, 0.2, 1.4) * float64(rate)
		if int(at) >= n {
			break
		}
		knock(clatter[int(at):], uniform(r, 0.3, 1), r)
	}
	scale(talk)
	scale(clatter)
	for i := range talk {
		talk[i] += clatter[i] + 0.14*r.NormFloat64()
	}
	scale(talk)
	return talk
}

// voice adds one talker: glottal pulses of wandering pitch in syllables,
// through three formants; ranges from memory of phonetics texts, unchecked.
func voice(dst []float64, r *rand.Rand) {
	x := make([]float64, len(dst))
	pitch, syllables, phase := uniform(r, 90, 230), uniform(r, 2.5, 5), uniform(r, 0, 2*math.Pi)
	turn, drift := 0.0, 0.0
	for i := range x {
		drift = 0.9999*drift + 0.0005*r.NormFloat64()
		turn += pitch * (1 + 0.1*math.Sin(2*math.Pi*0.4*float64(i)/float64(rate)+phase) + drift) / float64(rate)
		if turn >= 1 {
			turn--
			x[i] = 1
		}
		x[i] += 0.02 * r.NormFloat64()
		x[i] *= max(0, math.Sin(2*math.Pi*syllables*float64(i)/float64(rate)+phase)+0.3)
	}
	for _, f := range [][2]float64{{uniform(r, 300, 800), 80}, {uniform(r, 900, 2200), 120}, {uniform(r, 2300, 3200), 180}} {
		resonate(x, f[0], f[1])
	}
	scale(x)
	for i := range dst {
		dst[i] += x[i]
	}
}

// knock adds something set down: a thump without a pitch.
func knock(dst []float64, loud float64, r *rand.Rand) {
	x := make([]float64, min(len(dst), int(0.12*float64(rate))))
	for i := range x {
		x[i] = r.NormFloat64() * math.Exp(-float64(i)/(0.002*float64(rate)))
	}
	resonate(x, uniform(r, 80, 500), uniform(r, 70, 150))
	scale(x)
	for i := range x {
		dst[i] += loud * x[i]
	}
}

// resonate passes x through one resonance, f and its width in Hz.
func resonate(x []float64, f, width float64) {
	q := math.Exp(-math.Pi * width / float64(rate))
	a, b := 2*q*math.Cos(2*math.Pi*f/float64(rate)), -q*q
	var y1, y2 float64
	for i, v := range x {
		y := v + a*y1 + b*y2
		y2, y1, x[i] = y1, y, y
	}
}

// scale brings the root mean square to 1.
func scale(x []float64) {
	if rms := math.Sqrt(meanSquare(x)); rms > 0 {
		for i := range x {
			x[i] /= rms
		}
	}
}

func meanSquare(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return sum / float64(max(1, len(x)))
}

// describe says what a thing is, for failures.
func (t thing) describe() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s heard at %.2f Hz, modes", t.kind, t.heard)
	for _, m := range t.modes {
		fmt.Fprintf(&b, " %.2f Hz/%.2f s/%.0f dB", m.f, m.t60, 20*math.Log10(m.amp))
	}
	return b.String()
}
