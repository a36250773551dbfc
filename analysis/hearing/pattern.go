package hearing

import (
	"math"
	"slices"

	"ringwell/analysis"
)

// pattern is where the modes of one sort of thing stand, as ratios to the
// pitch heard. Only published ones: a found object need not follow any, and
// then nothing here speaks for or against its pitches.
type pattern struct {
	name string
	// kinds are those for which it is asked besides analysis.Unknown.
	kinds []analysis.Kind
	// base is the mode that the pitch goes by: 1 where it is that mode, 2
	// where a strike note is heard an octave under it, 0 for any.
	base int
	// needs are the modes without which it is none. A tierce, as loud in a bell
	// as any other mode, tells it from harmonics of its hum.
	needs []float64
	// modes by rising ratio.
	modes []float64
	// scatter is how far modes stray from their ratios, relative.
	scatter float64
}

const (
	// strays is the scatter of what grows or is made by hand: the three bowls
	// behind the metal bowl differ by 2 %. Tried 1 and 3 %: of made kettledrums
	// half and twice as many are missed; recordings do not mind.
	strays = 0.02
	// tuned is that of a bell on the founder's lathe. Tried 1.2 %: of made bells
	// with a sharp prime twice as many are missed; 2 %: of true ones five times
	// as many, as they pass for harmonics of their hum.
	tuned = 0.015
	// exact is that of harmonics, stiff strings included. 0.3 to 0.8 % do much
	// the same.
	exact = 0.005
)

// patterns are those of the trade.
//
//   - harmonic: strings, air columns, steel pans.
//   - church bell: hum, prime, tierce, quint, nominal, tenth, eleventh, twelfth,
//     double octave, upper fourth, by the founders' names; strike note half the
//     nominal (Terhardt & Seewann 1984; T.D. Rossing & R. Perrin, Applied
//     Acoustics 20 (1987) 41).
//   - tubular bell: modes 2 to 7 of a free bar, cos x cosh x = 1, heard an
//     octave under the fourth, by the fourth to sixth (T.D. Rossing, Science of Percussion Instruments,
//     from memory, unchecked).
//   - free bar: that bar, heard at its first mode.
//   - kettledrum: the ringing modes of a loaded membrane, heard at the
//     principal although they stand near 2 : 3 : 4 : 5 (Rossing, ibid.).
//   - square plate: free at its edges, Poisson's ratio 0.3 (A.W. Leissa,
//     Vibration of Plates, NASA SP-160 (1969), from memory, unchecked).
//   - handbell, wooden bar, wine glass, and metal bowl (the mean of three):
//     tables compiled by J. Bower, Csound reference manual, appendix E.
func patterns() [10]pattern {
	return [...]pattern{
		{"harmonic", kinds(analysis.Blown, analysis.Drum), 0, nil, []float64{1, 2, 3, 4, 5, 6, 7, 8}, exact},
		{"church bell", kinds(analysis.Bell), 2, []float64{1.2, 2, 3}, []float64{0.5, 1, 1.2, 1.5, 2, 2.5, 2.667, 3, 4, 5.333}, tuned},
		{"tubular bell", kinds(analysis.Bell), 2, []float64{2, 2.988, 4.173}, []float64{0.617, 1.210, 2, 2.988, 4.173, 5.555}, strays},
		{"handbell", kinds(analysis.Bell), 1, nil, []float64{1, 1.797, 2.521, 2.992, 3.796, 4.572}, strays},
		{"free bar", kinds(analysis.Bar), 1, nil, []float64{1, 2.757, 5.404, 8.933}, strays},
		{"wooden bar", kinds(analysis.Bar), 1, nil, []float64{1, 2.572, 4.644, 6.984}, strays},
		{"wine glass", kinds(analysis.Glass), 1, nil, []float64{1, 2.32, 4.25, 6.63, 9.38}, strays},
		{"metal bowl", kinds(analysis.Glass), 1, nil, []float64{1, 2.735, 5.047, 7.828, 11.03}, strays},
		{"square plate", kinds(analysis.Plate), 1, nil, []float64{1, 1.467, 1.811, 2.597, 4.561}, strays},
		{"kettledrum", kinds(analysis.Drum), 1, nil, []float64{1, 1.504, 1.98, 2.44, 2.90}, strays},
	}
}

func kinds(k ...analysis.Kind) []analysis.Kind { return k }

const (
	// strange is the share of tones that belong to none of a thing's modes. Our
	// guess. Tried 0.05 and 0.2: of true bells a fifth fewer and three times as
	// many are missed, of bells with a sharp prime 20 % more and fewer;
	// recordings do not mind.
	strange = 0.1
	// anywhere is the width in nepers within which a strange tone may lie: five
	// octaves.
	anywhere = 5 * math.Ln2
	// plain is the share from which a tone counts as one; fainter ones in
	// proportion. Our guess. 0.01 and 0.06: of recordings one more is wrong.
	plain = 0.03
	// musical is where tones cease to lend to a pitch, Hz: Terhardt, Stoll &
	// Seewann 1982 use those up to 5 kHz.
	musical = 5000
)

// evidence is the logarithm of how much likelier the tones are if things of
// this sort, with pitch h, make them than if they lay anywhere. Ratios scatter
// by Student's t of three degrees, as one mode in ten strays far (a bell's
// prime, a thick bar's upper modes). The tone at the base says nothing, as h
// was chosen by it; faint, it makes no pattern. Tones above the last mode listed
// say nothing either.
func (q *pattern) evidence(ts []tone, h float64, base int) float64 {
	peak := 2 / (math.Pi * math.Sqrt(3) * q.scatter) // of the density
	norm := (1 - strange) * anywhere / float64(len(q.modes)) * peak
	end := q.modes[len(q.modes)-1] * (1 + mistuned)
	sum, product := 0.0, 1.0 // of the faint, of the plain: one logarithm for all
	for i, t := range ts {
		if i == base || t.share < faint || t.f > musical || t.f > h*end {
			continue
		}
		if r := strange + norm*q.near(t.f/h); t.share < plain {
			sum += t.share / plain * math.Log(r)
		} else {
			product *= r
		}
	}
	return (sum + math.Log(product)) * min(1, ts[base].share/plain)
}

// near is 1 for a ratio at one of the modes and falls off with the scatter.
func (q *pattern) near(ratio float64) float64 {
	d := math.Inf(1)
	for _, m := range q.modes {
		d = min(d, math.Abs(ratio-m)/m)
		if m > ratio {
			break
		}
	}
	d /= q.scatter
	d = 1 + d*d/3
	return 1 / (d * d)
}

// at returns where the pattern's pitch lies if c is its place, by which tone,
// and which mode that is; tone is -1 where it is not.
func (q *pattern) at(c *candidate, ts []tone) (h float64, tone, mode int) {
	tone, mode = -1, q.base
	if mode > 0 {
		tone = c.tone[mode-1]
	} else {
		for n, i := range c.tone {
			if i >= 0 && (tone < 0 || ts[i].share > ts[tone].share) {
				tone, mode = i, n+1
			}
		}
	}
	if tone < 0 || ts[tone].share < faint {
		return 0, -1, 0
	}
	h = ts[tone].f / float64(mode)
	if math.Abs(h/c.h-1) > same || !q.complete(ts, h) {
		return 0, -1, 0
	}
	return h, tone, mode
}

// complete reports whether each mode that q needs is there.
func (q *pattern) complete(ts []tone, h float64) bool {
	for _, m := range q.needs {
		if !slices.ContainsFunc(ts, func(t tone) bool { return t.share >= faint && math.Abs(t.f/(h*m)-1) < mistuned }) {
			return false
		}
	}
	return true
}

// recognise asks which known sort of thing the tones may be if c is heard. It
// fills own with how far each tone belongs to such a thing.
func (c *candidate) recognise(ts []tone, p *prior, own []float64) {
	clear(own)
	bare := c.tone[0] < 0 && c.run == 0 // only a strike note could lie here
	odds, most := p.none, p.none
	for k := range p.patterns {
		q := &p.patterns[k]
		if bare && q.base != 2 {
			continue
		}
		h, base, mode := q.at(c, ts)
		if base < 0 {
			continue
		}
		o := p.each * math.Exp(q.evidence(ts, h, base))
		if q.base == 0 {
			o /= float64(mode) // one of as many guesses
		}
		odds += o
		if o > most {
			most, c.strike = o, q.base == 2
		}
		if o < p.none/100 {
			continue // accounts for nothing worth the time
		}
		for i, t := range ts {
			own[i] += o * q.near(t.f/h)
		}
	}
	for i := range own {
		own[i] /= odds
	}
	c.known = math.Log(odds)
}
