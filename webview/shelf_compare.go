package webview

import (
	"context"
	"errors"
	"io/fs"
	"math"
	"net/http"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
	"ringwell/analysis/match"
)

// CompareForm holds two strikes against each other.
type CompareForm struct {
	A        CompareSide   `json:"a"`
	B        CompareSide   `json:"b"`
	Partials []ComparePair `json:"partials"` // by frequency
	Words    []string      `json:"words"`    // what differs beyond chance
	Spectra  *SpectraForm  `json:"spectra"`  // null where a sound is gone
	Decay    *DecayForm    `json:"decay"`
}

// CompareSide is one of the two.
type CompareSide struct {
	Strike      string   `json:"strike"`
	Voice       *string  `json:"voice"`
	Label       string   `json:"label"`
	Time        *string  `json:"time"`
	Temperature *float64 `json:"temperature_c"`
	Gain        *float64 `json:"gain_db"` // at most 0: played so, both are equally loud
	Sound       *string  `json:"sound"`   // path
}

// ComparePair are two partials that belong together, or one alone.
type ComparePair struct {
	A     *Partial   `json:"a"`
	B     *Partial   `json:"b"`
	Cents *DeltaForm `json:"cents"`
	Level *DeltaForm `json:"level_db"`
	Ring  *DeltaForm `json:"ring_factor"`
}

// DeltaForm is by how much B differs from A.
type DeltaForm struct {
	By          float64 `json:"by"`
	Low         float64 `json:"low"` // with 95 % it lies between low and high
	High        float64 `json:"high"`
	Significant bool    `json:"significant"` // beyond chance, over all that was compared
}

// SpectraForm are both spectra, dB below each one's own loudest.
type SpectraForm struct {
	Frequency []float64 `json:"frequency_hz"`
	A         []float64 `json:"a_db"`
	B         []float64 `json:"b_db"`
}

// DecayForm are both decays, dB below each one's own loudest.
type DecayForm struct {
	Time []float64 `json:"time_s"`
	A    []float64 `json:"a_db"`
	B    []float64 `json:"b_db"`
}

// side is a strike to compare, with its sound from the onset on.
type side struct {
	form   CompareSide
	strike analysis.Strike
	sound  []float64
}

func (s *Server) getCompare(w http.ResponseWriter, r *http.Request, shelf *catalogue.Reader) error {
	ids := [2]string{r.URL.Query().Get("a"), r.URL.Query().Get("b")}
	var both [2]side
	for i, id := range ids {
		if id == "" {
			return refuse(http.StatusUnprocessableEntity, string("ab"[i]), "Name two strikes, as a and b.")
		}
		var err error
		if both[i], err = s.sideOf(r.Context(), shelf, id); err != nil {
			return err
		}
	}
	var own []match.Mode
	for _, b := range both {
		if b.form.Voice != nil && own == nil {
			f, err := shelf.Figures(r.Context(), *b.form.Voice)
			if err != nil && !errors.Is(err, fs.ErrNotExist) {
				return err
			}
			own = f.Modes
		}
	}
	answer(w, s.compareForm(&both[0], &both[1], own))
	return nil
}

// sideOf finds a strike on the shelf or on the trail.
func (s *Server) sideOf(ctx context.Context, shelf *catalogue.Reader, id string) (side, error) {
	k, err := shelf.Strike(ctx, id)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return side{}, err
	}
	if err != nil {
		e, _, err := s.snapshot(id)
		if err != nil {
			return side{}, refuse(http.StatusNotFound, "", "That strike is neither on the shelf nor on the trail any more.")
		}
		out := side{strike: e.strike, form: CompareSide{Strike: id, Label: "on the trail", Time: timeOrNull(&e.strike.Time)}}
		if e.name != nil {
			out.form.Label = *e.name
		}
		if e.sound != nil {
			path := "/api/strikes/" + id + ".wav"
			out.form.Sound = &path
			for _, x := range e.sound[min(len(e.sound), int(max(0, e.strike.Onset-e.strike.From))):] {
				out.sound = append(out.sound, float64(x))
			}
		}
		return out, nil
	}
	row, err := shelf.Row(ctx, k.Voice)
	if err != nil {
		return side{}, err
	}
	out := side{strike: k.Strike, form: CompareSide{Strike: id, Voice: &k.Voice, Label: voiceLabel(&row), Time: timeOrNull(&k.Time), Temperature: k.Temperature}}
	data, err := shelf.Recording(k.Recording)
	if err != nil {
		s.cfg.Log.Warn("compare", "err", err) // what was measured can be compared all the same
		return out, nil
	}
	sound, rate, err := s.shelf.Decode(data)
	if err != nil || rate != k.Rate {
		s.cfg.Log.Warn("compare", "strike", id, "rate", rate, "err", err)
		return out, nil
	}
	path := keptPath + id + ".wav"
	out.form.Sound, out.sound = &path, sound[min(int64(len(sound)), k.Frame):]
	return out, nil
}

func (s *Server) compareForm(a, b *side, own []match.Mode) CompareForm {
	pairs := match.Compare(a.strike.Partials, b.strike.Partials, own)
	out := CompareForm{Partials: []ComparePair{}, Words: match.Sayings(pairs, a.strike.Partials)}
	see := s.seeing()
	for _, p := range pairs {
		form := ComparePair{Cents: deltaForm(p.Cents), Level: deltaForm(p.Level), Ring: deltaForm(p.Ring)}
		if p.A >= 0 {
			x := partialForm(a.strike.Partials[p.A], see.in)
			form.A = &x
		}
		if p.B >= 0 {
			x := partialForm(b.strike.Partials[p.B], see.in)
			form.B = &x
		}
		out.Partials = append(out.Partials, form)
	}
	if len(a.sound) > 0 && len(b.sound) > 0 {
		out.Spectra, out.Decay = curves(a, b)
	}
	out.A, out.B = a.form, b.form
	return out
}

func deltaForm(d *match.Delta) *DeltaForm {
	if d == nil {
		return nil
	}
	return &DeltaForm{round(d.By, placesCents), round(d.Low, placesCents), round(d.High, placesCents), d.Significant}
}

// curves works out what is drawn, and how loud each is to be played.
func curves(a, b *side) (*SpectraForm, *DecayForm) {
	x, y := match.Look(a.sound, a.strike.Rate), match.Look(b.sound, b.strike.Rate)
	if quiet := min(x.Loudness, y.Loudness); !math.IsInf(quiet, 0) {
		a.form.Gain, b.form.Gain = known(quiet-x.Loudness, placesDB, true), known(quiet-y.Loudness, placesDB, true)
	}
	n := min(len(x.Frequency), len(y.Frequency))
	if n > 0 && x.Frequency[n-1] != y.Frequency[n-1] {
		// Two sample rates under 40 kHz reach differently high: drawn over each
		// other they must stand at the same places.
		y = resampled(y, x.Frequency)
	}
	spectra := &SpectraForm{places(x.Frequency[:n], 1), places(x.Spectrum[:n], 1), places(y.Spectrum[:n], 1)}
	long := x.Time // the shorter decay ends sooner
	if len(y.Time) > len(long) {
		long = y.Time
	}
	decay := &DecayForm{places(long, 3), places(x.Decay, 1), places(y.Decay, 1)}
	return spectra, decay
}

// resampled gives a spectrum at other frequencies: the nearest point's.
func resampled(c match.Curves, at []analysis.Hz) match.Curves {
	out := c
	out.Frequency, out.Spectrum = at, make([]float64, len(at))
	j := 0
	for i, f := range at {
		for j+1 < len(c.Frequency) && math.Abs(float64(c.Frequency[j+1]-f)) <= math.Abs(float64(c.Frequency[j]-f)) {
			j++
		}
		out.Spectrum[i] = c.Spectrum[j]
	}
	return out
}

// places rounds what is only drawn.
func places[T ~float64](x []T, n int) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		out[i] = round(x[i], n)
	}
	return out
}
