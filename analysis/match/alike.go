package match

import (
	"cmp"
	"math"
	"slices"

	"ringwell/analysis"
)

// How different two partials are, in units in which 1 is clearly another:
// 20 cents, a fifth of a semitone, which players take the trouble to bend; 10
// dB, twice as loud (S.S. Stevens, Psychological Review 64 (1957) 153-181, the
// sone, from memory, unchecked); a ring twice as long. The first and the last
// by trial.
const (
	clearCents = 20
	clearLevel = 10
	clearRing  = math.Ln2
)

// Why says what one partial has to do with how far two voices are apart.
type Why string

const (
	WhyPitch   Why = "pitch"   // it lies elsewhere: By in cents
	WhyLevel   Why = "level"   // it is louder or fainter: By in dB
	WhyRing    Why = "ring"    // it rings longer or shorter: By as a factor
	WhyMissing Why = "missing" // the other lacks it
	WhyMore    Why = "more"    // only the other has it
)

// Reason is one of them. By is that of the other voice beside this one.
type Reason struct {
	Why       Why
	Frequency analysis.Hz
	By        float64
	Share     float64 // of the distance
}

// Apart is how far two voices are apart, from 0 for the same partials to 1 for
// none in common, and why, the weightiest reason first.
//
// Each partial weighs as its loudness, doubled by 10 dB. Two that belong
// together are 1 - exp(-q/2) apart, where q sums the squares of the
// differences of frequency, level and ring in units of clearCents, clearLevel
// and clearRing; a partial that stands alone is 1 apart. What is clearly
// another is thus not made more so by lying farther off, and many small
// differences count less than one that is heard. The distance is the mean over
// all partials of both by weight. It is symmetric and 0 for a voice and
// itself; a ring that is not known counts as the same.
func Apart(a, b []Mode) (distance float64, reasons []Reason) {
	var al aligner
	return al.apart(a, b, true)
}

func (al *aligner) apart(a, b []Mode, why bool) (distance float64, reasons []Reason) {
	total := 0.0
	for i := range a {
		total += weight(&a[i])
	}
	for j := range b {
		total += weight(&b[j])
	}
	if total == 0 {
		return 0, nil
	}
	common := 0.0
	pairs := al.align(len(a), len(b), func(i, j int) float64 { return (weight(&a[i]) + weight(&b[j])) * likeness(&a[i], &b[j]) })
	for _, p := range pairs {
		common += (weight(&a[p.i]) + weight(&b[p.j])) * likeness(&a[p.i], &b[p.j])
	}
	distance = max(0, 1-common/total)
	if why {
		reasons = reasonsOf(a, b, pairs, total)
	}
	return distance, reasons
}

func weight(m *Mode) float64 { return math.Exp2(m.Level / 10) }

// squares are the three terms of q.
func squares(a, b *Mode) (pitch, level, ring float64) {
	pitch = square(float64(b.Frequency.Above(a.Frequency)) / clearCents)
	level = square((b.Level - a.Level) / clearLevel)
	if a.T60 > 0 && b.T60 > 0 {
		ring = square(math.Log(b.T60/a.T60) / clearRing)
	}
	return
}

func square(x float64) float64 { return x * x }

func likeness(a, b *Mode) float64 {
	if r := float64(b.Frequency / a.Frequency); r < 0.94 || r > 1.06 {
		return 0 // five units off: less than 1e-5
	}
	p, l, r := squares(a, b)
	return math.Exp(-(p + l + r) / 2)
}

func reasonsOf(a, b []Mode, pairs []pair, total float64) []Reason {
	all := []Reason{}
	inA, inB := make([]bool, len(a)), make([]bool, len(b))
	for _, p := range pairs {
		inA[p.i], inB[p.j] = true, true
		x, y := &a[p.i], &b[p.j]
		pitch, level, ring := squares(x, y)
		q := pitch + level + ring
		if q == 0 {
			continue
		}
		share := (weight(x) + weight(y)) * (1 - math.Exp(-q/2)) / total / q
		all = append(all, Reason{WhyPitch, x.Frequency, float64(y.Frequency.Above(x.Frequency)), share * pitch},
			Reason{WhyLevel, x.Frequency, y.Level - x.Level, share * level})
		if ring > 0 {
			all = append(all, Reason{WhyRing, x.Frequency, y.T60 / x.T60, share * ring})
		}
	}
	for i := range a {
		if !inA[i] {
			all = append(all, Reason{WhyMissing, a[i].Frequency, 0, weight(&a[i]) / total})
		}
	}
	for j := range b {
		if !inB[j] {
			all = append(all, Reason{WhyMore, b[j].Frequency, 0, weight(&b[j]) / total})
		}
	}
	slices.SortStableFunc(all, func(x, y Reason) int { return cmp.Compare(y.Share, x.Share) })
	return all
}

// atLeast is a distance that two voices are not nearer than, found without
// aligning them: a partial that has none of the other's within three units of
// clearCents is at most exp(-9/2) alike to any.
func atLeast(a, b []Mode) float64 {
	total, alone := 0.0, 0.0
	for _, s := range [2][2][]Mode{{a, b}, {b, a}} {
		j := 0
		for i := range s[0] {
			m := &s[0][i]
			w := weight(m)
			total += w
			for j < len(s[1]) && s[1][j].Frequency < m.Frequency*narrow {
				j++
			}
			if j == len(s[1]) || s[1][j].Frequency*narrow > m.Frequency {
				alone += w
			}
		}
	}
	if total == 0 {
		return 0
	}
	return alone / total * (1 - 0.0112)
}

// narrow is three units of clearCents as a ratio: 2^(-60/1200).
const narrow = 0.9659363

// Neighbour is a voice and how far it is apart from the one asked for.
type Neighbour struct {
	ID, Object string
	Distance   float64
	Reasons    []Reason
}

// Alike returns the n voices most like some modes, the nearest first. Voices of
// the object left out, "" for none, are passed over.
func Alike(modes []Mode, voices []Voice, without string, n int) []Neighbour {
	var al aligner
	type near struct {
		voice    int
		distance float64
	}
	var best []near // the nearest so far, at most n, nearest first
	for i := range voices {
		if len(voices[i].Modes) == 0 || without != "" && voices[i].Object == without || n < 1 {
			continue
		}
		farthest := math.Inf(1)
		if len(best) == n {
			farthest = best[n-1].distance
		}
		if atLeast(modes, voices[i].Modes) >= farthest {
			continue
		}
		d, _ := al.apart(modes, voices[i].Modes, false)
		if d >= farthest {
			continue
		}
		at, _ := slices.BinarySearchFunc(best, d, func(x near, d float64) int {
			if x.distance <= d {
				return -1 // equals keep their order
			}
			return 1
		})
		best = slices.Insert(best, at, near{i, d})
		best = best[:min(n, len(best))]
	}
	found := []Neighbour{}
	for _, x := range best {
		v := &voices[x.voice]
		d, why := al.apart(modes, v.Modes, true)
		found = append(found, Neighbour{v.ID, v.Object, d, why})
	}
	return found
}
