package webview

import (
	"ringwell/analysis"
	"ringwell/analysis/instrument"
)

// Roll says of a strike that it was many strokes, told as one: its onset is
// that of the first, and what is measured is the ring after the last.
type Roll struct {
	Strokes   int      `json:"strokes"`
	LastS     float64  `json:"last_s"` // onset of the last stroke, seconds on the source's sample clock
	Rate      *float64 `json:"rate_hz"`
	SigmaRate *float64 `json:"sigma_rate_hz"`
}

func rollForm(r *analysis.Roll, rate analysis.Rate) *Roll {
	if r == nil {
		return nil
	}
	out := &Roll{
		Strokes:   r.Strokes,
		Rate:      known(r.Rate, placesHz, r.Rate > 0),
		SigmaRate: known(r.SigmaRate, placesHz, r.Rate > 0),
	}
	if rate > 0 {
		out.LastS = round(rate.Seconds(r.Last), placesSeconds)
	}
	return out
}

// Glide says of a strike that its pitch moved while it rang.
type Glide struct {
	From      float64  `json:"from_hz"`
	To        float64  `json:"to_hz"`
	Sigma     *float64 `json:"sigma_cents"` // of the interval between them
	BeginS    float64  `json:"begin_s"`     // after the onset
	EndS      float64  `json:"end_s"`
	Rate      float64  `json:"cents_per_s"` // negative where it sinks
	FromPlace *Place   `json:"from_landing"`
	ToPlace   *Place   `json:"to_landing"`
}

func glideForm(g *analysis.Glide, in instrument.Instrument) *Glide {
	if g == nil || !sounds(g.From) || !sounds(g.To) {
		return nil
	}
	return &Glide{
		From: round(g.From, placesHz), To: round(g.To, placesHz), Sigma: known(g.Sigma, placesCents, true),
		BeginS: round(g.Begin, placesSeconds), EndS: round(g.End, placesSeconds), Rate: round(g.Rate, placesDB),
		FromPlace: placeOf(g.From, in), ToPlace: placeOf(g.To, in),
	}
}

// Wobble says of a strike that pitch or level swung slowly while it rang.
type Wobble struct {
	Rate       *float64 `json:"rate_hz"`
	SigmaRate  *float64 `json:"sigma_rate_hz"`
	Still      float64  `json:"still_hz"` // between the swings
	SigmaStill *float64 `json:"sigma_still_cents"`
	Depth      *float64 `json:"depth_cents"` // to either side
	SigmaDepth *float64 `json:"sigma_depth_cents"`
	DepthDB    *float64 `json:"depth_db"`
}

func wobbleForm(w *analysis.Wobble) *Wobble {
	if w == nil || !sounds(w.Still) {
		return nil
	}
	return &Wobble{
		Rate: known(w.Rate, placesHz, w.Rate > 0), SigmaRate: known(w.SigmaRate, placesHz, w.Rate > 0),
		Still: round(w.Still, placesHz), SigmaStill: known(w.SigmaStill, placesCents, true),
		Depth: known(w.Depth, placesCents, true), SigmaDepth: known(w.SigmaDepth, placesCents, true),
		DepthDB: known(w.DepthDB, placesDB, true),
	}
}
