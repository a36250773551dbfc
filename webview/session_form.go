package webview

import "ringwell/analysis"

// Session is what every page shares: the ear, the instrument and the aim. It
// belongs to the daemon; the last change wins, and every page is told.
type Session struct {
	Revision  int           `json:"revision"` // one more with every change
	Source    Source        `json:"source"`
	Kind      analysis.Kind `json:"kind"` // what the player says is in the hand
	Reference float64       `json:"reference_hz"`

	Instrument string  `json:"instrument"`
	Aim        bool    `json:"aim"`             // false: the page only names
	Target     *int    `json:"target"`          // the MIDI note aimed at; null: whichever is nearest
	Bend       float64 `json:"bend_cents"`      // how far beside the note, on purpose
	Tolerance  float64 `json:"tolerance_cents"` // how near is near enough

	Frozen   bool    `json:"frozen"` // the pages stay with one strike
	FrozenID *string `json:"frozen_id"`

	Purpose Purpose `json:"purpose"` // what strikes are for at the moment
	Tone    Tone    `json:"tone"`
	Muted   bool    `json:"muted"`  // the ear does not listen while the tone sounds
	Notice  *string `json:"notice"` // what is wrong with keeping the session, in words
}

// Source is the choice of where sound comes from. Its name, once it is open,
// stands in State.
type Source struct {
	Choice string `json:"choice"` // one of hello's sources
	Input  string `json:"input"`  // name, or part of the name, of an input; "" for the default
}

// Purpose says what strikes are for. Other purposes than "nothing" bring
// fields of their own.
type Purpose struct {
	For string `json:"for"`
}

// Tone is the target as a sound, for the pages to play.
type Tone struct {
	On        bool     `json:"on"`
	Frequency *float64 `json:"frequency_hz"` // null while there is nothing to aim at
}

func kindNames() []string {
	names := []string{}
	for _, k := range analysis.Kinds() {
		names = append(names, string(k))
	}
	return names
}
