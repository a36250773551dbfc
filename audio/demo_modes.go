package audio

import "math"

// The physics of the demo scene: how the trio's things vibrate. Sources, by the
// names used below:
//
//   - Euler–Bernoulli and Timoshenko beams with both ends free: any text on
//     vibration; the correction by perturbation integrals was computed for this
//     package and agrees with a 24-term Ritz solution to 0.02 % where it is
//     small.
//   - French, "In vino veritas: a study of wineglass acoustics", Am. J. Phys.
//     51 (1983) 688: wall of a glass (from memory, unchecked).
//   - Leissa, "The free vibration of rectangular plates", J. Sound Vib. 31
//     (1973) 257, for the definition of λ; the values here are a Ritz solution
//     of our own with 16² Legendre products (14² agree to four decimals).
//   - Kinsler et al., Fundamentals of Acoustics: Helmholtz resonator, pipe and
//     cavity (from memory, unchecked).

// stuff is what a thing is made of.
type stuff struct {
	young   float64 // Pa
	density float64 // kg/m³
	shear   float64 // E/G
	loss    float64 // loss factor η: share of energy lost in a radian
}

// Moduli and densities: textbook and data-sheet values for copper, soda-lime
// glass, steel and oak; those of terracotta, slate and grey cast iron from
// memory, unchecked. Loss factors are chosen so that the things ring as long as
// such things do on a table or in the hand: common practice, no source.
var (
	copper     = stuff{117e9, 8940, 2.68, 4e-4}
	glass      = stuff{72e9, 2500, 2.46, 9e-4}
	steel      = stuff{200e9, 7850, 2.6, 1.6e-3}
	castIron   = stuff{110e9, 7200, 2.5, 3e-4}
	terracotta = stuff{15e9, 1800, 2.4, 3.5e-3}
	oak        = stuff{12e9, 700, 16, 1.1e-2} // along the grain
	slate      = stuff{60e9, 2750, 2.45, 2.5e-3}
)

// sound returns the speed of longitudinal waves in a rod, sqrt(E/ρ), m/s.
func (s stuff) sound() float64 { return math.Sqrt(s.young / s.density) }

// decay returns the decay rate of a mode at f Hz in neper/s: internal loss
// πfη, and hold for what support and air take, the same for every mode.
func (s stuff) decay(f, hold float64) float64 { return math.Pi*f*s.loss + hold }

// beamRoot returns βL of the n-th bending mode, n = 1, 2, ..., of a beam with
// free ends, a root of cos x·cosh x = 1, and σ of its shape.
func beamRoot(n int) (b, sigma float64) {
	b = (float64(n) + 0.5) * math.Pi
	for range 20 { // Newton on cos x − 1/cosh x; three rounds would do
		f := math.Cos(b) - 1/math.Cosh(b)
		d := -math.Sin(b) + math.Tanh(b)/math.Cosh(b)
		b -= f / d
	}
	// (cosh b − cos b)/(sinh b − sin b), without the large numbers.
	e := math.Exp(-b)
	return b, (1 + e*e - 2*e*math.Cos(b)) / (1 - e*e - 2*e*math.Sin(b))
}

// beamShape returns the displacement of the n-th mode at x, the distance from
// one end as a part of the length, the ends being 1.
func beamShape(n int, x float64) float64 {
	b, s := beamRoot(n)
	// ½{cosh bx + cos bx − σ(sinh bx + sin bx)} with the growing and the falling
	// exponential apart, so that nothing large cancels.
	e := math.Exp(-b)
	grow := (math.Cos(b) - math.Sin(b) - e) / (math.Sinh(b) - math.Sin(b)) // 1 − σ
	return (math.Cos(b*x) - s*math.Sin(b*x) + (1+s)*math.Exp(-b*x)/2 + grow*math.Exp(b*x)/2) / 2
}

// beam returns the frequency in Hz of the n-th bending mode of a beam of length
// l and radius of gyration r (m), r = sqrt(I/A), shear coefficient kappa: that
// of a thin beam, (βL)²/(2πl²)·r·sqrt(E/ρ), divided by sqrt(T) for shear and
// rotary inertia, T = 1 + (r/l)²·[bσ(bσ+6) + E/(κG)·bσ(bσ−2)]. To first order
// only: where T passes 1.3 the mode is really some cents off, which matters to
// nobody here, for what is sounded is what is told.
func beam(s stuff, l, r, kappa float64, n int) float64 {
	b, sigma := beamRoot(n)
	thin := b * b / (2 * math.Pi * l * l) * r * s.sound()
	bs := b * sigma
	t := 1 + (r/l)*(r/l)*(bs*(bs+6)+s.shear/kappa*bs*(bs-2))
	return thin / math.Sqrt(t)
}

// wall returns the frequency of a bowl's or jar's wall that goes round in n
// waves: radius, wall and height in m. The ring's a/(2πR²)·sqrt(E/12ρ)·
// n(n²−1)/sqrt(n²+1), stiffened by the bottom as French has it for n = 2,
// sqrt(1 + 4/3·(R/H)⁴); for other n the stiffening is held against (n²−1)²,
// the stiffness of the ring, which is our own extension.
func wall(s stuff, radius, thick, height float64, n int) float64 {
	k := float64(n * n)
	ring := thick / (2 * math.Pi * radius * radius) * s.sound() / math.Sqrt(12) *
		float64(n) * (k - 1) / math.Sqrt(k+1)
	return ring * math.Sqrt(1+4.0/3*math.Pow(radius/height, 4)*9/((k-1)*(k-1)))
}

// filled returns by what a jar's frequency falls when water stands in it to the
// part d of its height: (f₀/f)² = 1 + q·ρ_w·R/(ρ·a), q = 0.26·d^5.5, which
// follows a potential-flow solution of ours (0.0055 at half, 0.055 at three
// quarters, 0.26 full for H/R = 3) within 10 % from half upwards.
func filled(s stuff, radius, thick, d float64) float64 {
	q := 0.26 * math.Pow(d, 5.5)
	return 1 / math.Sqrt(1+q*998*radius/(s.density*thick))
}

// plateMode is a mode of a free rectangular plate twice as long as wide,
// Poisson's ratio 0.225: λ with the long side, and the displacement near a
// corner (a twentieth of each side in), the root mean square over the plate
// being 1.
type plateMode struct{ lambda, corner float64 }

func plateModes() []plateMode {
	return []plateMode{
		{21.8710, 1.504}, {27.8796, 2.001}, {60.5612, 1.084}, {60.8918, 1.982},
		{88.6944, 1.064}, {104.7949, 1.757}, {105.5767, 1.633}, {119.7928, 0.848},
		{147.2816, 1.600}, {164.2876, 1.360},
	}
}

// plate returns λ/(2πa²)·h·sqrt(E/(12ρ(1−ν²))), a the long side, h the
// thickness, in m.
func plate(s stuff, a, h, lambda float64) float64 {
	const nu = 0.225
	return lambda / (2 * math.Pi * a * a) * h * s.sound() / math.Sqrt(12*(1-nu*nu))
}

// bottle returns the frequency of the air in a bottle: a neck of radius r and
// length l before a cylinder of radius big and volume v. The first root of
// tan(kl′)·tan(kL) = S_neck/S_cavity, l′ with end corrections 0.6133 r outside
// (Levine and Schwinger 1948) and 0.82 r·(1 − 1.25 r/R) inside (Ingard), both
// from memory, unchecked. Lips shade the mouth and flatten it; not here.
func bottle(r, l, big, v float64) float64 {
	const c = 343.99 // m/s at 20 °C and half-damp air (Cramer, J. Acoust. Soc. Am. 93 (1993) 2510)
	neck := l + 0.6133*r + 0.82*r*(1-1.25*r/big)
	long := v / (math.Pi * big * big)
	ratio := r * r / (big * big)
	lo, hi := 0.0, math.Pi/2/math.Max(neck, long)
	for range 60 {
		mid := (lo + hi) / 2
		if math.Tan(mid*neck)*math.Tan(mid*long) < ratio {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo * c / (2 * math.Pi)
}

// softness returns how much of a mode at f Hz is left when the blow is no
// instant but a half sine of the given length in s: its spectrum,
// |cos(πfT)/(1 − 4f²T²)|, floored at a hundredth because no real contact has the
// exact zeros.
func softness(f, contact float64) float64 {
	x := f * contact
	if math.Abs(x-0.5) < 1e-6 {
		return math.Pi / 4
	}
	return math.Max(0.01/(1+x), math.Abs(math.Cos(math.Pi*x)/(1-4*x*x)))
}
