package clock

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/window"

	"ringwell/analysis"
)

const (
	widest = 1e-3 // largest clock error looked for, relative: sound cards lie within a tenth of it
	turn   = 0.2  // of a cycle the widest error may turn from frame to frame, so that no turn is missed
	frames = 50   // fewer give no trustworthy scatter
)

// Reading is a clock's error with its standard deviation.
type Reading struct {
	PPM     float64 // parts per million by which the clock runs fast; the true rate is the nominal one times 1 + PPM·1e-6
	Sigma   float64 // ppm, one standard deviation, of the noise and the reference together
	Seconds float64 // of tone it rests on
}

// Apply returns the true rate of a clock that says nominal.
func (r Reading) Apply(nominal analysis.Rate) analysis.Rate {
	return nominal * analysis.Rate(1+r.PPM*1e-6)
}

// Meter measures a clock while the tone sounds.
type Meter struct {
	rate      float64
	reference float64
	weight    []float64 // one frame's window
	hop       int
	frame     []float64
	from      int64     // sample index of frame[0]
	at        []float64 // where each frame begins, in hops
	phasors   []complex128
	power     []float64 // of each whole frame, windowed
}

// New returns a Meter for sound at a nominal rate and a tone of the reference
// frequency, in Hz. The tone must lie between 50 Hz and 0.4 of the rate.
func New(rate analysis.Rate, reference analysis.Hz) (*Meter, error) {
	if !(reference >= 50 && float64(reference) <= 0.4*float64(rate)) {
		return nil, fmt.Errorf("the reference must lie between 50 Hz and %.0f Hz, it is %g Hz", 0.4*float64(rate), float64(reference))
	}
	hop := min(0.1, turn/(widest*float64(reference))) * float64(rate)
	m := &Meter{rate: float64(rate), reference: float64(reference), hop: max(1, int(hop))}
	// A frame holds eight periods or more, so that what lies an octave away and
	// the tone's own mirror at the negative frequency fall outside the window.
	n := max(m.hop, int(math.Ceil(8*m.rate/m.reference)))
	m.weight = make([]float64, n)
	for i := range m.weight {
		m.weight[i] = 1
	}
	window.BlackmanHarris(m.weight)
	m.frame = make([]float64, 0, n)
	return m, nil
}

// Step takes the next block. Sound that was lost only leaves a hole in the
// phase, since the frames stand where their samples do.
func (m *Meter) Step(b analysis.Block) {
	if next := m.from + int64(len(m.frame)); b.Start != next {
		m.frame, m.from = m.frame[:0], b.Start
	}
	for _, v := range b.Samples {
		m.frame = append(m.frame, v)
		if len(m.frame) == cap(m.frame) {
			m.close()
		}
	}
}

// close averages the frame and moves on by a hop.
func (m *Meter) close() {
	// The phase is taken at the true sample index, modulo whole periods, in a
	// way that keeps its digits after hours.
	cycles := math.Mod(float64(m.from)*m.reference, m.rate) / m.rate
	step := cmplx.Rect(1, -2*math.Pi*m.reference/m.rate)
	z, sum, power := cmplx.Rect(1, -2*math.Pi*cycles), complex(0, 0), 0.0
	for i, v := range m.frame {
		w := v * m.weight[i]
		sum += complex(w, 0) * z
		power += w * w
		z *= step
	}
	m.at = append(m.at, float64(m.from)/float64(m.hop))
	m.phasors, m.power = append(m.phasors, sum), append(m.power, power)
	k := copy(m.frame, m.frame[min(m.hop, len(m.frame)):])
	m.frame, m.from = m.frame[:k], m.from+int64(m.hop)
}

// errFaint and the others tell a player what to do.
var (
	errShort = errors.New("not enough of the tone was heard: let it sound for ten seconds or more")
	errFaint = errors.New("the tone does not stand out: play it louder or nearer, and keep other sounds away")
	errMoved = errors.New("the tone does not hold still: use a steady source of known frequency, and do not move it or the microphone")
)

// Reading returns the clock's error by now. referencePPM is one standard
// deviation of the reference itself.
func (m *Meter) Reading(referencePPM float64) (Reading, error) {
	at, phase, weight, err := m.phase()
	if err != nil {
		return Reading{}, err
	}
	slope, sigma, scatter := line(at, phase, weight)
	if scatter > 1 {
		return Reading{}, errMoved
	}
	seconds := float64(m.hop) / m.rate
	scale := 1e6 / (2 * math.Pi * m.reference * seconds)
	// A tone heard low is a clock that runs fast: it takes more samples a
	// period than it says.
	ppm := -slope * scale / (1 + slope*scale*1e-6)
	if math.Abs(ppm) > widest*1e6 {
		return Reading{}, fmt.Errorf("the tone lies %.0f ppm from %g Hz, more than any clock is off: is it the frequency you gave?", ppm, m.reference)
	}
	return Reading{PPM: ppm, Sigma: math.Hypot(sigma*scale, referencePPM), Seconds: (at[len(at)-1] - at[0]) * seconds}, nil
}

// phase returns the unwrapped phase of the frames in which the tone stands out,
// in radians, with their places in hops and their weights.
func (m *Meter) phase() (at, phase, weight []float64, err error) {
	energy, norm := 0.0, 0.0
	for _, w := range m.weight {
		energy += w * w
		norm += w
	}
	// |phasor|²·2·Σw²/(Σw)² is the tone's share of the frame's power.
	share := 2 * energy / (norm * norm)
	heard := 0
	last, turns := 0.0, 0.0
	for i, z := range m.phasors {
		a := real(z)*real(z) + imag(z)*imag(z)
		if m.power[i] > 0 {
			heard++
		}
		if !(a*share > 0.25*m.power[i]) || m.power[i] == 0 {
			continue
		}
		p := cmplx.Phase(z)
		if len(at) > 0 {
			turns += math.Round((last - p - turns*2*math.Pi) / (2 * math.Pi))
		}
		p += turns * 2 * math.Pi
		last = p
		at, phase, weight = append(at, m.at[i]), append(phase, p), append(weight, a)
	}
	switch {
	case heard < frames:
		return nil, nil, nil, errShort
	case len(at) < frames || 2*len(at) < heard:
		return nil, nil, nil, errFaint
	}
	return at, phase, weight, nil
}
