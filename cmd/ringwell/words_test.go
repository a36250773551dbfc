package main

import (
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
	"ringwell/webview"
)

// jar is a jam jar 12.34 cents over A4 with a beating pair.
func jar() analysis.Strike {
	f := analysis.Hz(440).Shift(12.34)
	return analysis.Strike{
		ID: "01", Revision: 3, Stage: analysis.Final, Source: "hall pair", Rate: 48000, Onset: 24576,
		Time:  time.Date(2026, 11, 25, 9, 30, 0, 512e6, time.UTC),
		Heard: &analysis.Pitch{Frequency: f, Sigma: 0.3, Basis: analysis.OnPartial, Partial: 0, Likelihood: 0.9},
		Partials: []analysis.Partial{
			{Frequency: f, Sigma: 0.3, T60: 1.93, SigmaT60: 0.02, Beat: 1.44, SigmaBeat: 0.03, Pair: 1},
			{Frequency: f + 1.44, Sigma: 0.5, Level: -3, T60: 1.8, SigmaT60: 0.1, Beat: 1.44, SigmaBeat: 0.03, Pair: 1},
			{Frequency: 1213.7, Sigma: 2, Level: -6, T60: 0.8, SigmaT60: 0.1},
			{Frequency: 2400.4, Sigma: 20, Level: -20},
			{Frequency: 91, Sigma: 1, Level: -30},
		},
		ClockPPM: 29,
	}
}

func TestLine(t *testing.T) {
	a4 := 69
	for _, c := range []struct {
		why        string
		instrument string
		aim        instrument.Aim
		change     func(*analysis.Strike)
		want       string // after the time
	}{
		{"a jar", "vibraphone", instrument.Aim{Tolerance: 10}, nil,
			"A4, 12.3 c high ±0.4, 443.1 Hz; vibraphone: A4; partials 443.1 Hz beating 1.4 a second, 1214 Hz, 2400 Hz; rings 1.9 s"},
		{"aimed beside the note", "vibraphone", instrument.Aim{Bend: 30, Tolerance: 5}, nil,
			"A4, 12.3 c high ±0.4, 443.1 Hz; vibraphone: A4 bent +30.0: 17.7 c low ±0.4; partials 443.1 Hz beating 1.4 a second, 1214 Hz, 2400 Hz; rings 1.9 s"},
		{"aimed at a note", "vibraphone", instrument.Aim{Key: &a4}, func(s *analysis.Strike) { s.Heard.Frequency = 466.1637; s.Partials = nil },
			"Bb4 ±0.4 c, 466.2 Hz; vibraphone: A4: 100.0 c high ±0.4"},
		{"open strings", "violin strings", instrument.Aim{}, func(s *analysis.Strike) { s.Heard.Frequency = 500; s.Partials = nil },
			"B4, 21.3 c high ±0.4, 500.0 Hz; violin strings: A4, 221.3 c high ±0.4"},
		{"below the instrument", "vibraphone", instrument.Aim{}, func(s *analysis.Strike) { s.Heard.Frequency = 110; s.Partials = nil },
			"A2 ±0.4 c, 110.0 Hz; below the vibraphone: 800.0 c under its F3"},
		{"above it", "vibraphone", instrument.Aim{}, func(s *analysis.Strike) { s.Heard.Frequency = 1760; s.Partials = nil },
			"A6 ±0.4 c, 1760.0 Hz; above the vibraphone: 400.0 c over its F6"},
		{"a transposing instrument", "crotales", instrument.Aim{}, func(s *analysis.Strike) { s.Heard.Frequency = 1760; s.Partials = nil },
			"A6 ±0.4 c, 1760.0 Hz; crotales: A6 (written A4)"},
		{"hardly known", "vibraphone", instrument.Aim{}, func(s *analysis.Strike) { s.Heard.Sigma = 18; s.Partials = nil },
			"A4, 10 c high ±20, 443 Hz; vibraphone: A4"},
		{"not known how well", "vibraphone", instrument.Aim{}, func(s *analysis.Strike) { s.Heard.Sigma = analysis.Cents(nan()); s.Partials = nil },
			"A4, 10 c high, 443 Hz; vibraphone: A4"},
		{"a strike note", "vibraphone", instrument.Aim{}, func(s *analysis.Strike) {
			s.Heard.Basis, s.Heard.Partial, s.Partials = analysis.StrikeNote, -1, nil
			s.Second = &analysis.Pitch{Frequency: 880, Sigma: 1, Partial: -1, Likelihood: 0.3}
		}, "A4, 12.3 c high ±0.4, 443.1 Hz (strike note: no partial there), though some hear A5; vibraphone: A4"},
		{"a knock", "vibraphone", instrument.Aim{}, func(s *analysis.Strike) { s.Heard = nil; s.Partials = nil },
			"no pitch: a knock"},
		{"no pitch, with partials", "vibraphone", instrument.Aim{}, func(s *analysis.Strike) { s.Heard = nil; s.Partials = s.Partials[2:3] },
			"no pitch; partials 1214 Hz; rings 0.8 s"},
		{"remarks, one of them hostile", "vibraphone", instrument.Aim{}, func(s *analysis.Strike) {
			s.Heard, s.Partials = nil, nil
			s.Remarks = []analysis.Remark{{Code: "damped", Words: "a hand stopped it\x1b[2J"}}
		}, `no pitch: a knock; a hand stopped it\x1b[2J`},
	} {
		in, err := instrument.ByName(c.instrument, 440)
		if err != nil {
			t.Fatal(err)
		}
		s := jar()
		if c.change != nil {
			c.change(&s)
		}
		_, got, _ := strings.Cut(line(webview.StrikeForm(s, in, c.aim), in.Reference), "  ")
		if got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.why, got, c.want)
		}
	}
}

func TestWhen(t *testing.T) {
	in, _ := instrument.ByName("vibraphone", 440)
	s := jar()
	if got, want := when(webview.StrikeForm(s, in, instrument.Aim{})), s.Time.Local().Format("15:04:05"); got != want {
		t.Errorf("with a time: got %q, want %q, local", got, want)
	}
	s.Time = time.Time{}
	if got := when(webview.StrikeForm(s, in, instrument.Aim{})); got != "0.512 s" {
		t.Errorf("without a time: got %q, want 0.512 s", got)
	}
}

// The clock's error counts against an instrument: 29 ppm are 0.05 cents.
func TestDoubtCountsTheClock(t *testing.T) {
	sigma := 0.5
	if got := plusMinus(doubt(&sigma, 0)); got != "±0.5" {
		t.Errorf("0.5 cents, exact clock: got %s, want ±0.5", got)
	}
	if got := plusMinus(doubt(&sigma, 1000)); got != "±2" { // hypot(0.5, 1.73) = 1.8
		t.Errorf("0.5 cents, clock off by 1000 ppm: got %s, want ±2", got)
	}
	tiny := 1e-4
	if got := plusMinus(doubt(&tiny, 0)); got != "±0.1" {
		t.Errorf("0.0001 cents: got %s, want ±0.1, the finest told", got)
	}
}

// Whatever a strike holds, it is one line.
func TestLineIsOneLine(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	odd := []float64{0, -1, nan(), inf(), 1e-300, 1e300, 440}
	pick := func() float64 { return odd[rng.IntN(len(odd))] }
	in, _ := instrument.ByName("vibraphone", 440)
	for range 3000 {
		s := jar()
		s.Heard.Frequency, s.Heard.Sigma, s.ClockPPM = analysis.Hz(pick()), analysis.Cents(pick()), pick()
		for i := range s.Partials {
			p := &s.Partials[i]
			p.Frequency, p.Sigma, p.Level = analysis.Hz(pick()), analysis.Cents(pick()), pick()
			p.T60, p.SigmaT60, p.Beat, p.SigmaBeat = pick(), pick(), pick(), pick()
		}
		got := line(webview.StrikeForm(s, in, instrument.Aim{Bend: analysis.Cents(rng.IntN(3) - 1)}), in.Reference)
		if got == "" || strings.ContainsAny(got, "\n\r\x1b") || strings.Contains(got, "NaN") || strings.Contains(got, "Inf") {
			t.Fatalf("%+v: %q", s, got)
		}
	}
}

func TestSpelt(t *testing.T) {
	for label, want := range map[string]string{
		"D#6": "Eb6", "A#-1": "Bb-1", "F#5": "F#5", "C4": "C4", "A#4 bolt": "A#4 bolt", "D#": "D#", "": "",
	} {
		if got := spelt(label); got != want {
			t.Errorf("%q: got %q, wanted %q as the page spells it", label, got, want)
		}
	}
}
