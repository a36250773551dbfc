package webview

import (
	"encoding/json"
	"net/http"
	"slices"
	"strings"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
)

// What a session takes. Chosen: a bend past a semitone is another note, and a
// tolerance under half a cent is finer than two strikes agree.
const (
	bendLimit     = 100 // cents, either way
	toleranceLow  = 0.5 // cents
	toleranceHigh = 100 // cents
)

// forNothing is the purpose of strikes while no other has been set.
const forNothing = "nothing"

// defaultSession is the session of a first start.
func defaultSession(sources []string) Session {
	s := Session{
		Kind: analysis.Unknown, Instrument: instrument.Default, Reference: float64(instrument.StandardReference),
		Aim: true, Tolerance: 10, Purpose: Purpose{forNothing},
	}
	if len(sources) > 0 {
		s.Source.Choice = sources[0]
	}
	return s
}

// Change is a change of the session, as PATCH /api/session takes it: a field
// that is nil stays as it is.
type Change struct {
	Instrument *string        `json:"instrument"`
	Reference  *float64       `json:"reference_hz"`
	Aim        *bool          `json:"aim"`
	Target     Key            `json:"target"`
	Bend       *float64       `json:"bend_cents"`
	Tolerance  *float64       `json:"tolerance_cents"`
	Kind       *analysis.Kind `json:"kind"`
	Frozen     *bool          `json:"frozen"`
	FrozenID   *string        `json:"frozen_id"`
	Purpose    *Purpose       `json:"purpose"`
}

// Key is a MIDI note that may be left alone (the zero Key), taken away (Set
// and no Note) or set.
type Key struct {
	Set  bool
	Note *int
}

// UnmarshalJSON reads a number or null.
func (k *Key) UnmarshalJSON(b []byte) error {
	k.Set, k.Note = true, nil
	return json.Unmarshal(b, &k.Note)
}

// with returns the session after a change, or a *Refusal. It knows neither the
// instruments nor the strikes there are: Server.Change holds it against those.
func (s Session) with(c Change) (Session, error) {
	if c.Instrument != nil {
		s.Instrument = *c.Instrument
	}
	if c.Reference != nil {
		if err := instrument.CheckReference(analysis.Hz(*c.Reference)); err != nil {
			return s, refuse(http.StatusUnprocessableEntity, "reference_hz", "The reference pitch must lie between %d and %d Hz.", instrument.ReferenceLow, instrument.ReferenceHigh)
		}
		s.Reference = *c.Reference
	}
	if c.Aim != nil {
		s.Aim = *c.Aim
	}
	if c.Target.Set {
		if k := c.Target.Note; k != nil && (*k < instrument.LowestKey || *k > instrument.HighestKey) {
			return s, refuse(http.StatusUnprocessableEntity, "target", "The target must be a MIDI note from %d to %d, or null.", instrument.LowestKey, instrument.HighestKey)
		}
		s.Target = c.Target.Note
	}
	if c.Bend != nil {
		if !(*c.Bend >= -bendLimit && *c.Bend <= bendLimit) {
			return s, refuse(http.StatusUnprocessableEntity, "bend_cents", "The bend must lie between %d cents low and %d cents high.", bendLimit, bendLimit)
		}
		s.Bend = *c.Bend
	}
	if c.Tolerance != nil {
		if !(*c.Tolerance >= toleranceLow && *c.Tolerance <= toleranceHigh) {
			return s, refuse(http.StatusUnprocessableEntity, "tolerance_cents", "The tolerance must lie between %g and %d cents.", toleranceLow, toleranceHigh)
		}
		s.Tolerance = *c.Tolerance
	}
	if c.Kind != nil {
		if !slices.Contains(analysis.Kinds(), *c.Kind) {
			return s, refuse(http.StatusUnprocessableEntity, "kind", "There is no kind %q; there are: %s.", *c.Kind, strings.Join(kindNames(), ", "))
		}
		s.Kind = *c.Kind
	}
	if c.Purpose != nil {
		if c.Purpose.For != forNothing {
			return s, refuse(http.StatusUnprocessableEntity, "purpose", "Strikes cannot be for %q; they can be for %q.", c.Purpose.For, forNothing)
		}
		s.Purpose = *c.Purpose
	}
	return s.frozenBy(c), nil
}

func (s Session) frozenBy(c Change) Session {
	if c.FrozenID != nil {
		s.FrozenID = c.FrozenID
	}
	if c.Frozen != nil {
		s.Frozen = *c.Frozen
	}
	if !s.Frozen {
		s.FrozenID = nil
	}
	return s
}

// aim is what strikes are held against.
func (s Session) aim() instrument.Aim {
	if !s.Aim {
		return instrument.Aim{}
	}
	return instrument.Aim{Key: s.Target, Bend: analysis.Cents(s.Bend), Tolerance: analysis.Cents(s.Tolerance)}
}

// sameLandings reports whether strikes land alike in both sessions.
func (s Session) sameLandings(o Session) bool {
	sameTarget := (s.Target == nil) == (o.Target == nil) && (s.Target == nil || *s.Target == *o.Target)
	return s.sameNotes(o) && s.Aim == o.Aim && sameTarget && s.Bend == o.Bend && s.Tolerance == o.Tolerance
}

// sameNotes reports whether the posts stand alike in both sessions.
func (s Session) sameNotes(o Session) bool {
	return s.Instrument == o.Instrument && s.Reference == o.Reference
}
