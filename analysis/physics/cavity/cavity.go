// Package cavity gives the pitch of the air in a bottle or a pipe that is blown
// across its mouth.
//
// A bottle is a neck and a cylinder below it, with plane waves in both:
//
//	tan(k·L′)·tan(k·Lc) = Sn/Sc, first root, f = k·c/2π
//
// L′ is the neck with both end corrections. For small k it is Helmholtz's
// resonator, f = c/2π·sqrt(Sn/(V·L′)), which lies 40 cents too high for a wine
// bottle and an octave for a jar: TanTan is the form to use, Helmholtz its
// check. Kinsler, Frey, Coppens and Sanders, Fundamentals of Acoustics; Fletcher
// and Rossing, The Physics of Musical Instruments; both from memory, unchecked.
//
// Both leave out the lips: they shade the mouth, and a blown note is flatter by
// an amount each player has of their own (the same books, from memory).
// It is for the caller to measure.
//
// Not for shoulders longer than the neck, nor for necks wider than half the body.
package cavity

import "math"

// The end of a pipe sounds longer than it is by so many radii.
const (
	// Unflanged: a bare end. Levine and Schwinger, Phys. Rev. 73, 383 (1948),
	// as everybody quotes it; the integral itself comes to 0.6127, which no
	// bottle shows.
	Unflanged = 0.6133
	// Flanged: an end in a wide wall. Nomura, Yamamura and Inawashiro, J. Phys.
	// Soc. Japan 15, 510 (1960), from memory, unchecked.
	Flanged = 0.8217
	// Piston: the wall as if the air in the end moved like a piston, 8/3π.
	Piston = 8 / (3 * math.Pi)
)

// Inner is the end correction in radii of a neck of radius r that opens into a
// cylinder of radius R: 0.82·(1 − 1.25·r/R) for r/R below 0.4 (Ingard, J.
// Acoust. Soc. Am. 25, 1037 (1953), from memory, unchecked; texts give 1.25 to
// 1.4), and it is never less than nothing.
func Inner(r, R float64) float64 { return Flanged * max(0, 1-1.25*r/R) }

// Bottle is a neck and a cavity, in metres and cubic metres.
type Bottle struct {
	NeckRadius float64
	NeckLength float64
	BodyRadius float64
	Volume     float64 // of the cavity, without the neck
}

func area(r float64) float64 { return math.Pi * r * r }

// BodyLength is how long the cavity is as a cylinder, in metres.
func (b Bottle) BodyLength() float64 { return b.Volume / area(b.BodyRadius) }

// Effective is the neck's length with both end corrections, in metres.
func (b Bottle) Effective() float64 {
	return b.NeckLength + b.NeckRadius*(Unflanged+Inner(b.NeckRadius, b.BodyRadius))
}

// Helmholtz is c/2π·sqrt(S/(V·L′)) in Hz, speed c in m/s, S in m², V in m³ and
// L′ in m; right where all lengths are far below a wavelength.
func Helmholtz(speed, neckArea, volume, effective float64) float64 {
	return speed / (2 * math.Pi) * math.Sqrt(neckArea/(volume*effective))
}

// TanTan is the bottle's lowest resonance in Hz.
func (b Bottle) TanTan(speed float64) float64 {
	return TanTan(speed, area(b.NeckRadius)/area(b.BodyRadius), b.Effective(), b.BodyLength())
}

// TanTan solves tan(k·neck)·tan(k·body) = ratio for the lowest k and returns
// k·speed/2π in Hz. Lengths are in metres, ratio is neck area over body area.
func TanTan(speed, ratio, neck, body float64) float64 {
	// The left side rises from 0 to infinity up to where the longer of the two
	// is a quarter wave.
	low, high := 0.0, math.Pi/2/max(neck, body)
	for range 80 {
		k := (low + high) / 2
		if math.Tan(k*neck)*math.Tan(k*body) < ratio {
			low = k
		} else {
			high = k
		}
	}
	return (low + high) / 2 * speed / (2 * math.Pi)
}

// Left is the air left, in the unit of v, when a cavity of volume v that sounds
// at f0 shall sound at f, by the pure law f ∝ 1/sqrt(V). It misses real bottles
// by up to a semitone: a first guess and no more.
func Left(v, f0, f float64) float64 { return v * f0 * f0 / (f * f) }
