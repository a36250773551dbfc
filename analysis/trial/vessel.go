package trial

import (
	"math"
	"math/rand/v2"

	"ringwell/analysis/physics/cavity"
	"ringwell/analysis/physics/wall"
)

// Vessel is something to be filled: how much it holds, in ml, and where it
// sounds at a fill, in Hz.
type Vessel struct {
	Kind     string
	Capacity float64
	Sounds   func(fill float64) float64
}

func uniform(r *rand.Rand, low, high float64) float64 { return low + (high-low)*r.Float64() }

// Glass draws something to be struck: a straight glass, a taper or a bowl.
func Glass(r *rand.Rand) Vessel {
	switch r.IntN(3) {
	case 0:
		return straight(r)
	case 1:
		return strips(r, "taper")
	}
	return strips(r, "bowl")
}

// straight is a cylinder with a thick foot, its water by potential flow.
func straight(r *rand.Rand) Vessel {
	radius := uniform(r, .025, .045)
	height := radius * uniform(r, 2, 4)
	foot := height * uniform(r, 0, .12)
	g := wall.Glass{Radius: radius, Height: height, Thickness: uniform(r, .0012, .004), Young: 72e9, Density: 2500}
	inside := height - foot
	capacity := math.Pi * radius * radius * inside * 1e6
	empty, load := g.Empty(), g.Load()
	// The series is slow, and the fill is asked for often: a fine table of it.
	const steps = 64
	var q [steps + 1]float64
	for i := range q {
		depth := inside * float64(i) / steps
		q[i] = wall.Flow(depth/inside, inside/radius) * math.Pow(inside/height, 4)
	}
	return Vessel{"straight glass", capacity, func(fill float64) float64 {
		x := min(max(fill/capacity, 0), 1) * steps
		i := min(int(x), steps-1)
		s := x - float64(i)
		// (q grows as a high power: between two steps, cubic in the logarithm is
		// not needed, a line is right to 0.1 c at 64 steps.)
		return empty / math.Sqrt(1+load*(q[i]+s*(q[i+1]-q[i])))
	}}
}

// strips is a vessel whose radius grows with height, the added mass of each
// strip of wall being that of a ring of its radius, less near the surface where
// the water can give way.
func strips(r *rand.Rand, kind string) Vessel {
	rim := uniform(r, .03, .05)
	height, narrow, shape := rim*uniform(r, 2, 3.5), uniform(r, .5, .9), 1.0
	motion := uniform(r, 1.7, 2.3)
	if kind == "bowl" {
		rim = uniform(r, .05, .1)
		height, narrow, shape, motion = rim*uniform(r, .6, 1.1), uniform(r, .1, .3), .5, uniform(r, 1, 1.8)
	}
	thick := uniform(r, .0015, .004)
	density := uniform(r, 2300, 2500)
	empty := uniform(r, 500, 1600)
	if kind == "bowl" {
		empty = uniform(r, 250, 900)
	}
	const n = 200
	dz := height / n
	radius := make([]float64, n)
	volume := make([]float64, n+1)
	moving := 0.0
	for i := range n {
		z := (float64(i) + .5) / n
		radius[i] = rim * (narrow + (1-narrow)*math.Pow(z, shape))
		volume[i+1] = volume[i] + math.Pi*radius[i]*radius[i]*dz*1e6
		moving += 1.25 * density * thick * math.Pow(z, 2*motion) * radius[i]
	}
	water := func(depth float64) float64 { // in metres
		sum := 0.0
		for i := range n {
			z := (float64(i) + .5) * dz
			if z >= depth {
				break
			}
			give := 1 - math.Exp(-2.5*(depth-z)/radius[i])
			sum += wall.WaterDensity * radius[i] / 2 * give * math.Pow(z/height, 2*motion) * radius[i]
		}
		return sum / moving
	}
	const steps = 128
	var load [steps + 1]float64
	for i := range load {
		fill := volume[n] * float64(i) / steps
		k := 0
		for k < n-1 && volume[k+1] < fill {
			k++
		}
		load[i] = water((float64(k) + (fill-volume[k])/(volume[k+1]-volume[k])) * dz)
	}
	return Vessel{kind, volume[n], func(fill float64) float64 {
		x := min(max(fill/volume[n], 0), 1) * steps
		i := min(int(x), steps-1)
		return empty / math.Sqrt(1+load[i]+(x-float64(i))*(load[i+1]-load[i]))
	}}
}

// Bottle draws something to be blown: neck, shoulder, body, and a player's lips,
// which flatten it by an amount of their own.
func Bottle(r *rand.Rand) Vessel {
	neck, body := uniform(r, .008, .013), uniform(r, .028, .042)
	neckLength, shoulder, length := uniform(r, .03, .09), uniform(r, .02, .06), uniform(r, .1, .2)
	mouth := neck * (cavity.Unflanged + uniform(r, .3, 1.2)) // the lips shade it
	const n = 60
	dx := shoulder / n
	radius := func(i int) float64 { // of a slice of the shoulder, from the neck down
		s := (float64(i) + .5) / n
		return neck + (body-neck)*(s*s*(3-2*s))
	}
	capacity := math.Pi * body * body * length
	for i := range n {
		capacity += math.Pi * radius(i) * radius(i) * dx
	}
	// A label states it to about 3 %, and a player fills to about there.
	told := capacity * uniform(r, .97, 1.03)
	pitch := func(fill float64) float64 {
		// The input impedance of the open mouth is nothing at resonance: going up
		// from the water, whose surface is closed.
		sign := func(f float64) float64 {
			k := 2 * math.Pi * f / 343
			left := fill * 1e-6
			air := length
			first := n // slices of the shoulder above the water
			if v := math.Pi * body * body * length; left < v {
				air -= left / (math.Pi * body * body)
			} else {
				left -= v
				air = 0
				for first > 0 && left > 0 {
					first--
					left -= math.Pi * radius(first) * radius(first) * dx
				}
			}
			// y is i times the admittance looking down, over 1/(rho c).
			y := math.Pi * body * body * math.Tan(k*air)
			join := func(r, l float64) {
				a, t := math.Pi*r*r, math.Tan(k*l)
				y = a * (y + a*t) / (a - y*t)
			}
			for i := first - 1; i >= 0; i-- {
				join(radius(i), dx)
			}
			if y < 0 {
				return 1 // past a quarter wave of what is below the neck
			}
			return y*math.Tan(k*(neckLength+mouth)) - math.Pi*neck*neck
		}
		high := 20.0
		for sign(high) < 0 { // up to the first resonance and no further
			high *= 1.02
		}
		low := high / 1.02
		for range 40 {
			if f := (low + high) / 2; sign(f) < 0 {
				low = f
			} else {
				high = f
			}
		}
		return (low + high) / 2
	}
	return Vessel{"bottle", told * 1e6, pitch}
}
