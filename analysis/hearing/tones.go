package hearing

import (
	"cmp"
	"math"
	"slices"

	"ringwell/analysis"
)

// tone is what the ear takes for one component: a partial, or several that it
// cannot tell apart.
type tone struct {
	f      float64 // Hz: energy-weighted mean
	sigma  float64 // cents
	energy float64 // over the gathering time; the strongest tone's is 1
	share  float64 // of the summed salience of all tones: amplitude x dominance x audibility
	lead   int     // index of its strongest partial in the slice given
}

const (
	// gathering is the time over which the ear adds up energy. 200 to 300 ms:
	// the time constant of loudness and of the threshold for short tones, R.
	// Plomp & M. Bouman, J. Acoust. Soc. Am. 31 (1959) 749, unchecked.
	gathering = 0.25
	// attack is left out: the contact noise of a mallet lasts a few ms, and
	// what has died away by then carries no pitch. Common practice, no source.
	attack = 0.010
	// unresolved is the share of an ERB within which two components are heard
	// as one that beats: 9 Hz at 440 Hz, where beats are still followed one by
	// one (up to 10 to 15 Hz; Zwicker & Fastl, Psychoacoustics, unchecked).
	unresolved = 0.12
	// broad is the spread in cents from which a blend is a cluster of dull
	// wood rather than a pair. Our choice.
	broad = 20
	// playing is the sound pressure level taken for the loudest tone, dB: a
	// small object struck an arm's length away. Common practice, no source.
	// Only masking depends on it.
	playing = 70
)

// tones resolves partials as the ear does and weighs them, by rising
// frequency. Partials that are not usable, and tones that are masked, are left
// out.
func tones(partials []analysis.Partial) []tone {
	ts := make([]tone, 0, len(partials))
	order := make([]int, 0, len(partials))
	for i, p := range partials {
		if usable(p) {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(partials[a].Frequency, partials[b].Frequency)
	})
	for len(order) > 0 {
		n := 1
		for n < len(order) && blend(partials, order[:n], order[n]) {
			n++
		}
		ts = append(ts, blended(partials, order[:n]))
		order = order[n:]
	}
	top := 0.0
	for _, t := range ts {
		top = max(top, t.energy)
	}
	if !(top > 0) {
		return nil
	}
	f := make([]analysis.Hz, len(ts))
	levels := make([]float64, len(ts))
	excess := make([]float64, len(ts))
	for i := range ts {
		ts[i].energy /= top
		f[i] = analysis.Hz(ts[i].f)
		levels[i] = playing + 10*math.Log10(max(ts[i].energy, 1e-20))
	}
	Excess(excess, f, levels)
	total := 0.0
	for i := range ts {
		// The square root of energy: amplitude, between loudness (energy to
		// the 0.3, S.S. Stevens) and energy itself, by trial on the families
		// of the tests: 0.3 leaves church bells on their hum three times as
		// often. A component that is nearly masked counts for less, by
		// Terhardt, Stoll & Seewann's 1 - exp(-excess/15 dB).
		audible := max(0, 1-math.Exp(-excess[i]/15))
		ts[i].share = math.Sqrt(ts[i].energy) * Dominance(f[i]) * audible
		total += ts[i].share
	}
	heard := ts[:0]
	for _, t := range ts {
		if t.share > 0 {
			t.share /= total
			heard = append(heard, t)
		}
	}
	return heard
}

// usable reports whether p can be heard at all and is made of numbers.
func usable(p analysis.Partial) bool {
	return p.Frequency >= 20 && p.Frequency <= 20000 && p.Level > -200 && p.Level < 200 &&
		p.Sigma >= 0 && p.Sigma < 1e6 && p.T60 >= 0 && p.T60 < 1e6
}

// gathered is the energy of a partial in the gathering time after the attack.
func gathered(p analysis.Partial) float64 {
	e := math.Pow(10, p.Level/10)
	if p.T60 <= 0 {
		return e
	}
	d := 2 * analysis.LnThousand / max(p.T60, 1e-3)
	return e * math.Exp(-d*attack) * (1 - math.Exp(-d*gathering)) / (d * gathering)
}

// blend reports whether the partial next, just above the members, is heard as
// one tone with them.
func blend(partials []analysis.Partial, members []int, next int) bool {
	below, q := partials[members[len(members)-1]], partials[next]
	apart := float64(q.Frequency - below.Frequency)
	if q.Frequency > 1.2*partials[members[0]].Frequency {
		return false // a cluster wider than a minor third is none
	}
	if apart < unresolved*float64(ERB(below.Frequency)) {
		return true
	}
	// Two lines that die before they have slipped by a turn are one broad
	// line, also to the ear.
	if q.T60 <= 0 {
		return false
	}
	energy, decay := 0.0, 0.0
	for _, i := range members {
		if partials[i].T60 <= 0 {
			return false
		}
		e := gathered(partials[i])
		energy += e
		decay += e * analysis.LnThousand / partials[i].T60 // nepers a second
	}
	mine, its := decay/energy, analysis.LnThousand/q.T60
	return energy > 0 && mine < 3*its && its < 3*mine && apart < (mine+its)/2
}

func blended(partials []analysis.Partial, members []int) tone {
	t := tone{lead: members[0]}
	best := -1.0
	for _, i := range members {
		e := gathered(partials[i])
		t.energy += e
		t.f += e * float64(partials[i].Frequency)
		if e > best {
			best, t.lead = e, i
		}
	}
	lead := partials[t.lead]
	if len(members) == 1 || !(t.energy > 0) {
		t.f, t.sigma = float64(lead.Frequency), float64(lead.Sigma)
		return t
	}
	t.f /= t.energy
	variance, spread := 0.0, 0.0
	for _, i := range members {
		p := partials[i]
		share := gathered(p) / t.energy
		c := float64(p.Frequency.Above(analysis.Hz(t.f)))
		variance += share * share * float64(p.Sigma*p.Sigma)
		spread += share * c * c
	}
	// Either of a pair may be what a listener, or a tuner's reference, goes
	// by. The middle of a cluster broader than broad is known better than its
	// width, to half of it.
	variance += min(spread, max(broad*broad, spread/4))
	t.sigma = math.Sqrt(variance)
	return t
}
