package webview

import (
	"errors"
	"math"
	"net/http"
	"slices"

	"ringwell/analysis"
	"ringwell/analysis/hearing"
)

// A pin says which partial of an object the player hears as its pitch. It is
// set on a strike and holds for all strikes of the same object, before and
// after, until it is taken away: package hearing knows the object again.
type pin struct {
	strike string // that it was set on
	hearing.Pin
}

const (
	// pinReach is how far, in cents, an object may have gone from where it was
	// pinned and still be taken for it. Chosen: what warmth and a little water
	// do; past that it is another object as often as not.
	pinReach = 100
	// pinsKept is how many objects can be pinned; the oldest pin goes first.
	// Chosen: more than one player sets up for a piece.
	pinsKept = 32
	// pinNear is how near, in cents, a partial must lie to the frequency that
	// was asked for. Chosen: half a semitone.
	pinNear = 50
)

// said is what the ear says of a strike by itself.
type said struct{ heard, second *analysis.Pitch }

// hold settles the entry's pitch: by the newest pin that knows its object, or
// as the ear says. The ear's own answer is then the second pitch, where it is
// another one.
func (e *entry) hold(pins []pin) {
	e.strike.Heard, e.strike.Second, e.pinned = e.said.heard, e.said.second, false
	if e.said.heard == nil {
		return
	}
	for _, p := range slices.Backward(pins) {
		to := p.Heard(e.strike.Partials, pinReach)
		if to == nil {
			continue
		}
		e.strike.Heard, e.pinned = to, true
		if math.Abs(float64(e.said.heard.Frequency.Above(to.Frequency))) > pinNear {
			e.strike.Second = e.said.heard
		}
		return
	}
}

// pin sets a pin on the partial of a strike that which chooses among its
// partials, and lets all strikes follow. Pins that held the object go.
func (s *Server) pin(id string, which func([]analysis.Partial) (int, error)) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	e := s.trail.find(id)
	if e == nil || e.thrown {
		return noStrike()
	}
	if e.said.heard == nil {
		return refuse(http.StatusConflict, "", "That strike has no pitch to pin.")
	}
	i, err := which(e.strike.Partials)
	if err != nil {
		return err
	}
	to, err := hearing.PinTo(e.strike.Partials, i)
	if errors.Is(err, hearing.ErrNoPartial) {
		return refuse(http.StatusUnprocessableEntity, "partial", "That partial cannot be heard, so it cannot be the pitch. Choose another.")
	}
	kept := append(s.without(e), pin{id, to})
	s.holdAll(kept[max(0, len(kept)-pinsKept):])
	return nil
}

// unpin takes away the pins that hold the object of a strike.
func (s *Server) unpin(id string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	e := s.trail.find(id)
	if e == nil || e.thrown {
		return noStrike()
	}
	s.holdAll(s.without(e))
	return nil
}

// without returns the pins that do not hold the object of e. Callers hold mu.
func (s *Server) without(e *entry) (kept []pin) {
	for _, p := range s.pins {
		if p.strike != e.strike.ID && p.Heard(e.strike.Partials, pinReach) == nil {
			kept = append(kept, p)
		}
	}
	return kept
}

// holdAll makes pins those that hold and tells the pages what changed. Callers
// hold mu.
func (s *Server) holdAll(pins []pin) {
	s.pins = pins
	for _, e := range slices.Clone(s.trail.entries) { // refill may change the trail
		e.hold(pins)
		s.refill(e)
	}
	strikes, earlier := s.latest()
	s.tell(typeTrail, trailMessage{head(typeTrail), strikes, earlier})
	s.markDirty()
}

func (s *Server) postPin(w http.ResponseWriter, r *http.Request) error {
	var want struct {
		Partial   *int     `json:"partial"`
		Frequency *float64 `json:"frequency_hz"`
	}
	if err := readBody(w, r, &want); err != nil {
		return err
	}
	if (want.Partial == nil) == (want.Frequency == nil) {
		return refuse(http.StatusUnprocessableEntity, "partial", "Say which partial is heard: {\"partial\":0} for the first of the strike's list, or {\"frequency_hz\":812.5}.")
	}
	id := r.PathValue("id")
	err := s.pin(id, func(ps []analysis.Partial) (int, error) {
		if want.Partial != nil {
			return listed(ps, *want.Partial)
		}
		return nearest(ps, analysis.Hz(*want.Frequency))
	})
	if err != nil {
		return err
	}
	return s.answerStrike(w, id)
}

func (s *Server) deletePin(w http.ResponseWriter, r *http.Request) error {
	id := r.PathValue("id")
	if err := s.unpin(id); err != nil {
		return err
	}
	return s.answerStrike(w, id)
}

// listed is the index of the nth partial that a strike's form lists.
func listed(ps []analysis.Partial, n int) (int, error) {
	shown := 0
	for i, p := range ps {
		if !sounds(p.Frequency) {
			continue
		}
		if shown == n {
			return i, nil
		}
		shown++
	}
	return 0, refuse(http.StatusUnprocessableEntity, "partial", "That strike has %d partials, counted from 0; there is no number %d.", shown, n)
}

// nearest is the index of the partial nearest to f.
func nearest(ps []analysis.Partial, f analysis.Hz) (int, error) {
	best, off := -1, float64(pinNear)
	for i, p := range ps {
		if !sounds(p.Frequency) || !sounds(f) {
			continue
		}
		if d := math.Abs(float64(p.Frequency.Above(f))); d <= off {
			best, off = i, d
		}
	}
	if best < 0 {
		return 0, refuse(http.StatusUnprocessableEntity, "frequency_hz", "That strike has no partial within %d cents of %.4g Hz.", pinNear, float64(f))
	}
	return best, nil
}
