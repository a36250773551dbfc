package listen

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"ringwell/analysis"
)

// truth is what testdata/strikes-exact says of a file; its README has the keys.
type truth struct {
	Strikes []struct {
		Onset    float64 `json:"onset_s"`
		Pitched  bool    `json:"pitched"`
		Partials []struct {
			Frequency float64 `json:"frequency_hz"`
			Level     float64 `json:"level_db"`
			T60       float64 `json:"t60_s"`
			Scored    bool    `json:"scored"`
			Doublet   []struct {
				Frequency float64 `json:"frequency_hz"`
			} `json:"doublet"`
		} `json:"partials"`
		Heard struct {
			Frequency float64   `json:"frequency_hz"`
			AnyOf     []float64 `json:"any_of_hz"`
		} `json:"heard"`
		Expect struct {
			Within   float64 `json:"onset_within_s"`
			Cents    float64 `json:"heard_within_cents"`
			Required int     `json:"partials_required"`
			OneNote  bool    `json:"one_note"`
		} `json:"expect"`
	} `json:"strikes"`
}

// TestExactStrikes holds what is heard in sound made from formulas against the
// formulas: every strike found in its time, the pitch within the stated cents,
// every partial within 20 dB of the strongest, its ring time within 5 %, no
// knock with a pitch, nothing besides.
func TestExactStrikes(t *testing.T) {
	files, err := filepath.Glob("../../testdata/strikes-exact/*.json")
	if err != nil || len(files) == 0 {
		t.Fatal("no files in testdata/strikes-exact")
	}
	for _, file := range files {
		name := filepath.Base(file[:len(file)-len(".json")])
		t.Run(name, func(t *testing.T) {
			raw, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			var want truth
			if err := json.Unmarshal(raw, &want); err != nil {
				t.Fatal(err)
			}
			r := openRecording(t, "strikes-exact", name+".wav")
			got := lastOnes(hearAll(r.rate, r.x, 480, Options{LSB: lsb16}))
			used := make([]bool, len(got))
			for _, w := range want.Strikes {
				found := -1
				for i, s := range got {
					if !used[i] && math.Abs(r.rate.Seconds(s.Onset)-w.Onset) <= max(w.Expect.Within, 0.003) {
						found = i
						break
					}
				}
				if found < 0 {
					if w.Pitched {
						t.Errorf("strike at %.3f s: not found", w.Onset)
					}
					continue
				}
				used[found] = true
				s := got[found]
				if s.Stage == analysis.Withdrawn {
					s.Heard = nil
				}
				if !w.Pitched {
					if s.Heard != nil {
						t.Errorf("knock at %.3f s: got a pitch of %.2f Hz, wanted none", w.Onset, s.Heard.Frequency)
					}
					continue
				}
				if s.Heard == nil {
					t.Errorf("strike at %.3f s: got no pitch, wanted %.2f Hz", w.Onset, w.Heard.Frequency)
					continue
				}
				nearest := math.Inf(1)
				for _, f := range append(w.Heard.AnyOf, w.Heard.Frequency) {
					nearest = min(nearest, math.Abs(float64(s.Heard.Frequency.Above(analysis.Hz(f)))))
				}
				if nearest > w.Expect.Cents {
					t.Errorf("strike at %.3f s: got %.2f Hz, wanted %.2f within %v cents", w.Onset, s.Heard.Frequency, w.Heard.Frequency, w.Expect.Cents)
				}
				for _, p := range w.Partials {
					if !p.Scored || p.Level < -20 {
						continue
					}
					places := []float64{p.Frequency}
					if p.Doublet != nil {
						places = places[:0]
						for _, d := range p.Doublet {
							places = append(places, d.Frequency)
						}
					}
					for _, f := range places {
						q := closest(s.Partials, f)
						if c := math.Abs(float64(q.Frequency.Above(analysis.Hz(f)))); !(c < 2) {
							t.Errorf("strike at %.3f s: partial of %.2f Hz (%.1f dB): nearest is %.2f Hz", w.Onset, f, p.Level, q.Frequency)
						} else if p.Doublet == nil && p.T60 > 0 && math.Abs(q.T60/p.T60-1) > 0.05 {
							t.Errorf("strike at %.3f s: partial of %.2f Hz: got T60 %.3f s, wanted %.3f", w.Onset, f, q.T60, p.T60)
						}
					}
				}
			}
			for i, s := range got {
				if !used[i] && s.Heard != nil {
					t.Errorf("strike at %.3f s, heard as %.2f Hz: there is none", r.rate.Seconds(s.Onset), s.Heard.Frequency)
				}
			}
		})
	}
}

func closest(partials []analysis.Partial, f float64) (best analysis.Partial) {
	for _, p := range partials {
		if math.Abs(float64(p.Frequency)-f) < math.Abs(float64(best.Frequency)-f) {
			best = p
		}
	}
	return best
}
