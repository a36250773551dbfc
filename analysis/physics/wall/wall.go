// Package wall gives what water does to the pitch of a glass, a bottle or a bowl
// that is struck: its wall must move the water with it, and sounds lower.
//
// Two laws are here. French's is the published one, with the fourth power of
// the depth. Flow solves the water's motion itself. They agree for a full glass
// and part below: from half to full the exponent of Flow is 5.4 to 5.6, so that
// the fourth power overstates the drop of a half-full glass 2.3 to 3.5 times.
// Neither knows a real glass (foot, taper, thickness): take them as a first
// guess and fit what is measured.
//
// Sources: A. P. French, In vino veritas: a study of wineglass acoustics, Am. J.
// Phys. 51, 688 (1983), from memory, unchecked, its constant α too. Flow is
// potential flow by our own series, checked against another program's.
package wall

import "math"

// Glass is a cylinder with a bottom, in metres, kg/m³ and pascal.
type Glass struct {
	Radius, Height, Thickness float64
	Young, Density            float64
}

// WaterDensity is that of water, kg/m³.
const WaterDensity = 1000

// Ring is how high the mode with n waves round the rim lies above that with
// two, as a ratio, in a wall without a bottom: n(n²−1)/sqrt(n²+1) over its value
// at 2. Love, Mathematical Theory of Elasticity, from memory, unchecked.
func Ring(n int) float64 {
	g := func(n float64) float64 { return n * (n*n - 1) / math.Sqrt(n*n+1) }
	return g(float64(n)) / g(2)
}

// Empty is the lowest mode of the empty glass in Hz (French 1983).
func (g Glass) Empty() float64 {
	return g.Thickness / (2 * math.Pi * g.Radius * g.Radius) *
		math.Sqrt(3*g.Young/(5*g.Density)*(1+4.0/3*math.Pow(g.Radius/g.Height, 4)))
}

// Load is ρ_water·R/(ρ_glass·thickness): how heavy the water is for the wall.
func (g Glass) Load() float64 {
	return WaterDensity * g.Radius / (g.Density * g.Thickness)
}

// French is q of (f0/f)² = 1 + q·Load for water up to a share of the height,
// by the fourth power: α/5·share⁴ with α = 1.25.
func French(share float64) float64 { return 1.25 / 5 * math.Pow(share, 4) }

// Flow is the same q by potential flow for a glass of that height over radius:
// the wall moves as (z/H)²·cos 2θ, the bottom stands still, and the pressure at
// the surface is nothing. The share runs from 0 to 1.
//
// With the potential Σ a_m·I2(k_m·r)·cos(k_m·z), k_m = (m+½)π/d, the wall's
// motion fixes each a_m, and q is the water's kinetic energy over the wall's:
// that of (z/H)² and of the quarter as much that moves round the rim, without
// the load.
func Flow(share, heightOverRadius float64) float64 {
	d, h := share*heightOverRadius, heightOverRadius // in radii
	if d <= 0 {
		return 0
	}
	var sum float64
	sign := 1.0
	for m := range 400 {
		k := (float64(m) + 0.5) * math.Pi / d
		// ∫ z² cos(kz) dz from 0 to d, where cos(kd) = 0 and sin(kd) = ±1.
		c := sign * (d*d/k - 2/(k*k*k))
		sum += c * c * besselRatio(k) * 2 / d
		sign = -sign
	}
	return sum / (h * h * h * h) / (h / 4)
}

// besselRatio is I2(x)/(x·I2′(x)) for x > 0.
func besselRatio(x float64) float64 {
	// I2′ = I1 − 2·I2/x, and I2/I1 by its continued fraction.
	r := 0.0 // I_{n+1}/I_n, from far above down
	for n := 60 + int(2*x); n >= 1; n-- {
		r = 1 / (2*(float64(n)+1)/x + r)
	}
	// now r = I2/I1
	return r / (x - 2*r)
}

// Below is how far water with loading q·Load lowers the pitch, in cents,
// negative.
func Below(q, load float64) float64 { return -600 * math.Log2(1+q*load) }
