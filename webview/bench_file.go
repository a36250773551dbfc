package webview

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"ringwell/analysis"
	"ringwell/analysis/bench"
	"ringwell/analysis/physics/air"
	"ringwell/webview/share"
)

// benchFile keeps the bench across restarts: a job half done, and the drift
// that was noted. The zero benchFile keeps nothing.
type benchFile struct{ path string }

type savedBench struct {
	V       int          `json:"v"`
	Job     *BenchSpec   `json:"job"`
	Entries []savedEntry `json:"entries"`
	Pending float64      `json:"pending_ml"`
	Drift   driftLog     `json:"drift"`
}

// savedEntry keeps of a strike what the bench rests on.
type savedEntry struct {
	Added    float64      `json:"added_ml"`
	Heard    float64      `json:"heard_hz"`
	Sigma    float64      `json:"sigma_cents"`
	Celsius  *float64     `json:"celsius"`
	Humidity float64      `json:"humidity"`
	Partials [][3]float64 `json:"partials"` // Hz, sigma in cents, level in dB
	Strike   string       `json:"strike"`
}

// restoreBench takes up the bench of the last run. What cannot be read is moved
// aside and told of.
func (s *Server) restoreBench() {
	b := s.bench
	b.file = benchFile{s.cfg.BenchPath}
	b.form = Bench{Cautions: []string{}}
	if b.file.path == "" {
		return
	}
	data, err := os.ReadFile(b.file.path)
	if errors.Is(err, fs.ErrNotExist) {
		return
	}
	var saved savedBench
	if err == nil {
		err = json.Unmarshal(data, &saved)
	}
	if err == nil && saved.V != SchemaVersion {
		err = fmt.Errorf("its version is %d, not %d", saved.V, SchemaVersion)
	}
	if err == nil && saved.Job != nil {
		err = s.takeUp(saved)
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if err != nil {
		aside, fault := (&sessionFile{b.file.path}).aside()
		words := fmt.Sprintf("What was on the bench cannot be read (%v). It is now %s.", err, filepath.Base(aside))
		if fault != nil {
			words = fmt.Sprintf("What was on the bench cannot be read (%v), and is not kept any more.", err)
			b.file.path = ""
		}
		b.notice = &words
		s.cfg.Log.Warn("bench", "notice", words)
	} else {
		b.drift = saved.Drift
	}
	s.workOut()
}

func (s *Server) takeUp(saved savedBench) error {
	j, err := s.job(*saved.Job)
	if err != nil {
		return err
	}
	var entries []bench.Entry
	for _, e := range saved.Entries {
		entry := bench.Entry{Added: e.Added, Heard: analysis.Hz(e.Heard), Sigma: analysis.Cents(e.Sigma), Strike: e.Strike}
		if e.Celsius != nil {
			entry.Air = &air.Air{Celsius: *e.Celsius, Humidity: e.Humidity}
		}
		for _, p := range e.Partials {
			entry.Partials = append(entry.Partials, analysis.Partial{Frequency: analysis.Hz(p[0]), Sigma: analysis.Cents(p[1]), Level: p[2]})
		}
		entries = append(entries, entry)
	}
	session, err := bench.Resume(j, entries, saved.Pending)
	if err != nil {
		return err
	}
	s.bench.spec, s.bench.session = saved.Job, session
	return nil
}

// saveBench writes the bench; called by the saver alone.
func (s *Server) saveBench() {
	b := s.bench
	if b.file.path == "" {
		return
	}
	b.mu.Lock()
	saved := savedBench{V: SchemaVersion, Job: b.spec, Entries: []savedEntry{}, Drift: b.drift}
	if b.session != nil {
		saved.Pending = b.session.Pending
		for _, e := range b.session.Entries {
			to := savedEntry{e.Added, float64(e.Heard), float64(e.Sigma), nil, 0, [][3]float64{}, e.Strike}
			if e.Air != nil {
				to.Celsius, to.Humidity = &e.Air.Celsius, e.Air.Humidity
			}
			for _, p := range e.Partials {
				if finite(p.Sigma) && finite(p.Level) {
					to.Partials = append(to.Partials, [3]float64{float64(p.Frequency), float64(p.Sigma), p.Level})
				}
			}
			saved.Entries = append(saved.Entries, to)
		}
	}
	data, err := json.MarshalIndent(saved, "", " ")
	b.mu.Unlock()
	if err == nil {
		err = share.WritePrivate(b.file.path, append(data, '\n'))
	}
	if err != nil {
		s.cfg.Log.Error("bench not kept", "err", err)
	}
}
