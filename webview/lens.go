package webview

import (
	"ringwell/analysis"
	"ringwell/analysis/instrument"
	"ringwell/analysis/wanted"
)

// lens is how strikes are seen at a moment: through which instrument and aim,
// and against which wanted list. Nothing in it changes afterwards.
type lens struct {
	in     instrument.Instrument
	aim    instrument.Aim
	list   wanted.List
	usual  analysis.Cents
	stored map[string]bool
}

// lens is today's. Callers hold mu.
func (s *Server) lens() lens {
	return lens{s.in, s.session.aim(), s.hunt.list, s.session.usual(), s.hunt.stored}
}

// form is a strike of the trail, seen through l.
func (l lens) form(e entry) Strike {
	form := StrikeForm(e.strike, l.in, l.aim)
	form.Pinned = e.pinned
	form.Name, form.Sound = e.name, e.sound != nil || l.stored[e.strike.ID]
	form.Recognised, form.Kept, form.Health = e.recognised, e.kept, e.health
	if e.strike.Stage != analysis.Withdrawn {
		form.Verdict = VerdictForm(e.strike, &l.list, e.kind, l.in, l.usual)
	}
	return form
}
