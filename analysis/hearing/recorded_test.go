package hearing

import (
	"encoding/json"
	"os"
	"testing"

	"ringwell/analysis"
)

// recording is a real strike: what our own ear resolved it into, and what is
// heard. testdata/reference/strike-partials.md says where they come from.
type recording struct {
	Name         string       `json:"name"`
	Family       string       `json:"family"`
	HeardHz      float64      `json:"heard_hz"`
	Tolerance    float64      `json:"tolerance_cents"`
	SingleAnswer bool         `json:"single_answer"`
	Listed       bool         `json:"listed"` // pitch measured, not only the maker's note
	Partials     [][4]float64 `json:"partials"`
}

// recordings are those the weights are fitted to, unseen those that nothing was
// fitted to or chosen on.
func recordings(t testing.TB) []recording { return recorded(t, "strike-partials.json") }
func unseen(t testing.TB) []recording     { return recorded(t, "unseen-partials.json") }

func recorded(t testing.TB, file string) []recording {
	t.Helper()
	b, err := os.ReadFile("../../testdata/reference/" + file)
	if err != nil {
		t.Fatal(err)
	}
	var rs []recording
	if err := json.Unmarshal(b, &rs); err != nil {
		t.Fatal(err)
	}
	return rs
}

func (r recording) partials() []analysis.Partial {
	ps := make([]analysis.Partial, len(r.Partials))
	for i, p := range r.Partials {
		ps[i] = analysis.Partial{Frequency: analysis.Hz(p[0]), Sigma: analysis.Cents(p[1]), Level: p[2], T60: p[3]}
	}
	return ps
}

// gross is when a pitch is plainly another one: half a semitone and more, or
// half as much again as the pitch is defined to.
func (r recording) gross() float64 { return max(50, 1.5*r.Tolerance) }
