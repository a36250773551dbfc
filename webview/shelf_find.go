package webview

import (
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
	"ringwell/analysis/instrument"
	"ringwell/analysis/match"
)

// usualWithin is how near is near enough where nobody says, in cents.
const usualWithin = 20

// query reads what is looked for. Its errors are refusals.
func (s *Server) query(r *http.Request) (catalogue.Query, error) {
	v := r.URL.Query()
	q := catalogue.Query{Within: usualWithin, Kind: analysis.Kind(v.Get("kind")), Material: v.Get("material"), State: catalogue.State(v.Get("state")),
		KeptAt: v.Get("kept_at"), Words: v.Get("words"), Object: v.Get("object")}
	if q.Kind != "" && !slices.Contains(analysis.Kinds(), q.Kind) {
		return q, refuse(http.StatusUnprocessableEntity, "kind", "There is no kind %q.", q.Kind)
	}
	if q.State != "" && !slices.Contains(catalogue.States(), q.State) {
		return q, refuse(http.StatusUnprocessableEntity, "state", "There is no state %q.", q.State)
	}
	var bend, within float64 = 0, usualWithin
	for _, n := range []struct {
		field     string
		to        *float64
		low, high float64
	}{{"bend_cents", &bend, -1200, 1200}, {"within_cents", &within, 0, 2400}, {"ring_min_s", &q.RingMin, 0, 1000}, {"ring_max_s", &q.RingMax, 0, 1000}} {
		given := v.Get(n.field)
		if given == "" {
			continue
		}
		x, err := strconv.ParseFloat(given, 64)
		if err != nil || !(x >= n.low && x <= n.high) {
			return q, refuse(http.StatusUnprocessableEntity, n.field, "Give a number from %g to %g.", n.low, n.high)
		}
		*n.to = x
	}
	q.Within = analysis.Cents(within)
	near := v.Get("near")
	if near == "" {
		return q, nil
	}
	f, err := s.pitchNamed(near)
	if err != nil {
		return q, err
	}
	q.Near = f.Shift(analysis.Cents(bend))
	return q, nil
}

// pitchNamed is where a note lies on the session's instrument, or a frequency.
func (s *Server) pitchNamed(near string) (analysis.Hz, error) {
	if f, err := strconv.ParseFloat(near, 64); err == nil {
		if !(f > 0 && f < 1e6) {
			return 0, refuse(http.StatusUnprocessableEntity, "near", "Give a frequency above 0 and below a million Hz.")
		}
		return analysis.Hz(f), nil
	}
	key, err := instrument.ParseLabel(near)
	if err != nil {
		return 0, refuse(http.StatusUnprocessableEntity, "near", "%q is no note and no frequency. Give a note as F#5, or a frequency in Hz.", near)
	}
	in := s.seeing().in
	if note, ok := in.Note(key); ok && len(note.Targets) > 0 {
		return note.Targets[0], nil
	}
	return instrument.Frequency(key, in.Reference), nil
}

func (s *Server) getVoices(w http.ResponseWriter, r *http.Request, shelf *catalogue.Reader) error {
	q, err := s.query(r)
	if err != nil {
		return err
	}
	rows, err := shelf.Find(r.Context(), q)
	if err != nil {
		return err
	}
	forms, see := []VoiceForm{}, s.seeing()
	for i := range rows {
		form := see.voice(&rows[i])
		if q.Near > 0 {
			form.Off = known(rows[i].Off, placesCents, true)
		}
		forms = append(forms, form)
	}
	answer(w, struct {
		Voices []VoiceForm `json:"voices"`
	}{forms})
	return nil
}

// AlikeForm is a voice and how far it is apart from the one asked for.
type AlikeForm struct {
	Voice    VoiceForm    `json:"voice"`
	Distance float64      `json:"distance"` // 0 the same, 1 nothing in common
	Reasons  []ReasonForm `json:"reasons"`  // the weightiest first
}

// ReasonForm is why.
type ReasonForm struct {
	Why       match.Why `json:"why"`
	Frequency float64   `json:"frequency_hz"`
	By        float64   `json:"by"`    // cents, dB or a factor, by why
	Share     float64   `json:"share"` // of the distance
	Words     string    `json:"words"`
}

// mostReasons is how many reasons are told: more than a hand's fingers nobody
// reads.
const mostReasons = 4

func (s *Server) getAlike(w http.ResponseWriter, r *http.Request, shelf *catalogue.Reader) error {
	n, err := count(r, "n", 10, 100)
	if err != nil {
		return err
	}
	row, err := shelf.Row(r.Context(), r.PathValue("id"))
	if err != nil {
		return err
	}
	if len(row.Modes) == 0 {
		return refuse(http.StatusConflict, "", "No strike of that voice is kept, so nothing can be like it.")
	}
	var near []match.Neighbour
	err = s.shelf.known.with(r.Context(), shelf, func(p *prints) { near = match.Alike(row.Modes, p.voices, row.Object.ID, n) })
	if err != nil {
		return err
	}
	out, see := []AlikeForm{}, s.seeing()
	for _, x := range near {
		other, err := shelf.Row(r.Context(), x.ID)
		if err != nil {
			return err
		}
		form := AlikeForm{see.voice(&other), round(x.Distance, placesShare), []ReasonForm{}}
		for _, y := range x.Reasons[:min(mostReasons, len(x.Reasons))] {
			form.Reasons = append(form.Reasons, ReasonForm{y.Why, round(y.Frequency, placesHz), round(y.By, placesCents), round(y.Share, placesShare), reasonWords(y)})
		}
		out = append(out, form)
	}
	answer(w, struct {
		Alike []AlikeForm `json:"alike"`
	}{out})
	return nil
}

func reasonWords(y match.Reason) string {
	f := math.Round(float64(y.Frequency))
	more := y.By > 0
	switch y.Why {
	case match.WhyPitch:
		return fmt.Sprintf("Its partial beside %.0f Hz lies %.0f cents %s.", f, math.Abs(y.By), either(more, "higher", "lower"))
	case match.WhyLevel:
		return fmt.Sprintf("Its partial beside %.0f Hz is %.0f dB %s.", f, math.Abs(y.By), either(more, "louder", "fainter"))
	case match.WhyRing:
		return fmt.Sprintf("Its partial beside %.0f Hz rings %.1f times as long.", f, y.By)
	case match.WhyMissing:
		return fmt.Sprintf("It has no partial at %.0f Hz.", f)
	}
	return fmt.Sprintf("It has a partial more, at %.0f Hz.", f)
}

func either(yes bool, a, b string) string {
	if yes {
		return a
	}
	return b
}

// count reads a number of things from the query.
func count(r *http.Request, field string, usual, most int) (int, error) {
	given := r.URL.Query().Get(field)
	if given == "" {
		return usual, nil
	}
	n, err := strconv.Atoi(given)
	if err != nil || n < 1 || n > most {
		return 0, refuse(http.StatusUnprocessableEntity, field, "Give a number from 1 to %d.", most)
	}
	return n, nil
}

// PairForm are two voices that beat with each other.
type PairForm struct {
	A     VoiceForm `json:"a"`
	B     VoiceForm `json:"b"`
	Beat  float64   `json:"beat_hz"`
	Sigma *float64  `json:"sigma_hz"`
}

// The fastest beat that is heard as one and not as roughness, and how many
// pairs are told. Chosen.
const (
	usualBeat = 8.0
	mostPairs = 200
)

func (s *Server) getPairs(w http.ResponseWriter, r *http.Request, shelf *catalogue.Reader) error {
	atMost := usualBeat
	if given := r.URL.Query().Get("beat_max_hz"); given != "" {
		hz, err := strconv.ParseFloat(given, 64)
		if err != nil || !(hz > 0 && hz <= 30) {
			return refuse(http.StatusUnprocessableEntity, "beat_max_hz", "Give more than 0 and at most 30 Hz.")
		}
		atMost = hz
	}
	rows, err := shelf.Find(r.Context(), catalogue.Query{})
	if err != nil {
		return err
	}
	voices := make([]match.Pitched, len(rows))
	for i := range rows {
		voices[i] = match.Pitched{ID: rows[i].Voice.ID, Object: rows[i].Object.ID, Pitch: rows[i].Pitch, Spread: rows[i].Spread}
	}
	out, see := []PairForm{}, s.seeing()
	for _, p := range match.Pairs(voices, atMost, mostPairs) {
		out = append(out, PairForm{see.voice(&rows[p.A]), see.voice(&rows[p.B]), round(p.Beat, placesHz), known(p.Sigma, placesHz, p.Sigma > 0)})
	}
	answer(w, struct {
		Pairs []PairForm `json:"pairs"`
	}{out})
	return nil
}

func (s *Server) getVoiceHealth(w http.ResponseWriter, r *http.Request, shelf *catalogue.Reader) error {
	voice := r.PathValue("id")
	row, err := shelf.Row(r.Context(), voice)
	if err != nil {
		return err
	}
	strikes, err := shelf.Soundings(r.Context(), voice, "", match.History+1)
	if err != nil {
		return err
	}
	h := match.ExamineNewest(strikes)
	answer(w, healthForm(&h, row.Object.Kind))
	return nil
}
