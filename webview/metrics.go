package webview

import (
	"bytes"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"
	"sync/atomic"

	"ringwell/analysis"
	"ringwell/analysis/listen"
)

// counters are what is counted of the ear since the start.
type counters struct {
	final, withdrawn        atomic.Int64
	frames, missing, missed atomic.Int64 // of phones that have left: frames, those missing, samples lost
	lost                    atomic.Int64 // samples, of the source that is open
}

// hear counts a telling.
func (c *counters) hear(s analysis.Strike) {
	switch s.Stage {
	case analysis.Final:
		c.final.Add(1)
	case analysis.Withdrawn:
		c.withdrawn.Add(1)
	}
}

// getMetrics answers in the Prometheus text format, version 0.0.4
// (prometheus.io/docs/instrumenting/exposition_formats, from memory,
// unchecked).
func (s *Server) getMetrics(w http.ResponseWriter, _ *http.Request) error {
	w.Header().Set("Content-Type", "text/plain; version=0.0.4; charset=utf-8")
	w.Write(s.metrics())
	return nil
}

func (s *Server) metrics() []byte {
	s.mu.Lock()
	code := s.state.Code
	s.mu.Unlock()
	frames, missing, lost := s.counters.frames.Load(), s.counters.missing.Load(), s.counters.missed.Load()
	phones := s.phones.list()
	for _, p := range phones {
		frames += p.tallies.frames.Load()
		missing += p.tallies.missing.Load()
		lost += p.tallies.lost.Load()
	}
	var m metricText
	m.one("ringwell_build_info", "gauge", "Always 1; the version is the label.", 1, "version", s.cfg.Version)
	m.head("ringwell_ear_state", "gauge", "1 for the state the ear is in.")
	for _, c := range []string{listen.Opening, listen.Hearing, listen.Silent, listen.Deaf, listen.Ended} {
		in := int64(0)
		if c == code {
			in = 1
		}
		m.line("ringwell_ear_state", in, "state", c)
	}
	m.head("ringwell_strikes_total", "counter", "Strikes of which all is known, by how they ended.")
	m.line("ringwell_strikes_total", s.counters.final.Load(), "stage", "final")
	m.line("ringwell_strikes_total", s.counters.withdrawn.Load(), "stage", "withdrawn")
	m.one("ringwell_lost_samples", "gauge", "Samples lost since the source was opened.", s.counters.lost.Load())
	m.one("ringwell_pages", "gauge", "Pages that listen.", int64(s.hub.count()))
	m.one("ringwell_connections", "gauge", "Connections, those of listening pages apart.", int64(s.crowd.count()))
	m.one("ringwell_paired_devices", "gauge", "Devices that are paired.", int64(len(s.cfg.Book.Devices())))
	m.one("ringwell_phones", "gauge", "Browsers that lend their microphones.", int64(len(phones)))
	m.one("ringwell_phone_frames_total", "counter", "Frames of sound that came from phones.", frames)
	m.one("ringwell_phone_missing_frames_total", "counter", "Frames of sound that did not come, by their sequence.", missing)
	m.one("ringwell_phone_lost_samples_total", "counter", "Samples that did not come, by the phones' sample clocks.", lost)
	m.head("ringwell_refused_total", "counter", "What was refused, by reason.")
	refused := s.tally.all()
	for _, reason := range slices.Sorted(maps.Keys(refused)) {
		m.line("ringwell_refused_total", refused[reason], "reason", reason)
	}
	return m.b.Bytes()
}

// metricText writes metrics.
type metricText struct{ b bytes.Buffer }

func (m *metricText) head(name, kind, help string) {
	fmt.Fprintf(&m.b, "# HELP %s %s\n# TYPE %s %s\n", name, help, name, kind)
}

func (m *metricText) line(name string, value int64, labels ...string) {
	var in []string
	for i := 0; i < len(labels); i += 2 {
		in = append(in, labels[i]+`="`+strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`).Replace(labels[i+1])+`"`)
	}
	if len(in) > 0 {
		name += "{" + strings.Join(in, ",") + "}"
	}
	fmt.Fprintf(&m.b, "%s %d\n", name, value)
}

func (m *metricText) one(name, kind, help string, value int64, labels ...string) {
	m.head(name, kind, help)
	m.line(name, value, labels...)
}
