package listen

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"ringwell/analysis"
)

// TestRecordedStrikes: real recordings, most of them cut to the first sample of
// the attack. testdata/strikes/README.md says where they come from and how
// their pitches were measured.
func TestRecordedStrikes(t *testing.T) {
	raw, err := os.ReadFile("../../testdata/strikes/truth.json")
	if err != nil {
		t.Fatal(err)
	}
	var list []struct {
		File         string  `json:"file"`
		Onset        float64 `json:"onset_s"`
		Heard        float64 `json:"heard_hz"`
		Tolerance    float64 `json:"tolerance_cents"`
		SingleAnswer bool    `json:"single_answer"`
	}
	if err := json.Unmarshal(raw, &list); err != nil {
		t.Fatal(err)
	}
	for _, w := range list {
		t.Run(w.File, func(t *testing.T) {
			r := openRecording(t, "strikes", w.File)
			got := lastOnes(hearAll(r.rate, r.x, 480, Options{LSB: lsb16}))
			var first *analysis.Strike
			for i, s := range got {
				if s.Heard == nil || s.Stage == analysis.Withdrawn {
					continue
				}
				if first == nil {
					first = &got[i]
				} else {
					t.Errorf("one strike: got another at %.3f s, heard as %.2f Hz", r.rate.Seconds(s.Onset), s.Heard.Frequency)
				}
			}
			if first == nil {
				t.Fatalf("strike at %.4f s of %.2f Hz: not heard", w.Onset, w.Heard)
			}
			// The first arm of the desk bell's hammer is 16 ms before the blow.
			if d := math.Abs(r.rate.Seconds(first.Onset) - w.Onset); d > 0.006 && w.File != "bell_desk.wav" {
				t.Errorf("onset: got %.4f s, wanted %.4f within 6 ms (3 of ours, 3 of the truth's)", r.rate.Seconds(first.Onset), w.Onset)
			}
			off := math.Abs(float64(first.Heard.Frequency.Above(analysis.Hz(w.Heard))))
			if !w.SingleAnswer {
				if off > w.Tolerance && first.Second == nil {
					t.Logf("listeners would split: got %.2f Hz, the table has %.2f", first.Heard.Frequency, w.Heard)
				}
				return
			}
			if off > w.Tolerance {
				t.Errorf("heard: got %.2f ± %.2f c Hz, wanted %.2f within %v c; it is %.1f c off", first.Heard.Frequency, first.Heard.Sigma, w.Heard, w.Tolerance, off)
			}
		})
	}
}
