package webview

import (
	"net/http"
	"strconv"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/drift"
	"ringwell/analysis/physics/material"
)

// DriftAnswer is what GET /api/drift says.
type DriftAnswer struct {
	Warmth     *Warmth      `json:"temperature"`
	Follow     *string      `json:"follow"`     // the voice whose strikes are noted now
	Instrument *DriftPlace  `json:"instrument"` // null: how it moves is not known
	Voices     []DriftEntry `json:"voices"`
	Materials  []string     `json:"materials"` // that POST takes
}

// DriftPlace is how the chosen instrument moves.
type DriftPlace struct {
	Name      string  `json:"name"`
	Material  string  `json:"material"`
	PerDegree float64 `json:"cents_per_degree"`
	Source    string  `json:"source"`
}

// DriftEntry is one voice with its line, or why there is none yet.
type DriftEntry struct {
	Voice    string         `json:"voice"`
	Material *string        `json:"material"`
	Readings []DriftReading `json:"readings"`
	Line     *Drift         `json:"line"`
	Words    *string        `json:"words"` // why there is no line
}

// stageQuery is what is asked of a stage; without there nothing is.
type stageQuery struct {
	there, here *float64
	within      float64
}

func (s *Server) getDrift(w http.ResponseWriter, r *http.Request) error {
	q := stageQuery{within: 10}
	for name, set := range map[string]func(float64){
		"stage_celsius": func(x float64) { q.there = &x },
		"here_celsius":  func(x float64) { q.here = &x },
		"within_cents":  func(x float64) { q.within = x },
	} {
		text := r.URL.Query().Get(name)
		if text == "" {
			continue
		}
		x, err := strconv.ParseFloat(text, 64)
		low, high := -20.0, 50.0
		if name == "within_cents" {
			low, high = 0.5, 100
		}
		if err != nil || !(x >= low && x <= high) {
			return refuse(http.StatusBadRequest, name, "Give %g to %g.", low, high)
		}
		set(x)
	}
	s.bench.mu.Lock()
	defer s.bench.mu.Unlock()
	answer(w, s.driftAnswer(q))
	return nil
}

// driftAnswer fits every voice. Callers hold bench.mu.
func (s *Server) driftAnswer(q stageQuery) DriftAnswer {
	b := s.bench
	s.mu.Lock()
	name := s.in.Name
	s.mu.Unlock()
	out := DriftAnswer{Voices: []DriftEntry{}, Materials: material.Names()}
	if s.air() != nil {
		out.Warmth = b.warmth
	}
	if b.drift.follow != "" {
		out.Follow = &b.drift.follow
	}
	moves, made, known := drift.Instrument(name)
	if known {
		out.Instrument = &DriftPlace{name, made.Name, round(moves.Slope, 3), made.Source}
	}
	for _, v := range b.drift.Voices {
		e := DriftEntry{Voice: v.Voice, Readings: append([]DriftReading{}, v.Readings...)}
		if v.Material != "" {
			e.Material = &v.Material
		}
		line, err := drift.Fit(v.fitted())
		if err != nil {
			words := sentenceCase(plain(err)) + "."
			e.Words = &words
			out.Voices = append(out.Voices, e)
			continue
		}
		form := DriftForm(line)
		if m, ok := material.Named(v.Material); ok {
			expected := round(m.PerDegree(), 3)
			form.Material, form.Expected = &m.Name, &expected
			if words := line.Beside(m); words != "" {
				form.Remark = &words
			}
		}
		if q.there != nil {
			here := line.At
			if q.here != nil {
				here = *q.here
			} else if a := s.air(); a != nil {
				here = a.Celsius
			}
			form.Stage = ForecastForm(drift.Stage(&line, 0, analysis.Cents(q.within), moves, here, *q.there), round(here, 2), *q.there, q.within)
		}
		e.Line = &form
		out.Voices = append(out.Voices, e)
	}
	return out
}

func (v driftVoice) fitted() (all []drift.Reading) {
	for _, r := range v.Readings {
		at, _ := time.Parse(time.RFC3339, r.Time) // the zero time: not known
		all = append(all, drift.Reading{Time: at, Celsius: r.Celsius, Heard: analysis.Hz(r.Hz), Sigma: analysis.Cents(r.Sigma)})
	}
	return all
}
