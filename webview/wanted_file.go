package webview

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/wanted"
	"ringwell/webview/share"
)

// foundFiles keeps the wanted list in a file and the sound of what was found in
// a directory beside it. With an empty path it keeps nothing.
type foundFiles struct{ path string }

// savedWanted is the list as it is kept. The lines that are no place stand with
// the place below them, so that nothing typed is lost.
type savedWanted struct {
	V        int          `json:"v"`
	Revision int          `json:"revision"`
	Next     int          `json:"next"` // number of the next place's ID
	Places   []savedPlace `json:"places"`
	Below    []string     `json:"below"`
}

type savedPlace struct {
	ID     string      `json:"id"`
	Line   string      `json:"line"`
	Above  []string    `json:"above"`
	Ticked bool        `json:"ticked"`
	Fills  []savedFill `json:"fills"`
}

type savedFill struct {
	Strike    string        `json:"strike"`
	Frequency analysis.Hz   `json:"frequency_hz"`
	Sigma     *float64      `json:"sigma_cents"`
	ClockPPM  float64       `json:"clock_ppm"`
	Kind      analysis.Kind `json:"kind"`
	Name      string        `json:"name"`
	Found     time.Time     `json:"found"`
}

func (f *foundFiles) load() (l wanted.List, revision int, notice string) {
	l.Next = 1
	if f.path == "" {
		return l, 0, ""
	}
	data, err := os.ReadFile(f.path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return l, 0, ""
	case err != nil:
		f.path = ""
		return l, 0, fmt.Sprintf("The file of the wanted list cannot be read, so the list is not kept: %v.", err)
	}
	var saved savedWanted
	if err = json.Unmarshal(data, &saved); err == nil && saved.V != SchemaVersion {
		err = fmt.Errorf("its version is %d, not %d", saved.V, SchemaVersion)
	}
	if err == nil {
		l, err = saved.list()
	}
	if err != nil {
		return wanted.List{Next: 1}, 0, f.moveAside(err.Error())
	}
	return l, saved.Revision, ""
}

// list is what was saved, checked as a list that is typed would be.
func (w savedWanted) list() (wanted.List, error) {
	l := wanted.List{Next: max(1, w.Next), Below: w.Below}
	for i, p := range w.Places {
		spec, err := wanted.ParseLine(p.Line)
		if err != nil {
			return l, fmt.Errorf("place %d, %q: %w", i+1, p.Line, err)
		}
		if p.ID == "" || l.Find(p.ID) >= 0 {
			return l, fmt.Errorf("place %d has no ID of its own", i+1)
		}
		place := wanted.Place{ID: p.ID, Spec: spec, Ticked: p.Ticked, Above: p.Above}
		for _, fill := range p.Fills {
			if !sounds(fill.Frequency) || !soundName(fill.Strike) {
				return l, fmt.Errorf("place %d is filled by what is no strike", i+1)
			}
			sigma := analysis.Cents(-1) // unknown
			if fill.Sigma != nil {
				sigma = analysis.Cents(*fill.Sigma)
			}
			place.Fills = append(place.Fills, wanted.Fill{
				Strike: fill.Strike, Heard: fill.Frequency, Sigma: sigma, ClockPPM: fill.ClockPPM,
				Kind: fill.Kind, Name: fill.Name, Found: fill.Found,
			})
		}
		l.Places = append(l.Places, place)
	}
	return l, nil
}

// moveAside renames a broken file to the first free name and says so.
func (f *foundFiles) moveAside(why string) string {
	file := sessionFile{f.path}
	aside, err := file.aside()
	if err != nil {
		f.path = ""
		return fmt.Sprintf("The file of the wanted list is broken (%s) and cannot be moved aside, so the list is not kept: %v.", why, err)
	}
	return fmt.Sprintf("The file of the wanted list was broken (%s). It is now %s, and the list is empty.", why, filepath.Base(aside))
}

func (f *foundFiles) save(l wanted.List, revision int) error {
	saved := savedWanted{V: SchemaVersion, Revision: revision, Next: l.Next, Places: []savedPlace{}, Below: append([]string{}, l.Below...)}
	for _, p := range l.Places {
		place := savedPlace{ID: p.ID, Line: p.Spec.String(), Above: append([]string{}, p.Above...), Ticked: p.Ticked, Fills: []savedFill{}}
		for _, fill := range p.Fills {
			place.Fills = append(place.Fills, savedFill{
				Strike: fill.Strike, Frequency: fill.Heard, Sigma: known(fill.Sigma, placesCents, fill.Sigma >= 0),
				ClockPPM: fill.ClockPPM, Kind: fill.Kind, Name: fill.Name, Found: fill.Found.UTC(),
			})
		}
		saved.Places = append(saved.Places, place)
	}
	data, err := json.MarshalIndent(saved, "", "  ")
	if err == nil {
		err = share.WritePrivate(f.path, append(data, '\n'))
	}
	if err != nil {
		return fmt.Errorf("webview: keep the wanted list in %s: %w", f.path, err)
	}
	return nil
}

// restoreWanted takes up the list of the last run.
func (s *Server) restoreWanted() {
	list, revision, notice := s.found.load()
	s.hunt = hunt{list: list, revision: revision, stored: s.found.sounds()}
	_, s.hunt.faults = wanted.Parse(list.String())
	if notice != "" {
		s.hunt.notice = &notice
		s.cfg.Log.Warn("wanted list", "notice", notice, "file", s.cfg.WantedPath)
	}
	s.trail.pins = s.hunt.pins()
}

// saveWanted writes the list, if it has changed, and the sound of what was
// found. It is the saver's.
func (s *Server) saveWanted() {
	s.mu.Lock()
	list, revision, changed, pins := s.hunt.list, s.hunt.revision, s.hunt.changed, s.hunt.pins()
	s.hunt.changed = false
	var fresh []entry
	for id := range pins {
		if e := s.trail.find(id); e != nil && e.sound != nil && !e.stored {
			fresh = append(fresh, *e)
		}
	}
	s.mu.Unlock()
	if s.found.path == "" || !changed {
		return
	}
	written, err := s.storeSounds(fresh, pins)
	if e := s.found.save(list, revision); e != nil {
		err = e
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.hunt.stored = written
	for id := range written {
		if e := s.trail.find(id); e != nil {
			e.stored = true
		}
	}
	was := s.hunt.notice
	s.hunt.notice = nil
	if err != nil {
		s.cfg.Log.Error("wanted list not kept", "err", err)
		words := fmt.Sprintf("The wanted list cannot be kept across a restart: %v.", err)
		s.hunt.notice = &words
	}
	if now := s.hunt.notice; (was == nil) != (now == nil) || now != nil && *was != *now {
		s.hunt.revision++
		s.tellWanted()
	}
}
