package listen

import (
	"math"
	"slices"

	"ringwell/analysis"
	"ringwell/analysis/partial"
)

const (
	mostComponents = 192 // taken out at once; beyond that the oldest rings are let go
	longestT60     = 25  // seconds: what rings longer was no ring but the room
	restSeconds    = 2.5
	leastStretch   = 0.020 // seconds of background between blows that say anything
	lostOver       = 2.0   // times the sound the rings may leave of it, and ...
	lostShare      = 0.1   // ... of their own power, before they are given up
)

// ring is what an earlier strike is predicted to sound like, with the sign
// turned so that adding it takes it out.
type ring struct {
	onset      int64
	until      int64 // where it was stopped: no longer than that is it taken out
	components []partial.Component
}

// rings keeps the earlier strikes and the sound without them.
type rings struct {
	rate  analysis.Rate
	list  []ring
	rest  history // the sound without rings, as far as it is known: up to the open strike
	clear []span  // stretches of it that hold the noise of a blow
	work  []float64
}

type span struct{ from, to int64 }

func newRings(rate analysis.Rate) *rings {
	return &rings{
		rate: rate,
		rest: newHistory(int((restSeconds + 0.5) * float64(rate))),
		work: make([]float64, 4096),
	}
}

func (r *rings) reset(at int64) {
	r.list, r.clear = r.list[:0], r.clear[:0]
	r.rest.clear(at)
}

// add takes the ring of a strike into account from its onset on, until it was
// stopped.
func (r *rings) add(onset, until int64, model []partial.Component) {
	var turned []partial.Component
	slowest := analysis.LnThousand / (longestT60 * float64(r.rate))
	for _, c := range model {
		c.Amp, c.Decay = -c.Amp, max(c.Decay, slowest)
		turned = append(turned, c)
	}
	if len(turned) > 0 {
		r.list = append(r.list, ring{onset, until, turned})
	}
}

// prune lets go of what has sunk into the background at a moment: of what a
// second could no longer show, a quarter of its squared amplitude times the
// samples of a second being under the background's power.
func (r *rings) prune(at int64, floor func(omega float64) float64) {
	faint := func(n float64, c partial.Component) bool {
		a := real(c.Amp)*real(c.Amp) + imag(c.Amp)*imag(c.Amp)
		return a*math.Exp(-2*c.Decay*n)*float64(r.rate)/4 < floor(c.Omega)
	}
	total := 0
	for i := range r.list {
		g := &r.list[i]
		if g.until <= at {
			g.components = nil
		}
		n := float64(at - g.onset)
		g.components = slices.DeleteFunc(g.components, func(c partial.Component) bool { return faint(n, c) })
		total += len(g.components)
	}
	for i := 0; total > mostComponents && i < len(r.list); i++ { // the oldest first
		total -= len(r.list[i].components)
		r.list[i].components = nil
	}
	r.list = slices.DeleteFunc(r.list, func(g ring) bool { return len(g.components) == 0 })
}

// takeOut removes the rings from x, whose first sample has index at.
func (r *rings) takeOut(x []float64, at int64) {
	for _, g := range r.list {
		if n := min(int64(len(x)), g.until-at); n > 0 {
			partial.Render(x[:n], int(at-g.onset), g.components)
		}
	}
}

// advance makes the sound without rings known up to a moment.
func (r *rings) advance(sound *history, to int64) {
	// What lies further back than anybody asks for is left out.
	if from := max(sound.from, to-int64((restSeconds+0.1)*float64(r.rate))); r.rest.to < from {
		r.rest.clear(from)
	}
	for r.rest.to < to {
		x := r.work[:min(int64(len(r.work)), to-r.rest.to)]
		sound.copy(x, r.rest.to)
		there := power(x)
		r.takeOut(x, r.rest.to)
		if left := power(x); left > lostOver*there && left > lostShare*r.predicted(r.rest.to) {
			r.list = r.list[:0]
			sound.copy(x, r.rest.to)
		}
		r.rest.push(x)
	}
}

// predicted is the power of the rings at a moment, each component by itself: no
// beat makes it less. Rings that leave more than there was, and not by the
// little that a beat's quietest moment shows, have nothing to do with the sound
// any more. Amid talk and clatter, where noise is taken for rings, amplitudes
// that cancel would otherwise grow from strike to strike until nothing else is
// heard.
func (r *rings) predicted(at int64) float64 {
	p := 0.0
	for _, g := range r.list {
		if g.until <= at {
			continue
		}
		for _, c := range g.components {
			a := real(c.Amp)*real(c.Amp) + imag(c.Amp)*imag(c.Amp)
			p += a / 2 * math.Exp(-2*c.Decay*float64(at-g.onset))
		}
	}
	return p
}

// blow marks a stretch in which a blow was heard: no part of the background.
func (r *rings) blow(from, to int64) {
	r.clear = append(r.clear, span{from, to})
	old := r.rest.to - int64(restSeconds*float64(r.rate)) - int64(r.rate)
	r.clear = slices.DeleteFunc(r.clear, func(s span) bool { return s.to < old })
}

// before appends to dst the last 2.5 s before a moment, without rings and
// blows.
func (r *rings) before(dst []float64, at int64) []float64 {
	from := max(r.rest.from, at-int64(restSeconds*float64(r.rate)))
	for from < at {
		to, skip := at, false
		for _, s := range r.clear {
			if s.from <= from && from < s.to {
				to, skip = min(at, s.to), true
				break
			}
			if from < s.from {
				to = min(to, s.from)
			}
		}
		if !skip && to-from >= int64(leastStretch*float64(r.rate)) {
			n := len(dst)
			dst = dst[:n+int(to-from)]
			r.rest.copy(dst[n:], from)
		}
		from = to
	}
	return dst
}
