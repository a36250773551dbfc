package webview

import (
	"net/http"
	"time"

	"ringwell/analysis/physics/air"
)

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
