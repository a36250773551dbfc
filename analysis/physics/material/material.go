// Package material holds what temperature does to the pitch of what things are
// made of.
//
// A free bar, plate, bell or bowl of one isotropic material has
// f ∝ sqrt(E/ρ)·h/L². When it warms by a degree, its stiffness E changes by
// the share e, its lengths by α, its density by -3α; h/L² then changes by -α, and
// f by (e+α)/2: in cents, 600/ln 2·(e+α).
//
// The package holds for shapes that are free to expand and for temperatures
// near a room's. It does not hold for tempered or clamped things.
package material

import (
	"math"
	"strings"

	"ringwell/analysis"
)

// Material is what a thing is made of, near 20 °C.
type Material struct {
	Name      string
	Stiffness float64 // e: relative change of Young's modulus a degree
	Expansion float64 // α: relative change of length a degree
	// Low and High bound the cents a degree that pieces of this material are
	// found to have.
	Low, High analysis.Cents
	Source    string
}

// PerDegree is how far a free body of the material moves a degree.
func (m Material) PerDegree() analysis.Cents {
	return analysis.Cents(600 / math.Ln2 * (m.Stiffness + m.Expansion))
}

// Wood reports whether moisture moves it more than temperature does.
func (m Material) Wood() bool { return strings.Contains(m.Name, "wood") }

const (
	asmePublic = "slope of Young's modulus over -73 to 93 °C in ASME B31.1, as public tables give it"
	asmeMemory = "slope of Young's modulus in ASME B31.1, from memory, unchecked"
	woodSource = "USDA Wood Handbook GTR-190, table 5-15: modulus along the grain -7 % from 20 to 50 °C at 12 % moisture, -6 % at 0 %"
)

// Table lists the materials there are. The bounds Low and High are guesses:
// steel's slope differs by a fifth from one test to another, and more for what
// is less well known.
func Table() []Material {
	all := []Material{
		{Name: "steel", Stiffness: -2.86e-4, Expansion: 11.7e-6, Source: asmePublic},
		{Name: "stainless steel", Stiffness: -3.19e-4, Expansion: 17.3e-6, Source: asmePublic},
		{Name: "aluminium", Stiffness: -5.4e-4, Expansion: 23.6e-6, Source: asmeMemory},
		{Name: "brass", Stiffness: -3.2e-4, Expansion: 20e-6, Source: asmeMemory},
		{Name: "bronze", Stiffness: -3.0e-4, Expansion: 18e-6, Source: asmeMemory},
		{Name: "copper", Stiffness: -3.2e-4, Expansion: 16.5e-6, Source: asmeMemory},
		{Name: "cast iron", Stiffness: -2.9e-4, Expansion: 11e-6, Source: "taken as steel; from memory, unchecked"},
		{Name: "glass", Stiffness: -1.3e-4, Expansion: 8.7e-6, Low: -0.17, High: -0.02, Source: "soda-lime glass; from memory, unchecked, and little sure"},
		{Name: "borosilicate glass", Stiffness: 0, Expansion: 3.3e-6, Low: -0.1, High: 0.1, Source: "makers' data from memory, unchecked; the sign is not sure"},
		{Name: "stoneware", Stiffness: -1e-4, Expansion: 6.5e-6, Low: -0.3, High: 0.1, Source: "from memory, unchecked; bodies with quartz do not return the way they came"},
		{Name: "wood", Stiffness: -0.07 / 30, Expansion: 4e-6, Low: -2.6, High: -1.4, Source: woodSource},
		{Name: "dry wood", Stiffness: -0.06 / 30, Expansion: 4e-6, Low: -2.3, High: -1.2, Source: woodSource},
	}
	for i, m := range all {
		if m.Low == 0 && m.High == 0 {
			all[i].Low, all[i].High = m.PerDegree()*1.3, m.PerDegree()*0.7
		}
	}
	return all
}

// Named finds a material by its name; case does not matter.
func Named(name string) (Material, bool) {
	for _, m := range Table() {
		if strings.EqualFold(m.Name, strings.TrimSpace(name)) {
			return m, true
		}
	}
	return Material{}, false
}

// Names lists them.
func Names() []string {
	var names []string
	for _, m := range Table() {
		names = append(names, m.Name)
	}
	return names
}

// MoisturePerPercent is how far wood moves when its moisture content rises by
// one per cent of its dry weight: stiffness -1.6 %, mass +1 %. Wood Handbook,
// from memory, unchecked.
func MoisturePerPercent() analysis.Cents { return analysis.Cents(600 / math.Ln2 * (-0.016 - 0.01)) }
