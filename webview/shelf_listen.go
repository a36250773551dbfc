package webview

import (
	"context"
	"reflect"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
	"ringwell/analysis/match"
)

// Recognised is which voice of the shelf a strike is.
type Recognised struct {
	Answer     string          `json:"answer"` // known, two or new
	Candidates []CandidateForm `json:"candidates"`
	Words      string          `json:"words"`
}

// CandidateForm is a voice a strike may be.
type CandidateForm struct {
	Voice   string  `json:"voice"`
	Object  string  `json:"object"`
	Label   string  `json:"label"`
	Share   float64 `json:"share"`       // of the belief
	Shift   float64 `json:"shift_cents"` // how far the whole strike lies above the voice
	Matched int     `json:"matched"`     // partials that are the voice's
}

// KeptMark says as what a strike of the trail is kept.
type KeptMark struct {
	Voice  string `json:"voice"`
	Object string `json:"object"`
	Label  string `json:"label"`
	Strike string `json:"strike"` // its ID on the shelf
}

// HealthForm is how a strike stands beside the history of its voice.
type HealthForm struct {
	Known   bool         `json:"known"` // the history is long enough to say
	Suspect bool         `json:"suspect"`
	Shift   *float64     `json:"shift_cents"` // of the whole, the temperature taken out where the history tells
	Changes []ChangeForm `json:"changes"`
	Words   string       `json:"words"`
	Advice  string       `json:"advice"`
}

// ChangeForm is what a strike shows beyond its voice's own spread.
type ChangeForm struct {
	What      match.What `json:"what"` // fell, split or shorter
	Frequency float64    `json:"frequency_hz"`
	By        float64    `json:"by"` // cents, Hz or a factor
	Words     string     `json:"words"`
}

// look has a strike looked at by the shelf's own goroutine: which voice it is,
// and what follows from that. Callers hold mu.
func (s *Server) look(id string) {
	if s.shelf.Read == nil {
		return
	}
	s.shelf.due[id] = true
	s.wakeShelf()
}

func (s *Server) wakeShelf() {
	select {
	case s.shelf.wake <- struct{}{}:
	default:
	}
}

// watchShelf looks at strikes until the server stops. The ear waits for none
// of it.
func (s *Server) watchShelf() {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	s.shelfChanged(ctx)
	again, done := s.reopening()
	defer done()
	for {
		select {
		case <-s.stop:
			return
		case <-again:
			if s.reopen(ctx) {
				again = nil
			}
		case <-s.shelf.wake:
		}
		s.mu.Lock()
		due := s.shelf.due
		s.shelf.due = map[string]bool{}
		var entries []entry
		for _, e := range s.trail.after("") {
			if due[e.strike.ID] {
				entries = append(entries, *e)
			}
		}
		s.mu.Unlock()
		for _, e := range entries {
			if err := s.consider(ctx, e); err != nil {
				s.cfg.Log.Error("shelf", "strike", e.strike.ID, "err", err)
			}
		}
		for e, pasts, ok := s.nextAgain(); ok; e, pasts, ok = s.nextAgain() {
			if err := s.reconsider(ctx, e, pasts); err != nil {
				s.cfg.Log.Error("shelf", "strike", e.strike.ID, "err", err)
			}
		}
	}
}

// consider looks at one strike as it was told last.
func (s *Server) consider(ctx context.Context, e entry) error {
	shelf, err := s.reader()
	if err != nil {
		return err
	}
	final := e.strike.Stage == analysis.Final
	var verdict match.Verdict
	var voices []match.Voice
	var form *Recognised
	s.mu.Lock()
	calling := s.shelf.callOver != nil
	s.mu.Unlock()
	err = s.shelf.known.with(ctx, shelf, func(p *prints) {
		if len(p.voices) == 0 {
			return
		}
		verdict = p.ear.Recognise(e.strike.Partials)
		if calling {
			voices = append(voices, p.voices...)
		}
		form = recognisedForm(verdict, p.labels)
	})
	if err != nil {
		return err
	}
	var health *match.Health
	var healthForm *HealthForm
	if final && len(verdict.Candidates) == 1 {
		h, form, err := s.healthOf(ctx, shelf, e.strike, verdict.Candidates[0].ID)
		if err != nil {
			return err
		}
		health, healthForm = h, form
	}
	s.mu.Lock()
	now := s.trail.find(e.strike.ID)
	if now == nil || now.strike.Revision != e.strike.Revision {
		s.mu.Unlock() // told anew, and due again, or gone
		return nil
	}
	first := final && !now.counted
	news := !reflect.DeepEqual(now.recognised, form)
	now.recognised = form
	if now.kept == nil {
		news = news || !reflect.DeepEqual(now.health, healthForm)
		now.health = healthForm
	}
	if !now.thrown && (news || !final || first) {
		s.tellStrike(now)
	}
	if first {
		now.counted = true
		s.heardOnShelf(now.strike, verdict, health, voices)
	}
	stand := s.shelf.form.Stand
	due := final && now.sound != nil && now.kept == nil && !now.thrown && stand != nil && !now.tried
	if due {
		now.tried = true
	}
	s.mu.Unlock()
	if due {
		if _, err := s.keepOn(ctx, e.strike.ID, stand.Voice); err != nil {
			s.notKept(err)
			return err
		}
	}
	return nil
}

// heardOnShelf takes a final strike to the call-over and the walk. Callers
// hold mu.
func (s *Server) heardOnShelf(strike analysis.Strike, v match.Verdict, h *match.Health, voices []match.Voice) {
	if w := s.shelf.walk; w != nil {
		w.Hear(strike)
		s.tellShelf()
		return
	}
	c := s.shelf.callOver
	if c == nil || len(strike.Partials) == 0 {
		return
	}
	if is, ok := c.Which(v); ok && h != nil {
		c.Hear(strike.ID, is, *h)
	} else if ok { // of two the one that is missing: its health is not known yet
		c.Hear(strike.ID, is, match.Health{})
	} else {
		c.Wonder(strike.ID, v, strike.Partials, voices)
	}
	s.tellShelf()
}

// notKept tells the pages that what was to be kept by itself was not.
func (s *Server) notKept(err error) {
	if trouble := diskTrouble(err); trouble != nil {
		err = trouble
	}
	s.noticeShelf("A strike on the stand was not kept: " + err.Error() + ".")
}

// noticeShelf tells the pages what is wrong with the shelf.
func (s *Server) noticeShelf(words string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.shelf.form.Notice = &words
	s.tellShelf()
}

// healthOf holds a strike against the history of a voice.
func (s *Server) healthOf(ctx context.Context, shelf *catalogue.Reader, strike analysis.Strike, voice string) (*match.Health, *HealthForm, error) {
	past, err := pastOf(ctx, shelf, voice, strike.ID)
	if err != nil {
		return nil, nil, err
	}
	h, form := s.judge(past, strike)
	return h, form, nil
}

// past is what a voice is judged by.
type past struct {
	strikes []match.Sounding
	kind    analysis.Kind
}

// pastOf is a voice's past, but for one strike.
func pastOf(ctx context.Context, shelf *catalogue.Reader, voice, but string) (p past, err error) {
	row, err := shelf.Row(ctx, voice)
	if err != nil {
		return p, err
	}
	p.kind = row.Object.Kind
	p.strikes, err = shelf.Soundings(ctx, voice, but, match.History)
	return p, err
}

func (s *Server) judge(p past, strike analysis.Strike) (*match.Health, *HealthForm) {
	s.mu.Lock()
	degrees := s.shelf.form.Temperature
	s.mu.Unlock()
	h := match.Examine(p.strikes, match.Sounding{Partials: strike.Partials, Temperature: degrees})
	return &h, healthForm(&h, p.kind)
}

func healthForm(h *match.Health, kind analysis.Kind) *HealthForm {
	out := &HealthForm{Known: h.Known, Suspect: h.Suspect(), Changes: []ChangeForm{}, Words: h.Words(), Advice: h.Advice(kind)}
	if h.Known {
		out.Shift = known(h.Shift, placesCents, true)
	}
	for i := range h.Changes {
		c := &h.Changes[i]
		out.Changes = append(out.Changes, ChangeForm{c.What, round(c.Frequency, placesHz), round(c.By, placesCents), c.Words()})
	}
	return out
}

func recognisedForm(v match.Verdict, labels map[string]label) *Recognised {
	out := &Recognised{Answer: "new", Candidates: candidateForms(v.Candidates, labels), Words: "Not on the shelf."}
	switch len(out.Candidates) {
	case 1:
		out.Answer, out.Words = "known", out.Candidates[0].Label
	case 2:
		out.Answer, out.Words = "two", out.Candidates[0].Label+", or "+out.Candidates[1].Label
	}
	return out
}

func candidateForms(all []match.Candidate, labels map[string]label) []CandidateForm {
	out := []CandidateForm{}
	for _, c := range all {
		out = append(out, CandidateForm{c.ID, c.Object, labels[c.ID].words, round(c.Share, placesShare), round(c.Shift, placesCents), c.Matched})
	}
	return out
}
