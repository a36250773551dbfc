package hearing

import (
	"cmp"
	"math"
	"slices"

	"ringwell/analysis"
)

const (
	// harmonics is how far up a tone can still belong: components above the
	// eighth or so are no longer resolved and lend little (R. Plomp, J. Acoust.
	// Soc. Am. 36 (1964) 1628: five to eight; unchecked).
	harmonics = 8
	// mistuned is the relative mistuning at which a component no longer
	// belongs: it begins to drop out at 3 % and has by 8 % (Moore, Glasberg &
	// Peters 1985). Here a triangle that ends between the two.
	mistuned = 0.055
	// lowestPitch: complexes below 30 to 40 Hz have no musical pitch (D.
	// Pressnitzer, R. Patterson & K. Krumbholz, J. Acoust. Soc. Am. 109 (2001)
	// 2074, unchecked).
	lowestPitch = 35.0
	// faint: a tone of less than this share makes no pitch of its own. It cuts
	// work; no case of the tests turned on it.
	faint = 0.01
	// same: candidates this near are one. Terhardt, Stoll & Seewann 1982
	// merge within 3 %.
	same = 0.03
)

// candidate is one pitch that may be heard, with what speaks for and against
// it. Shares are of the summed salience of all tones.
type candidate struct {
	h     float64            // Hz
	tone  [harmonics]int     // which tone stands at harmonic n+1, -1 for none
	share [harmonics]float64 // what it lends

	own    bool // the pitch is that of tone[0]
	strike bool // of a thing heard an octave under one of its modes

	likelihood float64 // share of listeners expected to name it

	together float64 // 0..1: share of the best stretch of harmonics
	run      float64 // 0..1: strength of the best run of three in a row
	known    float64 // nepers: how much likelier the tones are if this is the pitch of a known sort of thing
	under    float64 // 0..1: share of the tones that lie lower than any of that stretch, as far as neither the run nor what is known accounts for them
}

// candidates lists what may be heard, the likeliest first: every tone, every
// frequency of which three tones in a row could be harmonics, and every strike
// note of a known sort of thing.
func candidates(ts []tone, p *prior) []candidate {
	cs := make([]candidate, 0, 64)
	own := make([]float64, len(ts))
	for _, t := range ts {
		if t.share < faint {
			continue
		}
		for m := 1; m <= harmonics && t.f/float64(m) >= lowestPitch; m++ {
			c := candidate{h: t.f / float64(m)}
			c.match(ts)
			if m > 1 {
				// Several tones speak for one pitch: it lies between what
				// each says.
				c.h = c.centre(ts)
				c.match(ts)
			}
			if c.h < lowestPitch {
				continue
			}
			c.weigh(ts, p, own)
			if c.tone[0] >= 0 || c.run > 0 || c.strike {
				c.place(ts)
				cs = append(cs, c)
			}
		}
	}
	return distinct(cs)
}

// match finds the tone at each harmonic of h and what it lends: its share,
// less as it is mistuned. Windows of neighbouring harmonics do not overlap, so
// a tone belongs to the nearest or to none.
func (c *candidate) match(ts []tone) {
	c.share = [harmonics]float64{}
	for n := range c.tone {
		c.tone[n] = -1
	}
	for i, t := range ts {
		n := int(t.f/c.h + 0.5)
		if n > harmonics {
			break
		}
		if n < 1 {
			continue
		}
		if s := t.share * (1 - math.Abs(t.f/(c.h*float64(n))-1)/mistuned); s > c.share[n-1] {
			c.tone[n-1], c.share[n-1] = i, s
		}
	}
}

// weigh fills in together, run, known and under. own is scratch, one a tone.
func (c *candidate) weigh(ts []tone, p *prior, own []float64) {
	lend := c.lend()
	there := c.spans(ts)
	lowest := 0
	for from := range harmonics {
		for to := from + 1; to <= harmonics; to++ {
			if got := together(lend[:], from, to, there.upTo[to-1]-there.below[from]); got > c.together {
				c.together, lowest = got, from
			}
		}
	}
	best := 0.0
	for n := 0; n+row <= harmonics; n++ {
		best = max(best, min(lend[n], lend[n+1], lend[n+2])*inverseRoot(n))
	}
	if !p.runs {
		best = 0
	}
	c.run = best / (best + firm)
	c.recognise(ts, p, own)
	left := 1 - c.run
	c.under = foreign(ts, own, c.h*float64(lowest+1)*(1-mistuned)) * left * left
}

// foreign is the share of what lies below f and does not belong to the thing
// that was recognised.
func foreign(ts []tone, own []float64, f float64) (sum float64) {
	for i := 0; i < len(ts) && ts[i].f < f; i++ {
		sum += ts[i].share * (1 - own[i])
	}
	return sum
}

// spans says how much lies below the window of each harmonic, and how much
// up to its upper end.
type spans struct{ below, upTo [harmonics]float64 }

func (c *candidate) spans(ts []tone) (s spans) {
	i, j := 0, 0
	sumI, sumJ := 0.0, 0.0
	for n := range harmonics {
		place := c.h * float64(n+1)
		for ; i < len(ts) && ts[i].f < place*(1-mistuned); i++ {
			sumI += ts[i].share
		}
		for ; j < len(ts) && ts[j].f < place*(1+mistuned); j++ {
			sumJ += ts[j].share
		}
		s.below[n], s.upTo[n] = sumI, sumJ
	}
	return s
}

// lend is what the harmonics lend once it is asked whether a pitch may lie
// there at all. One without a tone of its own exists only low down: the
// form 1/(1 + (h/limit)⁴) is Terhardt, Stoll & Seewann's of 1982. One whose own
// tone is as strong as the strongest harmonic exists anywhere.
func (c *candidate) lend() [harmonics]float64 {
	lend := c.share
	most := slices.Max(lend[:])
	if most == 0 {
		return lend
	}
	q := c.h / limit
	there := 1 / (1 + q*q*q*q)
	there += (1 - there) * lend[0] / most
	for n := 1; n < harmonics; n++ {
		lend[n] *= there * c.apart(n+1)
	}
	return lend
}

// apart is how far harmonic n is heard out from its neighbours, 0 to 1: half
// where they lie heardOut ERBs away.
func (c *candidate) apart(n int) float64 {
	x := c.h / float64(ERB(analysis.Hz(c.h*float64(n)))) / heardOut
	x *= x
	x *= x
	return x / (1 + x)
}

const (
	// row: fewer than three successive components give a weak residue (A.J.M.
	// Houtsma & J.L. Goldstein, J. Acoust. Soc. Am. 51 (1972) 520, unchecked).
	row = 3
	// limit is where a pitch without a tone of its own is half gone, Hz.
	// Terhardt, Stoll & Seewann 1982 have 800, other hearing tests put the end
	// near 1400 (B.C.J. Moore, J. Acoust. Soc. Am. 54 (1973) 610, unchecked).
	// Between them; 800 misses a fifth more bells with a sharp prime, 1400 does
	// much the same.
	limit = 1100
	// heardOut is the distance in ERBs at which one harmonic among others is
	// heard out three times in four, halfway between guessing and always (B.C.J.
	// Moore & K. Ohgushi, J. Acoust. Soc. Am. 93 (1993) 452, unchecked). The
	// fourth power is ours.
	heardOut = 1.25
	// firm is the share of the weakest of the three at which a run is half as
	// strong as it can be. Our guess. With 0.01, 0.02 and 0.03 of made bells and
	// missing fundamentals 1.9, 2.8 and 3.5 % are wrong; of the recordings of the
	// fit 4, 3 and 3 of 140.
	firm = 0.02
)

// together is what the harmonics from+1..to lend together: each by 1/√n, as the
// residue weakens when harmonics go up (Terhardt, Stoll & Seewann 1982; R.J.
// Ritsma, J. Acoust. Soc. Am. 34 (1962) 1224, unchecked), times the part that
// they are of all there is between the lowest and the highest of them. A tone
// alone lends only to its own pitch, and fewer than three together to none.
func together(lend []float64, from, to int, there float64) float64 {
	if lend[from] == 0 || lend[to-1] == 0 || to-from == 1 && from > 0 {
		return 0
	}
	sum, weighted, n := 0.0, 0.0, 0
	for k := from; k < to; k++ {
		if lend[k] > 0 {
			n++
			sum += lend[k]
			weighted += lend[k] * inverseRoot(k)
		}
	}
	if to-from > 1 && n < row {
		return 0
	}
	return weighted * sum / max(sum, there)
}

// inverseRoot is 1/√(n+1), the weight of harmonic n+1.
func inverseRoot(n int) float64 { return 1 / math.Sqrt(float64(n+1)) }

// centre is the mean of what the harmonics present say of h, each weighted by
// its share.
func (c *candidate) centre(ts []tone) float64 {
	sum, weight := 0.0, 0.0
	for n, i := range c.tone {
		if i >= 0 {
			sum += c.share[n] * ts[i].f / float64(n+1)
			weight += c.share[n]
		}
	}
	if weight == 0 {
		return c.h
	}
	return sum / weight
}

// distinct merges candidates that are one to the ear, keeping the likelier.
func distinct(cs []candidate) []candidate {
	slices.SortStableFunc(cs, func(a, b candidate) int { return cmp.Compare(b.utility(), a.utility()) })
	var kept []candidate
	for _, c := range cs {
		if !slices.ContainsFunc(kept, func(k candidate) bool { return math.Abs(c.h/k.h-1) < same }) {
			kept = append(kept, c)
		}
	}
	return kept
}
