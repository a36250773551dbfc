package partial

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"ringwell/analysis"
)

// TestRecordings reads real recordings of struck things (testdata/strikes,
// sources and licences beside them): the pitch measured there by two other
// methods is one of the strong partials, within the tolerance stated there.
func TestRecordings(t *testing.T) {
	b, err := os.ReadFile("../../testdata/strikes/truth.json")
	if err != nil {
		t.Fatal(err)
	}
	var truth []struct {
		File           string  `json:"file"`
		Onset          float64 `json:"onset_s"`
		Heard          float64 `json:"heard_hz"`
		ToleranceCents float64 `json:"tolerance_cents"`
		Basis          string  `json:"basis"`
		SingleAnswer   bool    `json:"single_answer"`
	}
	if err := json.Unmarshal(b, &truth); err != nil {
		t.Fatal(err)
	}
	for _, c := range truth {
		t.Run(c.File, func(t *testing.T) {
			x, fs := load(t, "strikes", c.File)
			r := readAll(New(analysis.Rate(fs)), Take{Rate: analysis.Rate(fs), LSB: 1. / 32768}, x[int(c.Onset*fs):])
			// A tolerance beyond a quarter tone says that the pitch is the centre
			// of a broad cluster: no partial of it need lie there.
			single := c.Basis == "partial" && c.SingleAnswer && c.ToleranceCents <= 50
			best := math.Inf(1)
			for _, p := range r.Partials {
				if p.Level > -30 {
					best = min(best, math.Abs(float64(p.Frequency.Above(analysis.Hz(c.Heard)))))
				}
			}
			if single && best > c.ToleranceCents {
				t.Errorf("%s: heard at %.2f Hz: got no partial nearer than %.1f cents, want one within %.0f", c.File, c.Heard, best, c.ToleranceCents)
			}
			if !r.Pitched {
				t.Errorf("%s: got a knock (explained %.2f, first %.1f dB, rise %.0f ms), want a ring", c.File, r.Explained, r.FirstDB, r.RiseMS)
			}
		})
	}
}

// readAll reads a sound as the ear does, in windows that double.
func readAll(e *Estimator, t Take, x []float64) Reading {
	e.Begin(t)
	n := int(0.026 * float64(e.rate))
	for ; n < len(x)*3/4; n *= 2 {
		e.Grow(x[:n])
	}
	return e.Grow(x)
}
