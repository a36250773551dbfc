package webview

import (
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/drift"
	"ringwell/analysis/physics/air"
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
	Time    string  `json:"time"` // UTC
	Celsius float64 `json:"celsius"`
	Hz      float64 `json:"hz"`
	Sigma   float64 `json:"sigma_cents"`
	Strike  *string `json:"strike"`
}

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

func (s *Server) getTemperature(w http.ResponseWriter, _ *http.Request) error {
	s.bench.mu.Lock()
	defer s.bench.mu.Unlock()
	var out struct {
		Warmth *Warmth `json:"temperature"`
	}
	if s.air() != nil {
		out.Warmth = s.bench.warmth
	}
	answer(w, out)
	return nil
}

// postTemperature is what a sensor calls.
func (s *Server) postTemperature(w http.ResponseWriter, r *http.Request) error {
	var want struct {
		Celsius  *float64 `json:"celsius"`
		Humidity *float64 `json:"humidity_percent"`
	}
	if err := readBody(w, r, &want); err != nil {
		return err
	}
	if want.Celsius == nil {
		return refuse(http.StatusUnprocessableEntity, "celsius", "Send the temperature in degrees Celsius.")
	}
	a := air.Air{Celsius: *want.Celsius, Humidity: usualHumidity / 100}
	if want.Humidity != nil {
		a.Humidity = *want.Humidity / 100
	}
	if err := a.Check(); err != nil {
		return refuse(http.StatusUnprocessableEntity, "celsius", "%s.", sentenceCase(plain(err)))
	}
	s.warm(*want.Celsius, want.Humidity)
	return s.getTemperature(w, r)
}

// warm takes a temperature and tells the pages.
func (s *Server) warm(celsius float64, humidity *float64) {
	now := s.cfg.Now()
	b := s.bench
	b.mu.Lock()
	defer b.mu.Unlock()
	was := b.warmth
	b.warmth = &Warmth{round(celsius, 2), humidity, now.UTC().Format(wireTime), now}
	if was != nil && was.Celsius == b.warmth.Celsius && now.Sub(was.at) < warmthLasts/2 {
		b.form.Warmth = b.warmth
		return
	}
	b.revision++
	b.form.Revision, b.form.Warmth = b.revision, b.warmth
	s.tellBench()
}

// thermometerEvery is between two readings of the thermometer.
const thermometerEvery = 10 * time.Second

// watchThermometer reads it until the server stops.
func (s *Server) watchThermometer() {
	if s.cfg.Thermometer == nil {
		return
	}
	failed := false
	s.readThermometer(&failed)
	tick := time.NewTicker(thermometerEvery)
	defer tick.Stop()
	for {
		select {
		case <-tick.C:
			s.readThermometer(&failed)
		case <-s.stop:
			return
		}
	}
}

// readThermometer reads the thermometer this program was told of. Its trouble
// is logged once.
func (s *Server) readThermometer(failed *bool) {
	celsius, err := s.cfg.Thermometer()
	if err != nil {
		if !*failed {
			s.cfg.Log.Warn("no temperature", "err", err)
		}
		*failed = true
		return
	}
	*failed = false
	s.warm(celsius, nil)
}
