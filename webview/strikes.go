package webview

import (
	"bytes"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
)

// getStrikes answers with the strikes that follow ?after=ID, all without it.
// Until is the newest strike there has been: between after and until the
// answer is the whole truth.
func (s *Server) getStrikes(w http.ResponseWriter, r *http.Request) error {
	var out struct {
		After   *string  `json:"after"`
		Until   *string  `json:"until"`
		Strikes []Strike `json:"strikes"`
	}
	out.Strikes = []Strike{}
	id := r.URL.Query().Get("after")
	if id != "" {
		out.After = &id
	}
	s.mu.Lock()
	seen := s.lens()
	if newest := s.trail.newest; newest != "" {
		out.Until = &newest
	}
	var on []entry // copied, so that placing thousands of partials holds nobody up
	for _, e := range s.trail.after(id) {
		on = append(on, *e)
	}
	s.mu.Unlock()
	for _, e := range on {
		out.Strikes = append(out.Strikes, seen.form(e))
	}
	answer(w, out)
	return nil
}

func noStrike() error {
	return refuse(http.StatusNotFound, "", "That strike is not on the trail: it was thrown away, or is more than ten minutes old.")
}

// snapshot returns a copy of the entry on show with the ID.
func (s *Server) snapshot(id string) (e entry, seen lens, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	found := s.trail.find(id)
	if found == nil || found.thrown {
		return e, seen, noStrike()
	}
	return *found, s.lens(), nil
}

func (s *Server) getStrike(w http.ResponseWriter, r *http.Request) error {
	id, wav := strings.CutSuffix(r.PathValue("id"), ".wav")
	e, seen, err := s.snapshot(id)
	if wav && (err != nil || e.sound == nil) {
		if data := s.storedSound(id); data != nil {
			sendWAV(w, r, "strike-"+id+".wav", data)
			return nil
		}
	}
	if err != nil {
		return err
	}
	if wav {
		return s.sendSound(w, r, e)
	}
	answer(w, seen.form(e))
	return nil
}

func (s *Server) sendSound(w http.ResponseWriter, r *http.Request, e entry) error {
	if e.sound == nil || s.cfg.EncodeWAV == nil {
		return refuse(http.StatusNotFound, "", "The sound of that strike is not kept: it still rings, or newer ones needed the room.")
	}
	var b bytes.Buffer
	onset := int(e.strike.Onset - e.strike.From)
	if err := s.cfg.EncodeWAV(&b, e.strike.Rate, e.sound, onset, e.strike.Heard); err != nil {
		return fmt.Errorf("webview: encode the sound of strike %s: %w", e.strike.ID, err)
	}
	sendWAV(w, r, wavName(e.strike), b.Bytes())
	return nil
}

func sendWAV(w http.ResponseWriter, r *http.Request, name string, data []byte) {
	w.Header().Set("Content-Type", "audio/wav")
	w.Header().Set("Content-Disposition", fmt.Sprintf("inline; filename=%q", name))
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(data))
}

// wavName is what a saved sound is called: when it was struck, or its ID where
// that is not known.
func wavName(s analysis.Strike) string {
	if s.Time.IsZero() {
		return "strike-" + strings.Map(plainLetter, s.ID) + ".wav"
	}
	return s.Time.UTC().Format("strike-20060102-150405.000.wav")
}

func plainLetter(r rune) rune {
	if r >= '0' && r <= '9' || r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z' {
		return r
	}
	return -1
}

// throw marks a strike as thrown away or takes that back, and tells the pages.
func (s *Server) throw(id string, away bool) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	e := s.trail.find(id)
	if e == nil {
		return noStrike()
	}
	if e.thrown == away {
		return nil
	}
	e.thrown = away
	if away {
		s.letGo(id)
		s.tellGone(id)
	} else {
		s.tellStrike(e)
	}
	return nil
}

func (s *Server) deleteStrike(w http.ResponseWriter, r *http.Request) error {
	if err := s.throw(r.PathValue("id"), true); err != nil {
		return err
	}
	w.WriteHeader(http.StatusNoContent)
	return nil
}

func (s *Server) restoreStrike(w http.ResponseWriter, r *http.Request) error {
	if err := readBody(w, r, &struct{}{}); err != nil {
		return err
	}
	id := r.PathValue("id")
	if err := s.throw(id, false); err != nil {
		return err
	}
	return s.answerStrike(w, id)
}

func (s *Server) nameStrike(w http.ResponseWriter, r *http.Request) error {
	var want struct {
		Name *string `json:"name"`
	}
	if err := readBody(w, r, &want); err != nil {
		return err
	}
	if want.Name != nil {
		name := strings.TrimSpace(*want.Name)
		if err := checkName("name", name); err != nil {
			return err
		}
		if want.Name = &name; name == "" {
			want.Name = nil
		}
	}
	id := r.PathValue("id")
	if err := s.rename(id, want.Name); err != nil {
		return err
	}
	return s.answerStrike(w, id)
}

func (s *Server) rename(id string, name *string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	e := s.trail.find(id)
	if e == nil || e.thrown {
		return noStrike()
	}
	e.name = name
	s.refill(e)
	s.tellStrike(e)
	return nil
}

func (s *Server) answerStrike(w http.ResponseWriter, id string) error {
	e, seen, err := s.snapshot(id)
	if err != nil {
		return err
	}
	answer(w, seen.form(e))
	return nil
}

func parseReference(given string) (analysis.Hz, error) {
	f, err := strconv.ParseFloat(given, 64)
	if err != nil || instrument.CheckReference(analysis.Hz(f)) != nil {
		return 0, refuse(http.StatusUnprocessableEntity, "reference_hz", "The reference pitch must lie between %d and %d Hz.", instrument.ReferenceLow, instrument.ReferenceHigh)
	}
	return analysis.Hz(f), nil
}
