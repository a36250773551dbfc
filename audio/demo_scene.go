package audio

import (
	"math"
	"slices"

	"ringwell/analysis"
)

// Mode is one damped sinusoid of an event: from Contact seconds after the start
// on it is Amplitude·10^(−3t/T60)·sin(2π·Frequency·t + Phase), t in seconds
// from the start; before, it is that times sin²(πt/(2·Contact)).
type Mode struct {
	Frequency analysis.Hz
	T60       float64 // s; 0: held for Event.Hold
	Amplitude float64 // full scale 1
	Phase     float64 // rad
	Pair      int     // the two of a near pair share a number; 0 for none
}

// Event is one sounding of one thing, with the exact truth of it.
type Event struct {
	Start   float64 // s from the start of the scene; rounded to a sample when rendered
	Object  string
	Kind    analysis.Kind
	Pitched bool        // a thing that rings; false for a knock
	Heard   analysis.Hz // the pitch a listener would name; 0 where they may not agree
	Modes   []Mode      // by frequency; those that sound
	Contact float64     // s: how long the mallet stays, or a blown note takes to speak
	Click   float64     // RMS of the noise of the contact, full scale 1
	Hold    float64     // s: how long a blown note lasts; 0 for a struck one
	Breath  float64     // RMS of its breath, full scale 1
}

// Scene is what can be rendered: events in a quiet room.
type Scene struct {
	Seconds float64
	Room    float64 // RMS of the background, full scale 1
	Seed    uint64  // of everything random in it
	Events  []Event
}

// DemoSeconds is how long the demo scene is before it starts again.
const DemoSeconds = 48.0

// demoRoom is the background of the demo scene: a still room, −72 dB.
const demoRoom = 2.5e-4

// DemoScene returns what happens in one turn of the demo scene, by time: a trio
// tries jam jars, flowerpots, copper pipes, an enamel basin, an oak plank, a
// roof slate and a brake drum; somebody knocks the stand, somebody blows across
// a bottle. The frequencies follow from the sizes and the stuff of the things.
func DemoScene() []Event {
	jar := bowl("small jam jar", analysis.Glass, glass, 30.6, 2.4, 85, 0.0016, 1.4, 1)
	wet := bowl("jam jar with water", analysis.Glass, glass, 33, 2.4, 95, 0.0011, 2.2, filled(glass, 0.033, 0.0024, 0.8))
	big := bowl("large jam jar", analysis.Glass, glass, 39.8, 2.7, 120, 0.0022, 1.3, 1)
	pot := bowl("small flowerpot", analysis.Bell, terracotta, 57, 6.4, 100, 0.004, 2.5, 1)
	tub := bowl("large flowerpot", analysis.Bell, terracotta, 80, 8, 140, 0.003, 2, 1)
	basin := bowl("enamel basin", analysis.Bell, steel, 110, 1.6, 72, 0.006, 1.2, 1)
	drum := bowl("brake drum", analysis.Bell, castIron, 124, 16, 90, 0.0015, 0.8, 1)
	low := pipe("long copper pipe", 344.4, 22.225, 19.94, 0.0009)
	mid := pipe("middle copper pipe", 306.7, 22.225, 19.94, 0.0007)
	high := pipe("short copper pipe", 255.6, 22.225, 19.94, 0.0011)
	oakPlank := plank("oak plank", 560, 21)
	slateTile := tile("roof slate", 300, 6)

	strike := func(at float64, t thing, place, contact, loud float64) Event {
		e := Event{
			Start: at, Object: t.name, Kind: t.kind, Pitched: true,
			Modes: t.struck(place, contact, loud), Contact: contact, Click: 0.05 * loud,
		}
		e.Heard = e.Modes[0].Frequency
		if m := e.Modes; len(m) > 1 && m[0].Pair > 0 && m[1].Pair == m[0].Pair && m[1].Amplitude > m[0].Amplitude {
			e.Heard = m[1].Frequency
		}
		return e
	}
	unsure := func(e Event) Event { e.Heard = 0; return e }

	const soft, felt, hard = 1.2e-3, 0.6e-3, 0.25e-3 // s: how long mallets stay, chosen by ear: common practice, no source
	events := []Event{
		strike(0.8, jar, 9, hard, 0.45),
		strike(2.6, wet, 15, hard, 0.42),
		strike(4.5, pot, 7, felt, 0.5),
		strike(6.3, low, 0.5, felt, 0.42),
		strike(7.9, mid, 0.5, felt, 0.40),
		strike(9.5, high, 0.5, felt, 0.38),
		strike(11.9, oakPlank, 0.5, soft, 0.5),
		strike(14.0, big, 12, felt, 0.06),
		unsure(strike(16.1, basin, 5, felt, 0.5)),
		strike(18.5, tub, 10, soft, 0.5),
		knock(20.4),
		unsure(strike(22.2, slateTile, 0, felt, 0.4)),
		strike(24.4, drum, 8, hard, 0.45),
		strike(26.0, jar, 14, hard, 0.3),
		strike(28.3, low, 0.06, felt, 0.09),
		strike(30.4, oakPlank, 0.02, soft, 0.4),
		strike(32.3, pot, 15, felt, 0.06),
		blown(34.3, "small bottle", bottle(0.0095, 0.058, 0.031, 330e-6), 0.25, 1.5),
		strike(36.9, wet, 8, hard, 0.35),
		strike(38.6, big, 18, felt, 0.4),
		strike(40.3, mid, 0.42, felt, 0.35),
		unsure(strike(42.4, basin, 16, felt, 0.08)),
		strike(44.7, oakPlank, 0.5, soft, 0.3),
	}
	for _, e := range events {
		slices.SortFunc(e.Modes, func(a, b Mode) int {
			return int(math.Copysign(1, float64(a.Frequency-b.Frequency)))
		})
	}
	return events
}

// knock is a shoe against the music stand: thuds that are gone at once.
func knock(at float64) Event {
	e := Event{Start: at, Object: "the music stand", Kind: analysis.Unknown, Contact: 3e-3, Click: 0.12}
	for i, f := range []analysis.Hz{87, 143, 231, 389} {
		e.Modes = append(e.Modes, Mode{Frequency: f, T60: 0.05, Amplitude: 0.15 / float64(1+i)})
	}
	return e
}

// blown is a bottle blown across: the air's resonance with the harmonics the
// jet adds, and breath. Their levels are chosen by ear: common practice, no
// source.
func blown(at float64, name string, f, loud, hold float64) Event {
	e := Event{
		Start: at, Object: name, Kind: analysis.Blown, Pitched: true, Heard: analysis.Hz(f),
		Contact: 0.07, Hold: hold, Breath: 0.03 * loud,
	}
	for i, db := range []float64{0, -17, -27, -39} {
		e.Modes = append(e.Modes, Mode{
			Frequency: analysis.Hz(f * float64(i+1)),
			Amplitude: loud * math.Pow(10, db/20),
			Phase:     0.7 * float64(i),
		})
	}
	return e
}
