package webview

import (
	"time"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
)

// Strike is the one JSON form of a strike: on the socket, in GET /api/strikes
// and in "ringwell measure --json".
type Strike struct {
	ID         string         `json:"id"`       // unique across restarts; sorts by time
	Revision   int            `json:"revision"` // 1 for the first telling
	Stage      analysis.Stage `json:"stage"`
	Source     string         `json:"source"`
	SampleRate float64        `json:"sample_rate_hz"`
	OnsetS     float64        `json:"onset_s"`      // seconds on the source's sample clock
	Onset      int64          `json:"onset_sample"` // the same as an index
	Time       *string        `json:"time"`         // UTC, RFC 3339 with microseconds
	UsedS      float64        `json:"used_s"`       // seconds of sound this telling rests on

	Pitched       bool     `json:"pitched"`
	Heard         *Pitch   `json:"heard"`
	Second        *Pitch   `json:"second"` // another pitch some listeners will name; the ear's own where pinned is true
	Pinned        bool     `json:"pinned"` // a player said which partial is heard
	Landing       *Landing `json:"landing"`
	SecondLanding *Landing `json:"second_landing"`

	Partials []Partial `json:"partials"` // by frequency
	Remarks  []Remark  `json:"remarks"`
	ClockPPM float64   `json:"clock_ppm"` // one sigma of the input's clock; not in any sigma_cents
	RingsS   *float64  `json:"rings_s"`   // how long it rings, as a player would say: see rings
	Peak     float64   `json:"peak"`      // largest |sample| in the first 100 ms, full scale 1

	Roll   *Roll   `json:"roll"`   // many strokes told as one; null: a single stroke
	Glide  *Glide  `json:"glide"`  // null: its pitch stayed
	Wobble *Wobble `json:"wobble"` // null: it did not swing

	Name  *string `json:"name"`  // what a player called it
	Sound bool    `json:"sound"` // GET /api/strikes/ID.wav has it

	Verdict *Verdict `json:"verdict"` // held against the wanted list; null while that is empty

	Recognised *Recognised `json:"recognised"` // held against the shelf; null while that knows no voice, or not worked out yet
	Kept       *KeptMark   `json:"kept"`       // on the shelf
	Health     *HealthForm `json:"health"`     // beside the history of its voice, once it is final
}

// Pitch is one pitch a listener may name.
type Pitch struct {
	Frequency  float64        `json:"frequency_hz"`
	Sigma      *float64       `json:"sigma_cents"` // one standard deviation, statistical only
	Basis      analysis.Basis `json:"basis"`
	Partial    *int           `json:"partial"`    // index into partials it rests on
	Likelihood float64        `json:"likelihood"` // share of listeners expected to name it
}

// Partial is one damped sinusoid, or one member of a near pair.
type Partial struct {
	Frequency  float64  `json:"frequency_hz"`
	Sigma      *float64 `json:"sigma_cents"`
	Level      float64  `json:"level_db"` // at the onset, relative to the strongest
	SigmaLevel *float64 `json:"sigma_level_db"`
	T60        *float64 `json:"t60_s"`
	SigmaT60   *float64 `json:"sigma_t60_s"`
	Beat       *float64 `json:"beat_hz"` // only where two near modes beat
	SigmaBeat  *float64 `json:"sigma_beat_hz"`
	Pair       *int     `json:"pair"` // the two members of a near pair share one id
	Place      *Place   `json:"landing"`
}

// Place is the nearest note, no aim considered.
type Place struct {
	Note  string  `json:"note"`
	MIDI  int     `json:"midi"`
	Cents float64 `json:"cents"` // above the note; negative is below
}

// Remark is something a player should know of a strike.
type Remark struct {
	Code  string `json:"code"`
	Words string `json:"words"`
}

// wireTime is RFC 3339 with microseconds, always in UTC, so that the text of
// two times sorts as they do.
const wireTime = "2006-01-02T15:04:05.000000Z"

// StrikeForm returns the form of s with every pitch and partial placed among
// the notes of in. Only the heard pitch and the second candidate are held
// against aim. A partial or pitch without a positive, finite frequency is left
// out; Pinned, Name, Sound, Verdict, Recognised, Kept and Health belong to the
// trail, the wanted list and the shelf and stay empty.
func StrikeForm(s analysis.Strike, in instrument.Instrument, aim instrument.Aim) Strike {
	out := Strike{
		ID: s.ID, Revision: s.Revision, Stage: s.Stage, Source: s.Source,
		SampleRate: round(s.Rate, placesHz), Onset: s.Onset,
		UsedS:    round(s.Used, placesSeconds),
		Partials: []Partial{}, Remarks: []Remark{},
		ClockPPM: round(s.ClockPPM, placesShare), Peak: round(s.Peak, placesSeconds),
	}
	if s.Rate > 0 {
		out.OnsetS = round(s.Rate.Seconds(s.Onset), placesSeconds)
	}
	if !s.Time.IsZero() {
		t := s.Time.UTC().Round(time.Microsecond).Format(wireTime)
		out.Time = &t
	}
	index := make([]int, len(s.Partials)) // where a partial stands in the form, -1 for nowhere
	for i, p := range s.Partials {
		if index[i] = -1; sounds(p.Frequency) {
			index[i] = len(out.Partials)
			out.Partials = append(out.Partials, partialForm(p, in))
		}
	}
	for _, r := range s.Remarks {
		out.Remarks = append(out.Remarks, Remark{r.Code, r.Words})
	}
	out.Heard, out.Landing = pitchForm(s.Heard, index, in, aim)
	out.Second, out.SecondLanding = pitchForm(s.Second, index, in, aim)
	out.Pitched = out.Heard != nil
	out.RingsS = rings(out.Heard, out.Partials)
	out.Roll, out.Glide, out.Wobble = rollForm(s.Roll, s.Rate), glideForm(s.Glide, in), wobbleForm(s.Wobble)
	return out
}

func sounds(f analysis.Hz) bool { return f > 0 && finite(f) }

func pitchForm(p *analysis.Pitch, index []int, in instrument.Instrument, aim instrument.Aim) (*Pitch, *Landing) {
	if p == nil || !sounds(p.Frequency) {
		return nil, nil
	}
	out := &Pitch{
		Frequency:  round(p.Frequency, placesHz),
		Sigma:      known(p.Sigma, placesCents, true),
		Basis:      p.Basis,
		Likelihood: round(p.Likelihood, placesShare),
	}
	if p.Partial >= 0 && p.Partial < len(index) && index[p.Partial] >= 0 {
		out.Partial = &index[p.Partial]
	}
	return out, landingForm(p.Frequency, in, aim)
}

func partialForm(p analysis.Partial, in instrument.Instrument) Partial {
	out := Partial{
		Frequency:  round(p.Frequency, placesHz),
		Sigma:      known(p.Sigma, placesCents, true),
		Level:      round(p.Level, placesDB),
		SigmaLevel: known(p.SigmaLevel, placesDB, true),
		T60:        known(p.T60, placesSeconds, p.T60 > 0),
		SigmaT60:   known(p.SigmaT60, placesSeconds, p.T60 > 0),
		Beat:       known(p.Beat, placesHz, p.Beat > 0),
		SigmaBeat:  known(p.SigmaBeat, placesHz, p.Beat > 0),
		Place:      placeOf(p.Frequency, in),
	}
	if p.Pair != 0 {
		out.Pair = &p.Pair
	}
	return out
}

// audibleBelow is how far under the strongest partial, in dB, one still counts
// for how long a strike without a pitch rings. Chosen, not measured: 20 dB
// below, a partial is heard as part of the sound rather than by itself.
const audibleBelow = 20

// rings is how long an object rings, in seconds until 60 dB down: the heard
// partial's time, or, where no partial is heard by itself or its time is
// unknown, the longest among those within audibleBelow of the strongest. Nil
// where none of them is known.
func rings(heard *Pitch, partials []Partial) *float64 {
	if heard != nil && heard.Partial != nil {
		if t := partials[*heard.Partial].T60; t != nil {
			return t
		}
	}
	var longest *float64
	for _, p := range partials {
		if p.T60 != nil && p.Level >= -audibleBelow && (longest == nil || *p.T60 > *longest) {
			longest = p.T60
		}
	}
	return longest
}
