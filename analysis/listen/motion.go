package listen

import (
	"fmt"
	"math"
	"slices"

	"ringwell/analysis"
	"ringwell/analysis/hearing"
	"ringwell/analysis/trace"
)

const (
	// movedSigma is the sigma, in cents, of the pitch heard from which on the
	// model may be the wrong one: of a wave that moves it leaves much more.
	movedSigma = 0.3
	// glideSigma is what damped waves leave of one that glides by ten cents or
	// more: several cents in all that was tried.
	glideSigma = 1.0
	// nearHz is how near another partial must be to be the side of a wobble.
	nearHz = 20.0
	// heldStill is the least that is read anew, before a glide began.
	heldStill = 0.080
)

// moves looks whether the open strike's pitch moved while it rang, which the
// model of damped waves cannot tell, and if so says how, and measures what held
// still: the sound before a glide, the middle of a wobble.
func (e *Ear) moves(a *answer) {
	t := &e.take
	if t.whole != nil || t.held || !e.restless(a) {
		return
	}
	at := followed(a.heard, t.strike.Partials)
	from := t.strike.Partials[at].Frequency
	if g, w := e.motion(from, t.first, a.heard.Sigma); g != nil {
		e.glided(a, g)
	} else if w != nil {
		e.wobbled(a, w, at)
	}
}

// moved reports whether what seems to have been stopped only moved: the partial
// goes on beyond that moment, as loud as it should be, at another pitch.
func (e *Ear) moved(heard *analysis.Pitch) bool {
	t := &e.take
	at := e.rate.Seconds(int64(t.reading.Broke))
	for _, from := range [...]analysis.Hz{t.first, t.strike.Partials[followed(heard, t.strike.Partials)].Frequency} {
		if from <= 0 {
			continue
		}
		if tr, ok := e.follow(from); ok && !e.follower.Still() && !tr.Breaks(at) {
			return true
		}
	}
	return false
}

// follow follows a partial of the open strike.
func (e *Ear) follow(from analysis.Hz) (trace.Trace, bool) {
	if e.follower == nil {
		e.follower = trace.New(e.rate)
	}
	noise := e.floorAt(2 * math.Pi * float64(from) / float64(e.rate))
	if e.room.psd == nil {
		noise = max(noise, power(e.before)) // too much rather than too little: it ends sooner
	}
	return e.follower.Follow(e.take.sound, from, noise)
}

// restless reports whether the last reading leaves room for a pitch that moves.
func (e *Ear) restless(a *answer) bool {
	t := &e.take
	if a.heard == nil || len(t.strike.Partials) == 0 {
		return false
	}
	if float64(a.heard.Sigma) > movedSigma || t.reading.Broke > 0 {
		return true
	}
	for i, p := range t.strike.Partials {
		if i != a.heard.Partial && math.Abs(float64(p.Frequency-a.heard.Frequency)) < nearHz {
			return true
		}
	}
	return false
}

// followed returns the partial a pitch is followed by: that it rests on, else
// the strongest.
func followed(p *analysis.Pitch, partials []analysis.Partial) int {
	if p.Partial >= 0 {
		return p.Partial
	}
	best := 0
	for i, p := range partials {
		if p.Level > partials[best].Level {
			best = i
		}
	}
	return best
}

// motion follows the partial at a frequency, and if it is not there all along,
// from where the first reading heard it.
func (e *Ear) motion(now, first analysis.Hz, sigma analysis.Cents) (*trace.Glide, *trace.Wobble) {
	for _, from := range [...]analysis.Hz{first, now} {
		if from <= 0 {
			continue
		}
		tr, ok := e.follow(from)
		if !ok || e.follower.Still() {
			continue
		}
		if w, ok := tr.Wobble(); ok {
			return nil, &w
		}
		// Of a near pair one mode may outlive the other, which looks like a
		// glide; but two damped waves explain that, and leave no such sigma.
		if g, ok := tr.Glide(); ok && float64(sigma) > glideSigma {
			return &g, nil
		}
	}
	return nil, nil
}

func (e *Ear) glided(a *answer, g *trace.Glide) {
	t := &e.take
	t.strike.Glide = &analysis.Glide{
		From: g.From, To: g.To, Sigma: g.Sigma,
		Begin: g.Begin, End: g.End, Rate: g.Rate(),
	}
	remarks := withoutDamped(t.reading.Remarks)
	if n := int(g.Begin * float64(e.rate)); g.Begin >= heldStill && n <= len(t.sound) {
		e.estimator.Begin(e.background())
		if r := e.estimator.Grow(t.sound[:n]); r.Pitched && len(r.Partials) > 0 {
			t.reading = r
			t.strike.Partials, t.strike.Used = r.Partials, g.Begin
			a.heard, a.second = hearing.Heard(r.Partials, e.options.Kind)
		}
	} else if a.heard.Partial >= 0 {
		moved := *a.heard
		moved.Frequency, moved.Sigma = g.From, g.Sigma
		a.heard = &moved
	}
	verb := "rises"
	if g.Cents < 0 {
		verb = "sinks"
	}
	t.reading.Remarks = append(remarks, analysis.Remark{Code: analysis.RemarkGlide, Words: fmt.Sprintf("the pitch %s from %.1f to %.1f Hz, %.0f cents a second", verb, g.From, g.To, math.Abs(g.Rate()))})
}

func (e *Ear) wobbled(a *answer, w *trace.Wobble, at int) {
	t := &e.take
	t.strike.Wobble = &analysis.Wobble{
		Rate: w.Rate, SigmaRate: w.SigmaRate, Still: w.Still, SigmaStill: w.SigmaStill,
		Depth: w.Depth, SigmaDepth: w.SigmaDepth, DepthDB: w.DepthDB,
	}
	// Its sides were taken for partials of their own.
	reach := analysis.Hz(3*w.Rate) + w.Still*analysis.Hz(math.Expm1(float64(w.Depth)/analysis.CentsPerNeper))
	kept := t.strike.Partials[at]
	kept.Frequency, kept.Sigma = w.Still, w.SigmaStill
	kept.Pair, kept.Beat, kept.SigmaBeat = 0, 0, 0
	partials := slices.DeleteFunc(slices.Clone(t.strike.Partials), func(p analysis.Partial) bool {
		return math.Abs(float64(p.Frequency-w.Still)) <= float64(reach)
	})
	to, _ := slices.BinarySearchFunc(partials, w.Still, func(p analysis.Partial, f analysis.Hz) int {
		if p.Frequency < f {
			return -1
		}
		return 1
	})
	partials = slices.Insert(partials, to, kept)
	for i := range partials {
		if alone(partials, i) {
			partials[i].Pair, partials[i].Beat, partials[i].SigmaBeat = 0, 0, 0
		}
	}
	if heard, second := hearing.Heard(partials, e.options.Kind); heard != nil {
		t.strike.Partials = partials
		a.heard, a.second = heard, second
	}
	words := fmt.Sprintf("it wobbles %.1f times a second, %.0f cents to either side", w.Rate, w.Depth)
	if w.Depth < 1 {
		words = fmt.Sprintf("it wobbles %.1f times a second, %.0f dB to either side", w.Rate, w.DepthDB)
	}
	t.reading.Remarks = append(withoutDamped(t.reading.Remarks), analysis.Remark{Code: analysis.RemarkWobble, Words: words})
}

// alone reports whether a member of a pair has lost its mate.
func alone(partials []analysis.Partial, i int) bool {
	for j, p := range partials {
		if j != i && p.Pair == partials[i].Pair {
			return false
		}
	}
	return partials[i].Pair != 0
}

// withoutDamped leaves out that something stopped the ring: a wave that moves
// leaves its model just so.
func withoutDamped(remarks []analysis.Remark) []analysis.Remark {
	return slices.DeleteFunc(slices.Clone(remarks), func(r analysis.Remark) bool { return r.Code == analysis.RemarkDamped })
}
