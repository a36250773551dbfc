package audio

import (
	"math"

	"ringwell/analysis"
)

// thing is one of the trio's found objects.
type thing struct {
	name  string
	kind  analysis.Kind
	modes []resonance
}

// resonance is a mode of a thing. reach says how much of a blow at a place goes
// into it and out to the microphone; its sign is the phase.
type resonance struct {
	f, decay float64 // Hz, neper/s
	pair     int     // the two of a near pair share a number; 0 for none
	reach    func(place float64) float64
}

// topHz is where a thing's modes are left off: they are weak and short there.
const topHz = 16000

// pipe is a copper tube hung at the nodes of its lowest mode, by diameters and
// length in mm. No tube is quite round, so each bending mode comes twice, split
// parts of the frequency apart; the place of the blow is along the length, and
// it excites one of the two more.
func pipe(name string, length, outer, inner, split float64) thing {
	t := thing{name: name, kind: analysis.Bar}
	l, r := length/1e3, math.Hypot(outer, inner)/4e3
	for n := 1; ; n++ {
		// 0.53: shear coefficient of a thin round tube, Cowper 1966 (from
		// memory, unchecked).
		f := beam(copper, l, r, 0.53, n)
		if f > topHz {
			return t
		}
		// The strings stand at mode 1's nodes and hold the others by what they
		// move there.
		held := beamShape(n, 0.2242)
		hold := 0.9 + 8*held*held
		for side, share := range []float64{1, 0.35} {
			t.modes = append(t.modes, resonance{
				f:     f * (1 + split*(float64(side)-0.5)),
				decay: copper.decay(f, hold),
				pair:  n,
				reach: func(x float64) float64 { return share * beamShape(n, x) },
			})
		}
	}
}

// plank is a wooden bar on two strips of felt at its lowest mode's nodes.
func plank(name string, length, thick float64) thing {
	t := thing{name: name, kind: analysis.Bar}
	l, r := length/1e3, thick/1e3/math.Sqrt(12)
	for n := 1; n <= 7; n++ {
		f := beam(oak, l, r, 5.0/6, n)
		held := beamShape(n, 0.2242)
		t.modes = append(t.modes, resonance{
			f:     f,
			decay: oak.decay(f, 2+60*held*held),
			reach: func(x float64) float64 { return beamShape(n, x) },
		})
	}
	return t
}

// bowl is a round thing struck at the rim, by radius, wall and height in mm.
// Nothing is quite round: each mode comes twice, with n waves round the rim
// standing where the wall is thinnest and turned by a quarter wave. The place
// of the blow is the angle from there in degrees.
func bowl(name string, kind analysis.Kind, s stuff, radius, thick, height, split, hold, low float64) thing {
	t := thing{name: name, kind: kind}
	for n := 2; n <= 7; n++ {
		f := low * wall(s, radius/1e3, thick/1e3, height/1e3, n)
		if f > topHz {
			return t
		}
		// Irregularities of the wall split the modes differently; the second
		// mode least in a thing that was turned on a wheel.
		apart := split / (1 + 0.35*float64(n-2))
		for side := range 2 {
			t.modes = append(t.modes, resonance{
				f:     f * (1 + apart*(float64(side)-0.5)),
				decay: s.decay(f, hold) * (1 + 0.08*float64(side)),
				pair:  n - 1,
				reach: func(place float64) float64 {
					const mic = 0.35 // rad: where the microphone stands
					a := float64(n) * place * math.Pi / 180
					if side == 0 {
						return math.Cos(a) * math.Cos(float64(n)*mic)
					}
					return math.Sin(a) * math.Sin(float64(n)*mic)
				},
			})
		}
	}
	return t
}

// tile is a slate twice as long as wide, by long side and thickness in mm,
// lying on foam, struck near a corner. Modes 3 and 4, and 6 and 7, lie so close
// that they beat.
func tile(name string, long, thick float64) thing {
	t := thing{name: name, kind: analysis.Plate}
	pairs := []int{0, 0, 1, 1, 0, 2, 2, 0, 0, 0}
	for i, m := range plateModes() {
		f := plate(slate, long/1e3, thick/1e3, m.lambda)
		t.modes = append(t.modes, resonance{
			f: f, decay: slate.decay(f, 5), pair: pairs[i],
			reach: func(float64) float64 { return m.corner },
		})
	}
	return t
}

// struck returns the modes a blow sets going: at a place of the thing, by a
// mallet that stays for contact seconds, the amplitudes adding up to loud.
func (t thing) struck(place, contact, loud float64) []Mode {
	amp := make([]float64, len(t.modes))
	var all, most float64
	for i, m := range t.modes {
		amp[i] = m.reach(place) * softness(m.f, contact)
		all += math.Abs(amp[i])
		most = math.Max(most, math.Abs(amp[i]))
	}
	var modes []Mode
	for i, m := range t.modes {
		// What lies 70 dB below the strongest is lost in the room; leaving it
		// out keeps the truth short.
		if math.Abs(amp[i]) < most*3.2e-4 {
			continue
		}
		// A blow sets displacement going from rest: a sine. The push lasts, so
		// it lags by half the contact.
		phase := -math.Pi * m.f * contact
		if amp[i] < 0 {
			phase += math.Pi
		}
		modes = append(modes, Mode{
			Frequency: analysis.Hz(m.f),
			T60:       analysis.LnThousand / m.decay,
			Amplitude: math.Abs(amp[i]) / all * loud,
			Phase:     math.Remainder(phase, 2*math.Pi),
			Pair:      m.pair,
		})
	}
	alone := map[int]int{}
	for _, m := range modes {
		alone[m.Pair]++
	}
	for i, m := range modes {
		if alone[m.Pair] < 2 { // its mate was left out
			modes[i].Pair = 0
		}
	}
	return modes
}
