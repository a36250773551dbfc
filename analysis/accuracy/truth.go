package accuracy

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"

	"ringwell/analysis"
)

// Take is a piece of sound of which it is known what is in it.
type Take struct {
	Name    string
	Rate    analysis.Rate
	LSB     float64   // quantisation step, full scale 1; 0 unknown
	Samples []float64 // full scale 1
	Truth   Truth
}

// Truth is what is in a take, as the JSON file beside a recording says it.
// testdata/strikes-exact/README.md describes every key; those not named here
// are passed over.
type Truth struct {
	File     string       `json:"file"`
	Category string       `json:"category"` // rows of the table are made of these
	Rate     float64      `json:"sample_rate_hz"`
	Strikes  []TrueStrike `json:"strikes"`
}

// TrueStrike is one strike, or one knock that is none.
type TrueStrike struct {
	Onset    float64       `json:"onset_s"`     // from the start of the file, s
	Within   float64       `json:"onset_tol_s"` // a report so near counts as this strike; 0 is 0.03 s
	Pitched  bool          `json:"pitched"`
	InHand   analysis.Kind `json:"in_hand"` // kind a player would say it is; "" unknown
	Heard    *TrueHeard    `json:"heard"`
	Partials []TruePartial `json:"partials"`
}

// TrueHeard is the pitch a listener names.
type TrueHeard struct {
	Frequency  float64   `json:"frequency_hz"`
	AnyOf      []float64 `json:"any_of_hz"`        // any of these is right as well
	Definition float64   `json:"definition_cents"` // how loosely the pitch is defined
}

// TruePartial is one mode, or two near-equal ones.
type TruePartial struct {
	Frequency float64 `json:"frequency_hz"`
	T60       float64 `json:"t60_s"` // 0 or null: does not decay
	Scored    bool    `json:"scored"`
	Bound     float64 `json:"crb_cents"` // one sigma; 0 unknown
	Doublet   []struct {
		Frequency float64 `json:"frequency_hz"`
	} `json:"doublet"`
}

// ReadTruth reads one JSON file. Its error says what is wrong with it, and
// where.
func ReadTruth(r io.Reader) (Truth, error) {
	const most = 64 << 20
	var t Truth
	d := json.NewDecoder(io.LimitReader(r, most))
	if err := d.Decode(&t); err != nil {
		var wrong *json.UnmarshalTypeError
		if errors.As(err, &wrong) {
			return Truth{}, fmt.Errorf("%s: a %s stands where a %s belongs", wrong.Field, wrong.Value, wrong.Type)
		}
		return Truth{}, fmt.Errorf("not the JSON of a truth: %w", err)
	}
	return t, t.check()
}

// check finds numbers that cannot be.
func (t *Truth) check() error {
	if t.Strikes == nil {
		return errors.New(`no "strikes": give a list, empty if nothing is struck`)
	}
	if t.Category == "" {
		t.Category = "other"
	}
	for i := range t.Strikes {
		s := &t.Strikes[i]
		at := fmt.Sprintf("strikes[%d]", i)
		if !(s.Onset >= 0) {
			return fmt.Errorf("%s.onset_s: %g s lies before the file", at, s.Onset)
		}
		if !(s.Within >= 0) {
			return fmt.Errorf("%s.onset_tol_s: %g s is no tolerance", at, s.Within)
		}
		if s.Within == 0 {
			s.Within = 0.03
		}
		if i > 0 && s.Onset < t.Strikes[i-1].Onset {
			return fmt.Errorf("%s.onset_s: %g s comes before the strike above it; put them in order of time", at, s.Onset)
		}
		if s.InHand != "" && !known(s.InHand) {
			return fmt.Errorf("%s.in_hand: %q is no kind; these are: %v", at, s.InHand, analysis.Kinds())
		}
		if s.Pitched && s.Heard == nil {
			return fmt.Errorf("%s: pitched, but no heard.frequency_hz", at)
		}
		if s.Heard != nil {
			if s.Heard.Definition < 0 {
				return fmt.Errorf("%s.heard.definition_cents: %g is less than nothing", at, s.Heard.Definition)
			}
			for _, f := range append([]float64{s.Heard.Frequency}, s.Heard.AnyOf...) {
				if !frequency(f) {
					return fmt.Errorf("%s.heard: %g Hz is no frequency of a pitch", at, f)
				}
			}
		}
		for k, p := range s.Partials {
			if !frequency(p.Frequency) || p.T60 < 0 || p.Bound < 0 {
				return fmt.Errorf("%s.partials[%d]: frequency_hz %g, t60_s %g, crb_cents %g: the first must be a frequency and none below 0", at, k, p.Frequency, p.T60, p.Bound)
			}
			for _, d := range p.Doublet {
				if !frequency(d.Frequency) {
					return fmt.Errorf("%s.partials[%d].doublet: %g Hz is no frequency", at, k, d.Frequency)
				}
			}
		}
	}
	return nil
}

func known(k analysis.Kind) bool {
	for _, have := range analysis.Kinds() {
		if k == have {
			return true
		}
	}
	return false
}

func frequency(f float64) bool { return f > 0 && f < 1e6 && !math.IsInf(f, 0) }

// Fits reports what is wrong where a truth and its sound do not belong together.
func (t Truth) Fits(rate analysis.Rate, samples int) error {
	if t.Rate != 0 && t.Rate != float64(rate) {
		return fmt.Errorf("sample_rate_hz: %g Hz, but the recording has %g Hz", t.Rate, float64(rate))
	}
	for i, s := range t.Strikes {
		if end := rate.Seconds(int64(samples)); s.Onset >= end {
			return fmt.Errorf("strikes[%d].onset_s: %g s, but the recording is over at %.3f s", i, s.Onset, end)
		}
	}
	return nil
}

// places are the frequencies at which the partial may be reported, and how far
// off, in Hz: as its line is wide, and ten cents at least.
func (p TruePartial) places() (at []float64, away float64) {
	at = []float64{p.Frequency}
	for _, d := range p.Doublet {
		at = append(at, d.Frequency)
	}
	away = 0.5
	if p.T60 > 0 {
		away += 2.2 / p.T60
	}
	return at, max(away, 0.006*p.Frequency)
}

// away is how far f lies from what is heard, in cents: from the nearest of the
// right answers.
func (h *TrueHeard) away(f float64) float64 {
	best := cents(f, h.Frequency)
	for _, g := range h.AnyOf {
		if c := cents(f, g); math.Abs(c) < math.Abs(best) {
			best = c
		}
	}
	return best
}
