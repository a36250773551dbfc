package webview

import (
	"ringwell/analysis"
	"ringwell/analysis/instrument"
)

// What a landing is measured from.
const (
	aimNone    = "none"    // the note itself: the page only names
	aimNearest = "nearest" // the nearest note, bent
	aimNote    = "note"    // one chosen note, bent
)

// Landing is where a pitch lies among the notes of the instrument. An object
// is never wrong: it lies where it lies.
type Landing struct {
	Instrument string  `json:"instrument"`
	Note       string  `json:"note"`    // the note it is measured from, as it sounds
	Written    *string `json:"written"` // as written for the instrument, where that differs
	MIDI       int     `json:"midi"`
	Cents      float64 `json:"cents"` // above target_hz; negative is below

	Aim       string   `json:"aim"` // none, nearest or note
	Target    float64  `json:"target_hz"`
	Bend      float64  `json:"bend_cents"`
	Tolerance *float64 `json:"tolerance_cents"` // null: no word on what is near enough
	Within    *bool    `json:"within"`          // null where tolerance_cents is

	Inside bool   `json:"inside"` // the note is one of the instrument's
	Edge   *Edge  `json:"edge"`   // where it is not: the instrument's nearest note
	Near   *Place `json:"nearest"`
}

// Edge is the note of the instrument nearest to what lies beyond its range.
type Edge struct {
	Note  string  `json:"note"`
	Cents float64 `json:"cents"` // how far above that note; negative is below
}

func landingForm(f analysis.Hz, in instrument.Instrument, aim instrument.Aim) *Landing {
	l := in.Land(f, aim)
	if l.Key < 0 {
		return nil
	}
	out := &Landing{
		Instrument: l.Instrument, Note: l.Note, MIDI: l.Key, Cents: round(l.Cents, placesCents),
		Aim: aimNone, Target: round(l.Target.Shift(aim.Bend), placesHz), Bend: round(aim.Bend, placesCents),
		Inside: l.Inside, Near: placeOf(f, in),
	}
	switch {
	case aim.Key != nil:
		out.Aim = aimNote
	case l.Aimed:
		out.Aim = aimNearest
	}
	if l.Written != "" {
		out.Written = &l.Written
	}
	if aim.Tolerance > 0 {
		out.Tolerance, out.Within = known(aim.Tolerance, placesCents, true), &l.Within
	}
	if l.Edge != "" {
		out.Edge = &Edge{l.Edge, round(l.EdgeCents, placesCents)}
	}
	return out
}

func placeOf(f analysis.Hz, in instrument.Instrument) *Place {
	l := in.Land(f, instrument.Aim{})
	if l.Key < 0 {
		return nil
	}
	return &Place{l.Note, l.Key, round(l.Cents, placesCents)}
}

// Instrument is the notes of an instrument, for the posts of the rail.
type Instrument struct {
	Name      string  `json:"name"`
	Reference float64 `json:"reference_hz"`
	Transpose int     `json:"transpose"` // sounding minus written, semitones
	Source    string  `json:"source"`    // where its range comes from
	Notes     []Note  `json:"notes"`     // by midi, ascending
}

// Note is a note of an instrument; a post stands at each of its targets.
type Note struct {
	MIDI    int       `json:"midi"`
	Label   string    `json:"label"`
	Written *string   `json:"written"` // where it differs from the label
	Targets []float64 `json:"targets_hz"`
}

func instrumentForm(in instrument.Instrument) Instrument {
	out := Instrument{
		Name: in.Name, Reference: round(in.Reference, placesHz),
		Transpose: in.Transpose, Source: in.Source, Notes: []Note{},
	}
	for _, n := range in.Notes {
		note := Note{MIDI: n.Key, Label: n.Label, Targets: []float64{}}
		if w := in.Written(n.Key); in.Transpose != 0 && w != "" {
			note.Written = &w
		}
		for _, t := range n.Targets {
			if sounds(t) {
				note.Targets = append(note.Targets, round(t, placesHz))
			}
		}
		out.Notes = append(out.Notes, note)
	}
	return out
}
