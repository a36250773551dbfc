package webview

import (
	"context"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
)

// ObjectForm is an object on the shelf.
type ObjectForm struct {
	ID        string          `json:"id"`
	Name      string          `json:"name"`
	Kind      analysis.Kind   `json:"kind"`
	Material  string          `json:"material"`
	Length    *float64        `json:"length_mm"`
	Width     *float64        `json:"width_mm"`
	Height    *float64        `json:"height_mm"`
	Diameter  *float64        `json:"diameter_mm"`
	Thickness *float64        `json:"thickness_mm"`
	Mass      *float64        `json:"mass_g"`
	KeptAt    string          `json:"kept_at"`
	FoundAt   string          `json:"found_at"`
	FoundOn   string          `json:"found_on"`
	Notes     string          `json:"notes"`
	Photo     *string         `json:"photo"` // path
	State     catalogue.State `json:"state"`
	States    []StateForm     `json:"states"` // oldest first; [] in lists
	Created   string          `json:"created"`
	Changed   string          `json:"changed"`
	PutAway   *string         `json:"put_away"`
	Voices    []VoiceForm     `json:"voices"`
}

// StateForm is how an object was since a time.
type StateForm struct {
	State catalogue.State `json:"state"`
	Since string          `json:"since"`
	Note  string          `json:"note"`
}

// VoiceForm is one way to sound an object, with what its strikes say.
type VoiceForm struct {
	ID         string          `json:"id"`
	Object     string          `json:"object"`
	ObjectName string          `json:"object_name"`
	Kind       analysis.Kind   `json:"kind"` // of the object, as the next four
	Material   string          `json:"material"`
	State      catalogue.State `json:"state"`
	KeptAt     string          `json:"kept_at"`
	Photo      *string         `json:"photo"`
	Label      string          `json:"label"`
	Place      string          `json:"place"`
	Beater     string          `json:"beater"`
	Support    string          `json:"support"`
	Fill       string          `json:"fill"`
	Pinned     *float64        `json:"pinned_hz"`
	Strikes    int             `json:"strikes"`
	Pitch      *float64        `json:"pitch_hz"`
	Spread     *float64        `json:"spread_cents"` // one sigma of a single strike
	Ring       *float64        `json:"ring_s"`
	Level      *float64        `json:"level_db"` // of the loudest sample, full scale 0, median
	First      *string         `json:"first"`
	Last       *string         `json:"last"`
	Created    string          `json:"created"`
	PutAway    *string         `json:"put_away"`
	Landing    *Place          `json:"landing"`
	Partials   []ModeForm      `json:"partials"`  // [] in lists
	Off        *float64        `json:"off_cents"` // above what was looked for
}

// ModeForm is a partial as a voice has it, over its strikes.
type ModeForm struct {
	Frequency   float64  `json:"frequency_hz"`
	Spread      *float64 `json:"spread_cents"` // null: seen once
	Level       float64  `json:"level_db"`
	SpreadLevel *float64 `json:"spread_db"`
	T60         *float64 `json:"t60_s"`
	Seen        int      `json:"seen"` // in how many strikes
	Landing     *Place   `json:"landing"`
}

// KeptForm is a strike on the shelf.
type KeptForm struct {
	Strike
	Voice       string   `json:"voice"`
	Temperature *float64 `json:"temperature_c"`
	Room        string   `json:"room"`
	Input       string   `json:"input"`
	Note        string   `json:"note"`
	Analysis    string   `json:"analysis"` // version of the ear
	PutAway     *string  `json:"put_away"`
	Recording   string   `json:"recording"` // path
}

const photoPath, keptPath = "/api/shelf/photos/", "/api/shelf/strikes/"

// seeing is how the shelf is seen now.
func (s *Server) seeing() lens {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.lens()
}

func timeForm(t time.Time) string { return t.UTC().Format(wireTime) }

func timeOrNull(t *time.Time) *string {
	if t == nil || t.IsZero() {
		return nil
	}
	words := timeForm(*t)
	return &words
}

func photoForm(hash string) *string {
	if hash == "" {
		return nil
	}
	path := photoPath + hash + ".jpg"
	return &path
}

func (l lens) voice(r *catalogue.Row) VoiceForm {
	v, o := &r.Voice, &r.Object
	out := VoiceForm{
		ID: v.ID, Object: v.Object, ObjectName: o.Name, Kind: o.Kind, Material: o.Material, State: r.State, KeptAt: o.KeptAt, Photo: photoForm(o.Photo),
		Label: voiceLabel(r), Place: v.Place, Beater: v.Beater, Support: v.Support, Fill: v.Fill,
		Pinned: known(v.PinnedHz, placesHz, v.PinnedHz > 0), Strikes: r.Strikes,
		Pitch: known(r.Pitch, placesHz, r.Pitch > 0), Spread: known(r.Spread, placesCents, r.Spread > 0),
		Ring: known(r.Ring, placesSeconds, r.Ring > 0), Level: known(r.Level, placesDB, true),
		First: timeOrNull(&r.First), Last: timeOrNull(&r.Last), Created: timeForm(v.Created), PutAway: timeOrNull(v.PutAway),
		Partials: []ModeForm{},
	}
	if r.Pitch > 0 {
		out.Landing = placeOf(r.Pitch, l.in)
	}
	for _, m := range r.Modes {
		out.Partials = append(out.Partials, ModeForm{
			Frequency: round(m.Frequency, placesHz), Spread: known(m.Spread, placesCents, m.Seen > 1),
			Level: round(m.Level, placesDB), SpreadLevel: known(m.SpreadLevel, placesDB, m.Seen > 1),
			T60: known(m.T60, placesSeconds, m.T60 > 0), Seen: m.Seen, Landing: placeOf(m.Frequency, l.in),
		})
	}
	return out
}

func (l lens) kept(k *catalogue.Kept) KeptForm {
	out := KeptForm{Strike: StrikeForm(k.Strike, l.in, l.aim), Voice: k.Voice, Temperature: k.Temperature, Room: k.Room, Input: k.Input,
		Note: k.Note, Analysis: k.Analysis, PutAway: timeOrNull(k.PutAway), Recording: keptPath + k.ID + ".wav"}
	out.Sound = true
	return out
}

func objectForm(o *catalogue.Object, state catalogue.State) ObjectForm {
	z := o.Size
	return ObjectForm{ID: o.ID, Name: o.Name, Kind: o.Kind, Material: o.Material, Length: z.LengthMM, Width: z.WidthMM, Height: z.HeightMM,
		Diameter: z.DiameterMM, Thickness: z.ThicknessMM, Mass: z.MassG, KeptAt: o.KeptAt, FoundAt: o.FoundAt, FoundOn: o.FoundOn, Notes: o.Notes,
		Photo: photoForm(o.Photo), State: state, States: []StateForm{}, Created: timeForm(o.Created), Changed: timeForm(o.Changed),
		PutAway: timeOrNull(o.PutAway), Voices: []VoiceForm{}}
}

// objectForms are the objects that fit a query, by name, with their voices:
// those on the shelf or those put away.
func (s *Server) objectForms(ctx context.Context, shelf *catalogue.Reader, q *catalogue.Query, away bool) ([]ObjectForm, error) {
	all := []ObjectForm{}
	objects, err := shelf.Objects(ctx, away)
	if err != nil {
		return all, err
	}
	states, err := shelf.NowStates(ctx)
	if err != nil {
		return all, err
	}
	rows, err := shelf.Find(ctx, *q)
	if err != nil {
		return all, err
	}
	voices := map[string][]*catalogue.Row{}
	for i := range rows {
		id := rows[i].Object.ID
		voices[id] = append(voices[id], &rows[i])
	}
	see := s.seeing()
	ofVoice := q.Near > 0 || q.RingMin > 0 || q.RingMax > 0
	for i := range objects {
		o := &objects[i]
		row := catalogue.Row{Object: *o, State: states[o.ID]}
		if len(voices[o.ID]) == 0 && (ofVoice || q.Kind != "" && q.Kind != o.Kind || !q.Fits(&row)) {
			continue
		}
		form := objectForm(o, states[o.ID])
		for _, v := range voices[o.ID] {
			form.Voices = append(form.Voices, see.voice(v))
		}
		all = append(all, form)
	}
	return all, nil
}

// wholeObject is one object with all there is to say of it.
func (s *Server) wholeObject(ctx context.Context, shelf *catalogue.Reader, id string) (ObjectForm, error) {
	o, err := shelf.Object(ctx, id)
	if err != nil {
		return ObjectForm{}, err
	}
	past, err := shelf.History(ctx, id)
	if err != nil {
		return ObjectForm{}, err
	}
	form := objectForm(&o, catalogue.Whole)
	for _, c := range past {
		form.State = c.State
		form.States = append(form.States, StateForm{c.State, timeForm(c.Since), c.Note})
	}
	voices, err := shelf.Voices(ctx, id)
	if err != nil {
		return form, err
	}
	see := s.seeing()
	for _, v := range voices {
		row, err := shelf.Row(ctx, v.ID)
		if err != nil {
			return form, err
		}
		form.Voices = append(form.Voices, see.voice(&row))
	}
	return form, nil
}
