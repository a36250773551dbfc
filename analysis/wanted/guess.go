package wanted

import "ringwell/analysis"

// Means is what is done to an object to move its pitch, as a code.
type Means string

const (
	Water   Means = "water"    // pour some in
	Pour    Means = "pour-out" // if there is water in it
	Cut     Means = "cut"      // shorten it; cannot be undone
	Load    Means = "load"     // a little wax or tape where it swings most
	Slacken Means = "slacken"  // a skin
	Tighten Means = "tighten"
	Shade   Means = "shade" // the lips or a finger over the mouth
)

// Guess is what would bring an object to a place. It is a guess by its kind
// alone: nothing of the object was measured for it.
type Guess struct {
	Means  Means
	Likely bool // within what is usually reached; else only perhaps
}

// reach is how far one means moves one kind one way, in cents.
type reach struct {
	kind            analysis.Kind
	lower           bool // the object is too high and must come down
	means           Means
	likely, perhaps analysis.Cents
}

// reaches is what is known. Sources:
//
//   - Water lowers a struck glass or bottle. A.P. French, "In vino veritas",
//     Am. J. Phys. 51 (1983) 688 (from memory, unchecked) gives 457 cents at
//     three quarters and 1007 full for a thin glass (R 33 mm, wall 1.5 mm); a
//     potential-flow calculation of ours 340 at three quarters. A thick wall
//     moves less: half of that is called likely, and it takes a glass nearly
//     full.
//   - Water raises a blown bottle: a neck and 750 ml give 295 cents for 217 ml
//     and 697 for 414 ml by Helmholtz' formula (Kinsler et al., Fundamentals of
//     Acoustics, from memory, unchecked).
//   - Cutting raises a bar: f is as 1/L² (Euler-Bernoulli), so that 200 cents
//     are 5.6 % of its length and 600 cents 16 %.
//   - The rest: common practice, no source.
//
// A glass or a bottle is emptied, but an empty one is raised by nothing. Tiles
// and plates are not cut: dust, and breakage.
func reaches() []reach {
	return []reach{
		{analysis.Glass, true, Water, 200, 700},
		{analysis.Bottle, true, Water, 200, 700},
		{analysis.Glass, false, Pour, 0, 700},
		{analysis.Bottle, false, Pour, 0, 700},
		{analysis.Blown, false, Water, 500, 900},
		{analysis.Blown, true, Shade, 30, 80},
		{analysis.Bar, false, Cut, 200, 600},
		{analysis.Bar, true, Load, 30, 100},
		{analysis.Bell, true, Load, 20, 60},
		{analysis.Plate, true, Load, 30, 100},
		{analysis.Drum, true, Slacken, 150, 400},
		{analysis.Drum, false, Tighten, 150, 400},
	}
}

// guess returns what would move an object of a kind that lies away cents above
// a place, nil where nothing is known to.
func guess(kind analysis.Kind, away analysis.Cents) *Guess {
	by := max(away, -away)
	for _, r := range reaches() {
		if r.kind == kind && r.lower == (away > 0) && by <= r.perhaps {
			return &Guess{r.means, by <= r.likely}
		}
	}
	return nil
}
