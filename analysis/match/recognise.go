package match

import (
	"cmp"
	"math"
	"slices"

	"ringwell/analysis"
)

// Voice is what a strike is held against.
type Voice struct {
	ID, Object string
	Strikes    int
	Modes      []Mode // by frequency
}

// Candidate is a voice that a strike may be.
type Candidate struct {
	ID, Object string
	Share      float64        // of the belief, 0..1
	Shift      analysis.Cents // how far the whole strike lies above the voice
	Sigma      analysis.Cents // of Shift
	Matched    int            // how many of the strike's partials are the voice's
}

// Verdict says which voice a strike is.
type Verdict struct {
	// Candidates: one where only one fits, two where two do, none where it is
	// new; the likeliest first.
	Candidates []Candidate
	// New is the share of the belief that it is on no shelf.
	New float64
}

// The model. A strike of a voice shows each of its modes with a probability
// that falls with the mode's level; each lies where the voice's does, beside
// one shift of the whole; beside them a strike may show partials of the room,
// the support and the beater. A strike of something new shows partials
// anywhere, but things of one kind are alike: with apart at 6000, which is
// anywhere, one in twenty strangers of a known thing's family was named. All
// figures by trial on synthetic shelves.
const (
	wholeShift   = 7.0        // cents, one sigma of the shift of the whole: temperature, filling
	onceSpread   = 3.0        // cents, a mode's own spread where it was seen once
	leastSpread  = 1.0        // cents, below which no spread is believed
	levelSpread  = 8.0        // dB: another beater, another hand
	ringSpread   = 0.35       // of ln T60: another hold
	apart        = 600.0      // cents over which the partials of a stranger lie beside those of a known thing
	levels       = 50.0       // dB over which its levels may lie
	rings        = 4.0        // of ln T60 over which its rings may lie
	strayLoud    = 0.03       // probability of a partial that is not the voice's, at 0 dB
	strayFaint   = 0.4        // and at -40 dB
	shownLoud    = 0.97       // probability that a mode shows, at 0 dB
	shownFaint   = 0.3        // and at -40 dB
	priorNew     = 0.3        // that a strike is of nothing on the shelf
	enough       = 0.95       // share of the belief that names
	doubt        = 0.02       // belief in something new above which nothing is named
	reach        = 60.0       // cents beyond which two partials are not held together
	leastMatched = 2          // partials, or all where there are fewer, without which nothing is named
	halfLn2Pi    = 0.91893853 // ln(2π)/2
)

// Recogniser holds strikes against voices. It may be used by one goroutine at
// a time.
type Recogniser struct {
	voices []Voice
	align  aligner
	scores []score
}

// NewRecogniser returns a recogniser of voices, which it keeps.
func NewRecogniser(voices []Voice) *Recogniser { return &Recogniser{voices: voices} }

type score struct {
	voice    int
	evidence float64 // ln of the Bayes factor against a stranger
	shift    float64
	unsure   float64 // of shift
	matched  int
}

// finalists is how many voices are looked at closely, with their own shift.
const finalists = 40

// Recognise says which voice a strike with these partials, by frequency, is.
// A strike without partials is new.
func (r *Recogniser) Recognise(partials []analysis.Partial) Verdict {
	r.scores = r.scores[:0]
	if len(partials) == 0 {
		return Verdict{New: 1}
	}
	for v := range r.voices {
		if !mayMatch(partials, r.voices[v].Modes) {
			continue
		}
		if s := r.hold(partials, v, 0, wholeShift); s.matched > 0 {
			r.scores = append(r.scores, s)
		}
	}
	slices.SortFunc(r.scores, func(a, b score) int { return cmp.Compare(b.evidence, a.evidence) })
	near := r.scores[:min(len(r.scores), finalists)]
	for i := range near {
		near[i] = r.closely(partials, near[i])
	}
	return r.judge(near, len(partials))
}

// mayMatch reports whether enough partials lie near modes for the voice to be
// named at all: within reach and a shift of 20 cents. Most voices of a large
// shelf end here.
func mayMatch(partials []analysis.Partial, modes []Mode) bool {
	need := min(leastMatched, len(partials))
	j := 0
	for i := range modes {
		f := modes[i].Frequency
		for j < len(partials) && partials[j].Frequency < f*0.955 {
			j++
		}
		if j < len(partials) && partials[j].Frequency <= f*1.047 {
			if need--; need == 0 {
				return true
			}
		}
	}
	return false
}

// hold aligns a strike with a voice whose partials all lie shift cents higher
// than before, give or take unsure.
func (r *Recogniser) hold(partials []analysis.Partial, v int, shift, unsure float64) score {
	modes := r.voices[v].Modes
	gain := func(i, j int) float64 { return gainOf(&modes[i], &partials[j], r.voices[v].Strikes, shift, unsure) }
	s := score{voice: v, shift: shift}
	pairs := r.align.align(len(modes), len(partials), gain)
	for _, p := range pairs {
		s.evidence += gain(p.i, p.j)
	}
	s.matched = len(pairs)
	for i := range modes {
		s.evidence += math.Log1p(-shown(&modes[i], r.voices[v].Strikes))
	}
	for j := range partials {
		s.evidence += math.Log(stray(partials[j].Level))
	}
	return s
}

// closely looks for the shift of the whole and holds them together with it.
func (r *Recogniser) closely(partials []analysis.Partial, s score) score {
	modes := r.voices[s.voice].Modes
	shift, narrow := s.shift, wholeShift
	var left float64
	for range 3 {
		sum, weight := 0.0, 1/(wholeShift*wholeShift)
		pairs := r.align.align(len(modes), len(partials), func(i, j int) float64 {
			return gainOf(&modes[i], &partials[j], r.voices[s.voice].Strikes, shift, narrow)
		})
		for _, p := range pairs {
			w := 1 / sigma2(&modes[p.i], &partials[p.j])
			sum += w * float64(partials[p.j].Frequency.Above(modes[p.i].Frequency))
			weight += w
		}
		shift, left, narrow = sum/weight, 1/math.Sqrt(weight), 0
	}
	out := r.hold(partials, s.voice, shift, 0)
	out.unsure = left
	out.evidence += math.Log(left/wholeShift) - shift*shift/(2*wholeShift*wholeShift)
	return out
}

// sigma2 is the variance of where a strike's partial lies beside a mode, in
// square cents, but for the shift of the whole.
func sigma2(m *Mode, p *analysis.Partial) float64 {
	own := float64(m.Spread)
	if m.Seen < 2 {
		own = onceSpread
	} else if m.Seen < 10 { // a spread of few strikes is itself not well known
		own = math.Hypot(own, onceSpread/float64(m.Seen))
	}
	own = max(own, leastSpread)
	return own*own + float64(p.Sigma*p.Sigma)
}

// gainOf is by how much the evidence grows when a partial is a mode's, against
// both standing alone.
func gainOf(m *Mode, p *analysis.Partial, strikes int, shift, unsure float64) float64 {
	ratio := float64(p.Frequency / m.Frequency)
	if ratio < 0.94 || ratio > 1.06 { // far beyond reach, without a logarithm
		return 0
	}
	d := float64(p.Frequency.Above(m.Frequency)) - shift
	if math.Abs(d) > reach {
		return 0
	}
	g := gauss(d, math.Sqrt(sigma2(m, p)+unsure*unsure)) + math.Log(apart)
	g += gauss(p.Level-m.Level, math.Hypot(levelSpread, m.SpreadLevel)) + math.Log(levels)
	if p.T60 > 0 && m.T60 > 0 {
		g += gauss(math.Log(p.T60/m.T60), math.Hypot(ringSpread, m.SpreadT60)) + math.Log(rings)
	}
	q := shown(m, strikes)
	return g + math.Log(q) - math.Log1p(-q) - math.Log(stray(p.Level))
}

func gauss(d, sigma float64) float64 {
	z := d / sigma
	return -z*z/2 - math.Log(sigma) - halfLn2Pi
}

// shown is the probability that a mode shows in a strike: by its level, and by
// how often it did.
func shown(m *Mode, strikes int) float64 {
	q := between(m.Level, shownLoud, shownFaint)
	const weight = 4 // strikes that the level is worth
	return min((q*weight+float64(m.Seen))/(weight+float64(max(strikes, m.Seen))), shownLoud)
}

func stray(level float64) float64 { return between(level, strayLoud, strayFaint) }

// between goes from one value at 0 dB to another at -40 dB.
func between(level, loud, faint float64) float64 {
	x := min(max(-level/40, 0), 1)
	return loud + (faint-loud)*x
}

// judge turns evidence into belief.
func (r *Recogniser) judge(near []score, partials int) Verdict {
	slices.SortFunc(near, func(a, b score) int { return cmp.Compare(b.evidence, a.evidence) })
	prior := math.Log((1 - priorNew) / float64(len(r.voices)))
	top := math.Log(priorNew)
	for _, s := range near {
		top = max(top, s.evidence+prior)
	}
	total := math.Exp(math.Log(priorNew) - top)
	for _, s := range near {
		total += math.Exp(s.evidence + prior - top)
	}
	v := Verdict{New: math.Exp(math.Log(priorNew)-top) / total}
	believed := 0.0
	for _, s := range near {
		if len(v.Candidates) == 2 || believed >= enough || s.matched < min(leastMatched, partials) {
			break
		}
		share := math.Exp(s.evidence+prior-top) / total
		if share < 1-enough {
			break
		}
		voice := &r.voices[s.voice]
		v.Candidates = append(v.Candidates, Candidate{voice.ID, voice.Object, share, analysis.Cents(s.shift), analysis.Cents(s.unsure), s.matched})
		believed += share
	}
	if v.New > doubt {
		v.Candidates = nil
	}
	return v
}
