package partial

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"ringwell/analysis"
)

// TestStrikesMadeExactly reads testdata/strikes-exact, whose signals are exact
// by construction (README there): every partial it says must be found is, in
// place, and nothing within 20 dB of the strongest is invented. The onsets are
// the true ones; each ring is taken out of what follows.
func TestStrikesMadeExactly(t *testing.T) {
	files, err := filepath.Glob("../../testdata/strikes-exact/*.json")
	if err != nil || len(files) == 0 {
		t.Fatalf("no testdata/strikes-exact: %v", err)
	}
	for _, file := range files {
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		var truth struct {
			File    string
			Strikes []struct {
				Onset    float64 `json:"onset_s"`
				Pitched  bool    `json:"pitched"`
				Kind     string  `json:"kind"`
				Partials []struct {
					Frequency float64 `json:"frequency_hz"`
					Level     float64 `json:"level_db"`
					T60       float64 `json:"t60_s"`
					CRB       float64 `json:"crb_cents"`
					Scored    bool    `json:"scored"`
					Beat      float64 `json:"beat_hz"`
					Doublet   []struct {
						Frequency float64 `json:"frequency_hz"`
					} `json:"doublet"`
				} `json:"partials"`
			}
		}
		if err := json.Unmarshal(b, &truth); err != nil {
			t.Fatalf("%s: %v", file, err)
		}
		t.Run(truth.File, func(t *testing.T) {
			x, fs := load(t, "strikes-exact", truth.File)
			e := New(analysis.Rate(fs))
			for k, s := range truth.Strikes {
				if s.Kind != "strike" && s.Kind != "knock" {
					continue // blown: held by its period, not by partials
				}
				on, end := int(s.Onset*fs), len(x)
				if k+1 < len(truth.Strikes) {
					end = int((truth.Strikes[k+1].Onset - 0.004) * fs)
				}
				// The contacts of strikes before are no background.
				var before []float64
				for i := max(0, on-int(2.5*fs)); i < on-int(0.002*fs); i++ {
					quiet := true
					for _, o := range truth.Strikes[:k] {
						at := float64(i)/fs - o.Onset
						quiet = quiet && (at < -0.003 || at > 0.045)
					}
					if quiet {
						before = append(before, x[i])
					}
				}
				r := readAll(e, Take{Rate: analysis.Rate(fs), Before: before, LSB: 1. / 32768}, slices.Clone(x[on:end]))
				if r.Pitched != s.Pitched {
					t.Errorf("strike %d at %.3f s: got pitched %v (explained %.2f, first %.1f dB, rise %.0f ms), want %v", k, s.Onset, r.Pitched, r.Explained, r.FirstDB, r.RiseMS, s.Pitched)
				}
				ring := r.Ring
				for i := range ring {
					ring[i].Amp = -ring[i].Amp
				}
				Render(x[on:], 0, ring)
				if !s.Pitched {
					continue
				}
				var all []float64
				for _, p := range s.Partials {
					want := []float64{p.Frequency}
					if len(p.Doublet) > 0 {
						want = want[:0]
						for _, d := range p.Doublet {
							want = append(want, d.Frequency)
						}
					}
					all = append(all, want...)
					if !p.Scored {
						continue
					}
					for _, f := range want {
						got := nearest(r, f)
						away := math.Inf(1)
						if got != nil {
							away = math.Abs(1200 * math.Log2(float64(got.Frequency)/f))
						}
						// Ten times the bound: 16-bit steps and the click are in it too.
						if away > max(0.1, 10*p.CRB) {
							t.Errorf("strike %d at %.3f s: partial at %.3f Hz, %.1f dB, T60 %.2f s: got none nearer than %.2f cents", k, s.Onset, f, p.Level, p.T60, away)
						}
					}
				}
				for _, p := range r.Partials {
					near := math.Inf(1)
					for _, f := range all {
						near = min(near, math.Abs(1200*math.Log2(float64(p.Frequency)/f)))
					}
					if p.Level > -20 && near > 10 {
						t.Errorf("strike %d at %.3f s: got a partial at %.2f Hz, %.1f dB, that is not there", k, s.Onset, p.Frequency, p.Level)
					}
				}
			}
		})
	}
}
