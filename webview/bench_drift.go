package webview

import (
	"net/http"
	"slices"
	"strings"

	"ringwell/analysis"
	"ringwell/analysis/physics/material"
)

// driftLog is the readings of some voices, and whose strikes are noted now.
type driftLog struct {
	Voices []driftVoice `json:"voices"` // by name
	follow string
}

type driftVoice struct {
	Voice    string         `json:"voice"`
	Material string         `json:"material"` // "" is not said
	Readings []DriftReading `json:"readings"` // the latest last
}

// DriftReading is one strike at a temperature.
type DriftReading struct {
	Time    string  `json:"time"` // UTC; "" where it is not known
	Celsius float64 `json:"celsius"`
	Hz      float64 `json:"hz"`
	Sigma   float64 `json:"sigma_cents"`
	Strike  *string `json:"strike"`
}

const (
	mostVoices   = 40
	mostReadings = 400 // a voice
)

func (l *driftLog) find(voice string) int {
	return slices.IndexFunc(l.Voices, func(v driftVoice) bool { return v.Voice == voice })
}

// noteDrift notes a strike of the voice that is followed. Callers hold bench.mu.
func (s *Server) noteDrift(strike analysis.Strike) {
	l := &s.bench.drift
	i := l.find(l.follow)
	a := s.air()
	if l.follow == "" || i < 0 || a == nil {
		return
	}
	at := strike.Time
	if at.IsZero() {
		at = s.cfg.Now()
	}
	s.note(i, DriftReading{at.UTC().Format(wireTime), a.Celsius, float64(strike.Heard.Frequency), float64(strike.Heard.Sigma), &strike.ID})
	s.markDirty()
}

// note adds a reading; the oldest goes where there are too many.
func (s *Server) note(i int, r DriftReading) {
	v := &s.bench.drift.Voices[i]
	if r.Strike != nil && slices.ContainsFunc(v.Readings, func(o DriftReading) bool { return o.Strike != nil && *o.Strike == *r.Strike }) {
		return
	}
	v.Readings = append(v.Readings[max(0, len(v.Readings)+1-mostReadings):], r)
}

func (s *Server) postDrift(w http.ResponseWriter, r *http.Request) error {
	var want struct {
		Voice    string   `json:"voice"`
		Material *string  `json:"material"`
		Strike   *string  `json:"strike"`
		Hz       *float64 `json:"hz"`
		Celsius  *float64 `json:"celsius"` // null: the latest temperature
	}
	if err := readBody(w, r, &want); err != nil {
		return err
	}
	unfit := func(field, format string, args ...any) error {
		return refuse(http.StatusUnprocessableEntity, field, format, args...)
	}
	name := strings.TrimSpace(want.Voice)
	if name == "" || len([]rune(name)) > longestName {
		return unfit("voice", "Name the voice, in %d characters at most.", longestName)
	}
	if want.Material != nil && *want.Material != "" {
		if _, ok := material.Named(*want.Material); !ok {
			return unfit("material", "There is no material %q; there are: %s.", *want.Material, strings.Join(material.Names(), ", "))
		}
	}
	reading := DriftReading{Time: s.cfg.Now().UTC().Format(wireTime)}
	switch {
	case want.Strike != nil && want.Hz != nil:
		return unfit("strike", "Name a strike or type a frequency, not both.")
	case want.Strike != nil:
		s.mu.Lock()
		e := s.trail.find(*want.Strike)
		var strike analysis.Strike
		if e != nil {
			strike = e.strike
		}
		s.mu.Unlock()
		if strike.Heard == nil {
			return refuse(http.StatusNotFound, "strike", "There is no strike %s with a pitch any more; strike it again.", *want.Strike)
		}
		reading.Hz, reading.Sigma, reading.Strike = float64(strike.Heard.Frequency), float64(strike.Heard.Sigma), want.Strike
		if !strike.Time.IsZero() {
			reading.Time = strike.Time.UTC().Format(wireTime)
		}
	case want.Hz != nil:
		if !(*want.Hz >= 10 && *want.Hz <= 20000) {
			return unfit("hz", "Give 10 to 20000 Hz.")
		}
		reading.Hz = *want.Hz
	}
	b := s.bench
	b.mu.Lock()
	defer b.mu.Unlock()
	if reading.Hz != 0 {
		a := s.air()
		switch {
		case want.Celsius != nil:
			if !(*want.Celsius >= -40 && *want.Celsius <= 80) {
				return unfit("celsius", "Give -40 to 80 °C.")
			}
			reading.Celsius = *want.Celsius
			if want.Hz != nil {
				reading.Time = "" // both come from a notebook: only when they were typed is known
			}
		case a != nil:
			reading.Celsius = a.Celsius
		default:
			return unfit("celsius", "The temperature is not known. Type it, or let a thermometer tell it.")
		}
	}
	i := b.drift.find(name)
	if i < 0 {
		if len(b.drift.Voices) >= mostVoices {
			return refuse(http.StatusConflict, "voice", "There are %d voices already. Remove one first.", mostVoices)
		}
		b.drift.Voices = append(b.drift.Voices, driftVoice{Voice: name, Readings: []DriftReading{}})
		i = len(b.drift.Voices) - 1
	}
	if want.Material != nil {
		b.drift.Voices[i].Material = *want.Material
	}
	if reading.Hz != 0 {
		s.note(i, reading)
	}
	s.markDirty()
	answer(w, s.driftAnswer(stageQuery{}))
	return nil
}

// postDriftFollow says whose strikes are noted from now on; null: nobody's.
func (s *Server) postDriftFollow(w http.ResponseWriter, r *http.Request) error {
	var want struct {
		Voice *string `json:"voice"`
	}
	if err := readBody(w, r, &want); err != nil {
		return err
	}
	return s.onVoice(w, want.Voice, func(l *driftLog, i int) error {
		l.follow = ""
		if i >= 0 {
			l.follow = l.Voices[i].Voice
		}
		return nil
	})
}

func (s *Server) deleteDrift(w http.ResponseWriter, r *http.Request) error {
	name := r.PathValue("voice")
	return s.onVoice(w, &name, func(l *driftLog, i int) error {
		if l.follow == name {
			l.follow = ""
		}
		l.Voices = slices.Delete(slices.Clone(l.Voices), i, i+1)
		return nil
	})
}

func (s *Server) postDriftUndo(w http.ResponseWriter, r *http.Request) error {
	name := r.PathValue("voice")
	return s.onVoice(w, &name, func(l *driftLog, i int) error {
		n := len(l.Voices[i].Readings)
		if n == 0 {
			return refuse(http.StatusConflict, "", "There is nothing left to take back.")
		}
		l.Voices[i].Readings = l.Voices[i].Readings[:n-1]
		return nil
	})
}

// onVoice runs do with the place of a voice, -1 where name is nil.
func (s *Server) onVoice(w http.ResponseWriter, name *string, do func(*driftLog, int) error) error {
	b := s.bench
	b.mu.Lock()
	defer b.mu.Unlock()
	i := -1
	if name != nil {
		if i = b.drift.find(*name); i < 0 {
			return refuse(http.StatusNotFound, "voice", "There is no voice %q whose drift is noted.", *name)
		}
	}
	if err := do(&b.drift, i); err != nil {
		return err
	}
	s.markDirty()
	answer(w, s.driftAnswer(stageQuery{}))
	return nil
}
