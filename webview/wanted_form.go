package webview

import (
	"time"
	"unicode"
	"unicode/utf8"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
	"ringwell/analysis/wanted"
)

// Wanted is the list of what is hunted for. Its text is what package
// analysis/wanted documents.
type Wanted struct {
	Revision int           `json:"revision"` // one more with every change
	Text     string        `json:"text"`     // as it would be typed
	Places   []WantedPlace `json:"places"`   // in the order of the lines
	Errors   []WantedError `json:"errors"`   // lines of the text that cannot be read
	Undo     int           `json:"undo"`     // how many changes can be taken back
	Notice   *string       `json:"notice"`   // what is wrong with keeping it, in words
}

// The states of a place.
const (
	placeOpen   = "open"   // more are to be found
	placeFilled = "filled" // as many as are wanted; a better one is still a yes
	placeTicked = "ticked" // the player says it is done
)

// WantedPlace is one line of the list.
type WantedPlace struct {
	ID        string        `json:"id"`
	Line      int           `json:"line"` // of the text, from 1
	Text      string        `json:"text"` // that line
	Name      string        `json:"name"` // what it is called in a sentence
	Note      *string       `json:"note"` // as it is spelt; null for a frequency
	MIDI      *int          `json:"midi"`
	Target    float64       `json:"target_hz"` // bent
	Quarters  int           `json:"quarters"`  // quarter-tones beside the note: -3, -1, 0, 1 or 3
	Bend      float64       `json:"bend_cents"`
	Tolerance float64       `json:"tolerance_cents"` // the session's where the line says none
	Kind      analysis.Kind `json:"kind"`            // unknown: any
	Count     int           `json:"count"`
	State     string        `json:"state"` // open, filled or ticked
	Fills     []WantedFill  `json:"fills"`
}

// WantedFill is an object found for a place.
type WantedFill struct {
	Strike    string        `json:"strike"` // its ID
	Frequency float64       `json:"frequency_hz"`
	Sigma     *float64      `json:"sigma_cents"`
	Cents     float64       `json:"cents"` // above target_hz; negative is below
	Kind      analysis.Kind `json:"kind"`  // what was said to be in the hand
	Name      *string       `json:"name"`
	Found     *string       `json:"found"` // UTC
	Sound     bool          `json:"sound"` // GET /api/strikes/ID.wav has it
}

// WantedError is a line that cannot be read.
type WantedError struct {
	Line   int    `json:"line"`   // of the text, from 1
	Column int    `json:"column"` // in code points, from 1
	Length int    `json:"length"` // in code points
	Words  string `json:"words"`  // what is wrong, and what to write instead
}

// Verdict is a strike held against the wanted list, by the rule of package
// analysis/wanted.
type Verdict struct {
	Answer wanted.Answer `json:"answer"` // yes, nearly or not-wanted
	Reason wanted.Reason `json:"reason"` // a code
	Place  *string       `json:"place"`  // ID of the place it is about
	Name   *string       `json:"name"`   // of that place

	Cents     *float64 `json:"cents"`           // above that place; null where there is none
	Sigma     *float64 `json:"sigma_cents"`     // of cents, the input's clock included
	Tolerance *float64 `json:"tolerance_cents"` // it was held against
	Chance    *float64 `json:"chance"`          // that it truly lies within

	Beats *string       `json:"beats"` // ID of the strike that fills the place and is worse
	Guess *Guess        `json:"guess"` // what would bring it there, by its kind alone
	Other *OtherVerdict `json:"other"` // the second pitch

	Words string `json:"words"` // all that, in English
}

// Guess is what is usually done with objects of a kind to bring one to a place.
type Guess struct {
	Means  wanted.Means `json:"means"`  // water, pour-out, cut, load, slacken, tighten or shade
	Likely bool         `json:"likely"` // within what is usually reached; else only perhaps
}

// OtherVerdict is a pitch that some will hear instead.
type OtherVerdict struct {
	Frequency  float64 `json:"frequency_hz"`
	Likelihood float64 `json:"likelihood"`
	Place      *string `json:"place"` // ID of the place it would fit
}

// wantedForm is the list as the pages see it. Callers hold mu.
func (s *Server) wantedForm() Wanted {
	h := &s.hunt
	out := Wanted{Revision: h.revision, Text: h.list.String(), Places: []WantedPlace{}, Errors: []WantedError{}, Undo: len(h.undo), Notice: h.notice}
	line := 0
	for _, p := range h.list.Places {
		line += len(p.Above) + 1
		form := placeForm(p, s.in, s.session.usual())
		form.Line = line
		for i, f := range p.Fills {
			if e := s.trail.find(f.Strike); e != nil && e.sound != nil || h.stored[f.Strike] {
				form.Fills[i].Sound = true
			}
		}
		out.Places = append(out.Places, form)
	}
	for _, f := range h.faults {
		out.Errors = append(out.Errors, WantedError{f.Line, f.Column, f.Length, sentenceCase(f.Words) + "."})
	}
	return out
}

func placeForm(p wanted.Place, in instrument.Instrument, usual analysis.Cents) WantedPlace {
	out := WantedPlace{
		ID: p.ID, Text: p.Spec.String(), Name: p.Spec.Name(), Target: round(p.Target(in), placesHz),
		Quarters: p.Quarters, Bend: round(p.Bend, placesCents), Tolerance: round(p.Tolerance, placesCents),
		Kind: p.Kind, Count: p.Count, State: placeOpen, Fills: []WantedFill{},
	}
	if p.Label != "" {
		out.Note, out.MIDI = &p.Label, &p.Key
	}
	if p.Tolerance == 0 {
		out.Tolerance = round(usual, placesCents)
	}
	switch {
	case p.Ticked:
		out.State = placeTicked
	case !p.Open():
		out.State = placeFilled
	}
	for _, f := range p.Fills {
		fill := WantedFill{
			Strike: f.Strike, Frequency: round(f.Heard, placesHz), Sigma: known(f.Sigma, placesCents, f.Sigma >= 0),
			Cents: round(p.Away(f.Heard, in), placesCents), Kind: f.Kind,
		}
		if f.Name != "" {
			fill.Name = &f.Name
		}
		if !f.Found.IsZero() {
			t := f.Found.UTC().Round(time.Microsecond).Format(wireTime)
			fill.Found = &t
		}
		out.Fills = append(out.Fills, fill)
	}
	return out
}

// VerdictForm returns the form of a strike held against a list; nil where the
// list is empty.
func VerdictForm(strike analysis.Strike, list *wanted.List, kind analysis.Kind, in instrument.Instrument, usual analysis.Cents) *Verdict {
	if len(list.Places) == 0 {
		return nil
	}
	v := list.Hold(wanted.HandOf(strike, kind), in, usual)
	out := &Verdict{Answer: v.Answer, Reason: v.Reason, Words: list.Words(v, in.Reference)}
	if v.Place >= 0 {
		p := list.Places[v.Place]
		name := p.Name()
		out.Place, out.Name = &p.ID, &name
		out.Cents, out.Sigma = known(v.Cents, placesCents, true), known(v.Sigma, placesCents, true)
		out.Tolerance, out.Chance = known(v.Within, placesCents, true), known(v.Chance, placesShare, true)
		if v.Beats >= 0 {
			out.Beats = &p.Fills[v.Beats].Strike
		}
	}
	if v.Guess != nil {
		out.Guess = &Guess{v.Guess.Means, v.Guess.Likely}
	}
	if v.Other != nil {
		out.Other = &OtherVerdict{Frequency: round(v.Other.Frequency, placesHz), Likelihood: round(v.Other.Likelihood, placesShare)}
		if v.Other.Place >= 0 {
			out.Other.Place = &list.Places[v.Other.Place].ID
		}
	}
	return out
}

// sentenceCase begins words with a capital.
func sentenceCase(words string) string {
	r, n := utf8.DecodeRuneInString(words)
	return string(unicode.ToUpper(r)) + words[n:]
}
