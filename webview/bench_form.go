package webview

import (
	"ringwell/analysis/bench"
	"ringwell/analysis/drift"
)

// Advice is the form of bench.Advice: on the socket, in the answers of
// /api/bench and in "ringwell bench water --json". Cents are above the aim;
// negative is below.
type Advice struct {
	Step   bench.Step `json:"step"`      // sound, add, take, there, again or cannot
	Amount float64    `json:"amount_ml"` // to add or to take; 0 otherwise
	Grams  float64    `json:"amount_g"`
	Sigma  float64    `json:"sigma_ml"` // of what is missing to the aim
	Teach  bool       `json:"teach"`    // the amount stops short, where a sound teaches most
	Chance float64    `json:"chance"`   // that it lies within, now or after the amount

	Fill    float64       `json:"fill_ml"`
	FillG   float64       `json:"fill_g"`
	Now     *Interval     `json:"now_cents"` // null before the first sound, as are the next three
	Aim     *Interval     `json:"aim_ml"`    // in it at the aim
	Empty   *Interval     `json:"empty_cents"`
	Full    *Interval     `json:"full_cents"`
	Within  float64       `json:"within_cents"`
	Promise *float64      `json:"promise_cents"` // what this pouring comes to in nine of ten
	Path    []BenchPoint  `json:"path"`          // the curve with its 95 % band
	Parts   []BenchPart   `json:"partials"`
	Doubt   *string       `json:"doubt"` // a question: what was heard does not fit what is meant
	Says    string        `json:"says"`  // big plain words, one number
	Words   *string       `json:"words"` // what else there is to say
	Sounds  []SoundedFill `json:"sounds"`
}

// Interval is a value with one standard deviation and its 95 % interval.
type Interval struct {
	Value float64 `json:"value"`
	Sigma float64 `json:"sigma"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

// BenchPoint is one fill of the predicted curve, in cents above the aim.
type BenchPoint struct {
	Fill  float64 `json:"fill_ml"`
	Cents float64 `json:"cents"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

// BenchPart is one partial: where it was at the first sound and where it will be
// at the aim.
type BenchPart struct {
	First  float64  `json:"first_hz"`
	At     float64  `json:"at_hz"`
	Cents  Interval `json:"cents"` // of at above first
	Fills  int      `json:"fills"` // it was found at
	Ground bool     `json:"heard"` // it is the one that is heard
}

// SoundedFill is one entry.
type SoundedFill struct {
	Fill   float64 `json:"fill_ml"`
	Added  float64 `json:"added_ml"`
	Heard  float64 `json:"heard_hz"`
	Cents  float64 `json:"cents"` // above the aim
	Strike *string `json:"strike"`
}

func intervalForm(i bench.Interval, places int) *Interval {
	return &Interval{round(i.Value, places), round(i.Sigma, places), round(i.Low, places), round(i.High, places)}
}

const placesML = 2

// AdviceForm returns the form of an advice on a job and its entries.
func AdviceForm(a bench.Advice, j bench.Job, entries []bench.Entry) *Advice {
	out := &Advice{
		Step: a.Step, Amount: round(a.Amount, placesML), Grams: round(a.Amount*j.WaterDensity(), placesML), Sigma: round(a.Sigma, placesML),
		Teach: a.Teach, Chance: round(a.Chance, placesShare), Fill: round(a.Fill, placesML), FillG: round(a.Fill*j.WaterDensity(), placesML),
		Within: round(a.Within, 2), Path: []BenchPoint{}, Parts: []BenchPart{}, Sounds: []SoundedFill{}, Says: a.Says,
	}
	fill := 0.0
	for _, e := range entries {
		fill += e.Added
		s := SoundedFill{Fill: round(fill, placesML), Added: round(e.Added, placesML), Heard: round(e.Heard, placesHz), Cents: round(e.Heard.Above(j.Aim.Target), 2)}
		if e.Strike != "" {
			s.Strike = &e.Strike
		}
		out.Sounds = append(out.Sounds, s)
	}
	if len(entries) > 0 {
		out.Now, out.Aim = intervalForm(a.Now, 2), intervalForm(a.Aim, placesML)
		out.Empty, out.Full = intervalForm(a.Empty, 2), intervalForm(a.Full, 2)
		out.Promise = known(a.Promise, 2, true)
	}
	for _, p := range a.Path {
		out.Path = append(out.Path, BenchPoint{round(p.Fill, placesML), round(p.At.Value, 2), round(p.At.Low, 2), round(p.At.High, 2)})
	}
	for _, p := range a.Parts {
		out.Parts = append(out.Parts, BenchPart{round(p.First, placesHz), round(p.At, placesHz), *intervalForm(p.Below, 2), p.Fills, p.Ground})
	}
	if a.Doubt != "" {
		out.Doubt = &a.Doubt
	}
	if a.Words != "" {
		out.Words = &a.Words
	}
	return out
}

// Drift is the form of a drift.Line with what physics expects beside it.
type Drift struct {
	Readings int      `json:"readings"`
	Slope    Interval `json:"cents_per_degree"`
	At       float64  `json:"at_celsius"` // the mean temperature
	Pitch    float64  `json:"pitch_hz"`   // there
	Scatter  float64  `json:"scatter_cents"`
	Lag      *float64 `json:"lag_s"`    // null: none noticed
	Outliers []int    `json:"outliers"` // of the readings, from 0
	Material *string  `json:"material"`
	Expected *float64 `json:"expected_cents_per_degree"` // by physics, of that material
	Remark   *string  `json:"remark"`

	Stage *StageForm `json:"stage"` // null where no stage was asked about
}

// StageForm is the form of a drift.Forecast.
type StageForm struct {
	Here       float64  `json:"here_celsius"`
	There      float64  `json:"there_celsius"`
	Away       Interval `json:"away_cents"` // from the aim, against the instrument there
	Own        float64  `json:"own_cents"`
	Instrument float64  `json:"instrument_cents"` // what the instrument's moving adds
	Within     float64  `json:"within_cents"`
	Chance     float64  `json:"chance"` // that it lies within
	Leaves     bool     `json:"leaves"`
	Bend       float64  `json:"bend_now_cents"`
}

// DriftForm returns the form of a line.
func DriftForm(l drift.Line) Drift {
	out := Drift{
		Readings: l.Readings, At: round(l.At, 2), Pitch: round(l.Pitch, placesHz), Scatter: round(l.Scatter, 3), Outliers: []int{},
		Slope: Interval{round(l.Slope, 4), round(l.Sigma, 4), round(l.Low, 4), round(l.High, 4)},
	}
	out.Outliers = append(out.Outliers, l.Outliers...)
	if l.Lag > 0 {
		s := l.Lag.Seconds()
		out.Lag = &s
	}
	return out
}

// ForecastForm returns the form of a forecast.
func ForecastForm(f drift.Forecast, here, there, within float64) *StageForm {
	return &StageForm{
		Here: here, There: there, Away: Interval{round(f.Away.Cents, 2), round(f.Away.Sigma, 2), round(f.Away.Low, 2), round(f.Away.High, 2)},
		Own: round(f.ByObject, 2), Instrument: round(f.ByOther, 2), Within: round(within, 2),
		Chance: round(f.Chance, placesShare), Leaves: f.Leaves, Bend: round(f.Bend, 2),
	}
}
