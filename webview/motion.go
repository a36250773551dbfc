package webview

import "ringwell/analysis"

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
