package catalogue

import (
	"time"

	"ringwell/analysis"
)

// exportVersion is the version of the export's form.
const exportVersion = 1

// The export is JSON Lines (jsonlines.org): UTF-8, one object a line, its
// "type" first. Lines come in this order, so that what a line refers to stands
// above it:
//
//	shelf      {"type":"shelf","version":1,"demo":false}: the first line; demo: invented, to try things on
//	photo      hash, width, height, jpeg (base64)
//	object     id, name, kind, material, length_mm ... mass_g (null: not known), kept_at, found_at, found_on, notes,
//	           photo (hash or null), created, changed, put_away (null: on the shelf),
//	           states: [{"state":...,"since":...,"note":...}] as told, the last is how it is
//	voice      id, object, place, beater, support, fill, pinned_hz (null: as heard), created, put_away
//	recording  hash (SHA-256), added, wav (base64)
//	strike     id, voice, time, recording, onset_frame, rate_hz, source, input, room, temperature_c (or null),
//	           analysis, used_s, clock_ppm, peak, heard and second (null, or hz, sigma_c, basis, partial, likelihood),
//	           partials, remarks: [{"code":...,"words":...}], note, put_away
//	instrument name, alike, made, notes: [{"midi":...,"label":...,"strikes":...,"targets_hz":[...],
//	           "partials":[{"frequency_hz":...,"sigma_c":...,"level_db":...,"t60_s":...}]}]
//	file       content (96 bits of SHA-256), name, strikes, added: a recording whose strikes were all kept
//	end        {"type":"end","lines":N}: the last line, with how many stand above it
//
// A partial has frequency_hz, sigma_c, level_db, sigma_level_db, t60_s,
// sigma_t60_s, beat_hz, sigma_beat_hz, pair, and cov and cross: four rows of
// four, of (ln amplitude, phase rad, rad/s, neper/s), or null. Times are UTC,
// RFC 3339. Figures over strikes are not exported: they follow from the rest.
type exportedShelf struct {
	Type    string `json:"type"`
	Version int    `json:"version"`
	Demo    bool   `json:"demo"`
}

type exportedEnd struct {
	Type  string `json:"type"`
	Lines int    `json:"lines"`
}

type exportedPhoto struct {
	Type   string `json:"type"`
	Hash   string `json:"hash"`
	Width  int    `json:"width"`
	Height int    `json:"height"`
	JPEG   []byte `json:"jpeg"`
}

type exportedObject struct {
	Type        string          `json:"type"`
	ID          string          `json:"id"`
	Name        string          `json:"name"`
	Kind        analysis.Kind   `json:"kind"`
	Material    string          `json:"material"`
	LengthMM    *float64        `json:"length_mm"`
	WidthMM     *float64        `json:"width_mm"`
	HeightMM    *float64        `json:"height_mm"`
	DiameterMM  *float64        `json:"diameter_mm"`
	ThicknessMM *float64        `json:"thickness_mm"`
	MassG       *float64        `json:"mass_g"`
	KeptAt      string          `json:"kept_at"`
	FoundAt     string          `json:"found_at"`
	FoundOn     string          `json:"found_on"`
	Notes       string          `json:"notes"`
	Photo       *string         `json:"photo"`
	Created     time.Time       `json:"created"`
	Changed     time.Time       `json:"changed"`
	PutAway     *time.Time      `json:"put_away"`
	States      []exportedState `json:"states"`
}

type exportedState struct {
	State State     `json:"state"`
	Since time.Time `json:"since"`
	Note  string    `json:"note"`
}

type exportedVoice struct {
	Type     string     `json:"type"`
	ID       string     `json:"id"`
	Object   string     `json:"object"`
	Place    string     `json:"place"`
	Beater   string     `json:"beater"`
	Support  string     `json:"support"`
	Fill     string     `json:"fill"`
	PinnedHz *float64   `json:"pinned_hz"`
	Created  time.Time  `json:"created"`
	PutAway  *time.Time `json:"put_away"`
}

type exportedRecording struct {
	Type  string `json:"type"`
	Hash  string `json:"hash"`
	Added string `json:"added"`
	WAV   []byte `json:"wav"`
}

type exportedStrike struct {
	Type        string            `json:"type"`
	ID          string            `json:"id"`
	Voice       string            `json:"voice"`
	Time        time.Time         `json:"time"`
	Recording   string            `json:"recording"`
	Frame       int64             `json:"onset_frame"`
	Rate        float64           `json:"rate_hz"`
	Source      string            `json:"source"`
	Input       string            `json:"input"`
	Room        string            `json:"room"`
	Temperature *float64          `json:"temperature_c"`
	Analysis    string            `json:"analysis"`
	Used        float64           `json:"used_s"`
	ClockPPM    float64           `json:"clock_ppm"`
	Peak        float64           `json:"peak"`
	Heard       *exportedPitch    `json:"heard"`
	Second      *exportedPitch    `json:"second"`
	Partials    []exportedPartial `json:"partials"`
	Remarks     []remark          `json:"remarks"`
	Note        string            `json:"note"`
	PutAway     *time.Time        `json:"put_away"`
}

type exportedPitch struct {
	Hz         analysis.Hz    `json:"hz"`
	Sigma      analysis.Cents `json:"sigma_c"`
	Basis      analysis.Basis `json:"basis"`
	Partial    int            `json:"partial"`
	Likelihood float64        `json:"likelihood"`
}

type exportedPartial struct {
	Frequency  analysis.Hz    `json:"frequency_hz"`
	Sigma      analysis.Cents `json:"sigma_c"`
	Level      float64        `json:"level_db"`
	SigmaLevel float64        `json:"sigma_level_db"`
	T60        float64        `json:"t60_s"`
	SigmaT60   float64        `json:"sigma_t60_s"`
	Beat       float64        `json:"beat_hz"`
	SigmaBeat  float64        `json:"sigma_beat_hz"`
	Pair       int            `json:"pair"`
	Cov        *[4][4]float64 `json:"cov"`
	Cross      *[4][4]float64 `json:"cross"`
}

func exportPartial(p *analysis.Partial) exportedPartial {
	e := exportedPartial{p.Frequency, p.Sigma, p.Level, p.SigmaLevel, p.T60, p.SigmaT60, p.Beat, p.SigmaBeat, p.Pair, nil, nil}
	if p.Cov != ([4][4]float64{}) {
		e.Cov = &p.Cov
	}
	if p.Cross != ([4][4]float64{}) {
		e.Cross = &p.Cross
	}
	return e
}

func (e *exportedPartial) partial() analysis.Partial {
	p := analysis.Partial{Frequency: e.Frequency, Sigma: e.Sigma, Level: e.Level, SigmaLevel: e.SigmaLevel, T60: e.T60, SigmaT60: e.SigmaT60,
		Beat: e.Beat, SigmaBeat: e.SigmaBeat, Pair: e.Pair}
	if e.Cov != nil {
		p.Cov = *e.Cov
	}
	if e.Cross != nil {
		p.Cross = *e.Cross
	}
	return p
}

func exportPitch(p *analysis.Pitch) *exportedPitch {
	if p == nil {
		return nil
	}
	return &exportedPitch{p.Frequency, p.Sigma, p.Basis, p.Partial, p.Likelihood}
}

func (e *exportedPitch) pitch() *analysis.Pitch {
	if e == nil {
		return nil
	}
	return &analysis.Pitch{Frequency: e.Hz, Sigma: e.Sigma, Basis: e.Basis, Partial: e.Partial, Likelihood: e.Likelihood}
}

func exportStrike(k *Kept) exportedStrike {
	e := exportedStrike{"strike", k.ID, k.Voice, k.Time, k.Recording, k.Frame, float64(k.Rate), k.Source, k.Input, k.Room, k.Temperature,
		k.Analysis, k.Used, k.ClockPPM, k.Peak, exportPitch(k.Heard), exportPitch(k.Second), []exportedPartial{}, remarksOf(k.Remarks), k.Note, k.PutAway}
	for i := range k.Partials {
		e.Partials = append(e.Partials, exportPartial(&k.Partials[i]))
	}
	return e
}

func (e *exportedStrike) kept() Kept {
	k := Kept{Strike: analysis.Strike{ID: e.ID, Stage: analysis.Final, Source: e.Source, Rate: analysis.Rate(e.Rate), Time: e.Time, Used: e.Used,
		Heard: e.Heard.pitch(), Second: e.Second.pitch(), ClockPPM: e.ClockPPM, Peak: e.Peak},
		Voice: e.Voice, Recording: e.Recording, Frame: e.Frame, Temperature: e.Temperature, Room: e.Room, Input: e.Input,
		Analysis: e.Analysis, Note: e.Note, PutAway: e.PutAway}
	for i := range e.Partials {
		k.Partials = append(k.Partials, e.Partials[i].partial())
	}
	for _, r := range e.Remarks {
		k.Remarks = append(k.Remarks, analysis.Remark(r))
	}
	return k
}

type exportedInstrument struct {
	Type  string         `json:"type"`
	Name  string         `json:"name"`
	Alike string         `json:"alike"`
	Made  time.Time      `json:"made"`
	Notes []exportedNote `json:"notes"`
}

type exportedNote struct {
	Key      int           `json:"midi"`
	Label    string        `json:"label"`
	Strikes  int           `json:"strikes"`
	Targets  []analysis.Hz `json:"targets_hz"`
	Partials []NotePartial `json:"partials"`
}

type exportedFile struct {
	Type    string    `json:"type"`
	Content string    `json:"content"`
	Name    string    `json:"name"`
	Strikes int       `json:"strikes"`
	Added   time.Time `json:"added"`
}
