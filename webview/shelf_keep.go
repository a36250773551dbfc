package webview

import (
	"context"
	"fmt"
	"net/http"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
)

// keepAs says as what a strike is to be kept. With nothing said it is the voice
// on the stand, else the one it was recognised as, else a new object.
type keepAs struct {
	Voice   string        `json:"voice"`
	Object  string        `json:"object"` // a voice of it, made where there is none so
	Name    string        `json:"name"`   // a new object
	Kind    analysis.Kind `json:"kind"`   // of that; "": what was said to be in the hand
	Place   string        `json:"place"`
	Beater  string        `json:"beater"`
	Support string        `json:"support"`
	Fill    string        `json:"fill"`
}

// Keeping is what came of keeping a strike.
type Keeping struct {
	Kept       *KeptMark   `json:"kept"`
	Health     *HealthForm `json:"health"`
	MadeObject bool        `json:"made_object"`
	MadeVoice  bool        `json:"made_voice"`
}

func (s *Server) keepStrike(w http.ResponseWriter, r *http.Request, shelf *catalogue.Shelf, as keepAs) error {
	id := r.PathValue("id")
	e, _, err := s.snapshot(id)
	if err != nil {
		return err
	}
	if err := s.ready(&e); err != nil {
		return err
	}
	var out Keeping
	voice, err := s.voiceFor(r.Context(), shelf, &e, as, &out)
	if err != nil {
		return err
	}
	done, err := s.keepOn(r.Context(), id, voice)
	if err != nil {
		return err
	}
	out.Kept, out.Health = done.Kept, done.Health
	answer(w, out)
	return nil
}

// ready says why a strike cannot be kept yet, or any more.
func (s *Server) ready(e *entry) error {
	s.mu.Lock()
	demo := s.shelf.form.Demo
	s.mu.Unlock()
	invented := s.shelf.Invented != nil && s.shelf.Invented(e.strike.Source)
	switch {
	case invented && !demo:
		return refuse(http.StatusConflict, "", "The demo scene is invented, and is never kept among real things. To try keeping, start: ringwell --from demo --shelf demo")
	case demo && !invented:
		return refuse(http.StatusConflict, "", "This is the demo shelf, and nothing real is kept on it. Start ringwell without --shelf demo.")
	case e.strike.Stage != analysis.Final:
		return refuse(http.StatusConflict, "", "That strike still rings. Keep it once it has ended.")
	case e.sound == nil:
		return refuse(http.StatusConflict, "", "The sound of that strike is not held any more: newer ones needed the room. Strike it again.")
	}
	return nil
}

// voiceFor finds or makes the voice a strike is to be kept as.
func (s *Server) voiceFor(ctx context.Context, shelf *catalogue.Shelf, e *entry, as keepAs, out *Keeping) (string, error) {
	s.mu.Lock()
	stand := s.shelf.form.Stand
	s.mu.Unlock()
	said := as != keepAs{}
	switch {
	case as.Voice != "":
		return as.Voice, nil
	case as.Object != "":
	case !said && e.kept != nil:
		return e.kept.Voice, nil
	case !said && stand != nil:
		return stand.Voice, nil
	case !said && e.recognised != nil && len(e.recognised.Candidates) == 1:
		return e.recognised.Candidates[0].Voice, nil
	default:
		o, err := s.newObject(ctx, shelf, e, as)
		if err != nil {
			return "", err
		}
		as.Object, out.MadeObject = o.ID, true
	}
	v, added, err := shelf.VoiceSounded(ctx, catalogue.Voice{Object: as.Object, Place: as.Place, Beater: as.Beater, Support: as.Support, Fill: as.Fill})
	out.MadeVoice = added
	return v.ID, err
}

func (s *Server) newObject(ctx context.Context, shelf *catalogue.Shelf, e *entry, as keepAs) (catalogue.Object, error) {
	o := catalogue.Object{Name: as.Name, Kind: as.Kind}
	if o.Kind == "" {
		o.Kind = e.kind
	}
	if o.Name == "" && e.name != nil {
		o.Name = *e.name
	}
	if o.Name == "" {
		tally, err := shelf.Tally(ctx)
		if err != nil {
			return o, err
		}
		o.Name = fmt.Sprint("Object ", tally.Objects+1)
	}
	return shelf.AddObject(ctx, o)
}

// keepOn keeps a strike of the trail as a voice's, judges its health, and tells
// the pages.
func (s *Server) keepOn(ctx context.Context, id, voice string) (Keeping, error) {
	ctx = context.WithoutCancel(ctx) // who asked may go; what was begun is finished
	s.mu.Lock()
	found := s.trail.find(id)
	if found == nil || found.thrown {
		s.mu.Unlock()
		return Keeping{}, noStrike()
	}
	e, f := *found, s.shelf.form
	input := s.state.Source
	s.mu.Unlock()
	if err := s.ready(&e); err != nil {
		return Keeping{}, err
	}
	shelf, err := s.writer()
	if err != nil {
		return Keeping{}, err
	}
	onset := int(e.strike.Onset - e.strike.From)
	data, err := s.shelf.Encode(e.strike.Rate, e.sound, onset, e.strike.Heard)
	if err != nil {
		return Keeping{}, fmt.Errorf("webview: encode the sound of strike %s: %w", id, err)
	}
	k := catalogue.Kept{Strike: e.strike, Voice: voice, Frame: int64(max(0, onset)), Temperature: f.Temperature, Room: f.Room, Input: plainLine(input), Analysis: s.shelf.Ear}
	k.Source = plainLine(k.Source)
	if k.Time.IsZero() {
		k.Time = s.cfg.Now()
	}
	if err := shelf.Keep(ctx, k, data); err != nil {
		return Keeping{}, err
	}
	if err := pinVoice(ctx, shelf, voice, &e); err != nil {
		return Keeping{}, err
	}
	h, form, err := s.healthOf(ctx, &shelf.Reader, e.strike, voice)
	if err != nil {
		return Keeping{}, err
	}
	row, err := shelf.Row(ctx, voice)
	if err != nil {
		return Keeping{}, err
	}
	if h.Suspect() && row.State == catalogue.Whole {
		note := form.Words
		if err := shelf.SetState(ctx, row.Object.ID, catalogue.Condition{State: catalogue.Suspect, Note: note}); err != nil {
			return Keeping{}, err
		}
	}
	s.shelf.known.renew(row)
	out := Keeping{Kept: s.mark(id, &row, form), Health: form}
	s.mu.Lock()
	if st := s.shelf.form.Stand; st != nil && st.Voice == voice {
		next := *st
		next.Kept++
		s.shelf.form.Stand = &next
	}
	s.shelf.form.Notice = nil // of one that was not kept
	s.mu.Unlock()
	s.shelfChanged(ctx)
	return out, nil
}

// pinVoice has a voice without a pin of its own take that of a strike.
func pinVoice(ctx context.Context, shelf *catalogue.Shelf, voice string, e *entry) error {
	if !e.pinned || e.strike.Heard == nil {
		return nil
	}
	v, err := shelf.Voice(ctx, voice)
	if err != nil || v.PinnedHz != 0 {
		return err
	}
	v.PinnedHz = e.strike.Heard.Frequency
	return shelf.ChangeVoice(ctx, v)
}

// mark says on the trail as what a strike is kept, and tells the pages.
func (s *Server) mark(id string, row *catalogue.Row, health *HealthForm) *KeptMark {
	kept := markOf(id, row)
	s.mu.Lock()
	defer s.mu.Unlock()
	if e := s.trail.find(id); e != nil {
		e.kept, e.health, e.tried = kept, health, true
		if !e.thrown {
			s.tellStrike(e)
		}
	}
	return kept
}

// plainLine is what a device calls itself, as one line that can be kept.
func plainLine(text string) string {
	out := []rune{}
	for _, r := range text {
		if r < ' ' || r >= 0x7f && r < 0xa0 || r == '\ufffd' {
			continue
		}
		if out = append(out, r); len(out) == 200 {
			break
		}
	}
	return string(out)
}
