package webview

import (
	"bytes"
	"encoding/json"
	"flag"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
	"ringwell/analysis/listen"
	"ringwell/analysis/match"
	"ringwell/analysis/wanted"
)

var update = flag.Bool("update", false, "write testdata/wire anew")

const wireDir = "../testdata/wire"

// hostile is text that must arrive as text wherever it stands.
const hostile = "<script>alert(1)</script> \"quoted\" \\ & \x1b[31mred\x1b[0m \u2028 \u202eright to left \x00 🫙"

// jar is a strike on a jam jar whose lowest mode is a near pair.
func jar() analysis.Strike {
	return analysis.Strike{
		ID: "01JDHZ8Q2R00000000000000A1", Revision: 3, Stage: analysis.Settled,
		Source: "hall pair", Rate: 48000, Onset: 24576,
		Time: time.Date(2026, 11, 25, 9, 30, 0, 512_000_400, time.UTC),
		From: 12576, To: 96000, Used: 0.42,
		Heard:  &analysis.Pitch{Frequency: 884.2123456789, Sigma: 0.31, Basis: analysis.OnPartial, Partial: 0, Likelihood: 0.86},
		Second: &analysis.Pitch{Frequency: 2096.5, Sigma: 0.8, Basis: analysis.OnPartial, Partial: 2, Likelihood: 0.11},
		Partials: []analysis.Partial{
			{Frequency: 884.2123456789, Sigma: 0.31, Level: 0, SigmaLevel: 0.1, T60: 1.9, SigmaT60: 0.02, Beat: 1.4, SigmaBeat: 0.03, Pair: 1},
			{Frequency: 885.61, Sigma: 0.5, Level: -4.2, SigmaLevel: 0.2, T60: 1.7, SigmaT60: 0.05, Beat: 1.4, SigmaBeat: 0.03, Pair: 1},
			{Frequency: 2096.5, Sigma: 0.8, Level: -9.75, SigmaLevel: 0.3},
		},
		Remarks:  []analysis.Remark{{Code: analysis.RemarkDamped, Words: "A hand stopped it."}},
		ClockPPM: analysis.UncalibratedClockPPM, Peak: 0.4375,
	}
}

// rolled is a roll on the same jar.
func rolled() analysis.Strike {
	s := jar()
	s.ID, s.Stage = "01JDHZ8Q2R00000000000000A4", analysis.Final
	s.Roll = &analysis.Roll{Strokes: 18, Last: 96000, Rate: 12.345678912, SigmaRate: 0.03}
	s.Remarks = []analysis.Remark{{Code: analysis.RemarkRoll, Words: "a roll of 18 strokes, 12.3 a second"}}
	return s
}

// lowered is the same jar let down into water, and rocked.
func lowered() analysis.Strike {
	s := jar()
	s.ID, s.Stage = "01JDHZ8Q2R00000000000000A5", analysis.Final
	s.Glide = &analysis.Glide{From: 741.2, To: 698.123456789, Sigma: 0.2, Begin: 0.5, End: 1.25, Rate: -138.2}
	s.Wobble = &analysis.Wobble{Rate: 2.5, SigmaRate: 0.01, Still: 741.2, SigmaStill: 0.02, Depth: 12.25, SigmaDepth: 0.1, DepthDB: 0.5}
	s.Remarks = []analysis.Remark{{Code: analysis.RemarkGlide, Words: "the pitch sinks from 741.2 to 698.1 Hz, 138 cents a second"}}
	return s
}

// knock is a strike without a pitch and with the little that is known of one.
func knock() analysis.Strike {
	return analysis.Strike{
		ID: "01JDHZ8Q2R00000000000000A2", Revision: 1, Stage: analysis.Final,
		Source: "hall pair", Rate: 48000, Onset: 144000,
		Time: time.Date(2026, 11, 25, 9, 30, 3, 0, time.UTC), Used: 0.06, ClockPPM: 29, Peak: 0.2,
	}
}

// bell is heard where no partial lies, far above the instrument, through a
// source with hostile words.
func bell() analysis.Strike {
	return analysis.Strike{
		ID: "01JDHZ8Q2R00000000000000A3", Revision: 2, Stage: analysis.Early,
		Source: hostile, Rate: 44100, Onset: 44100, Used: 0.2,
		Heard:    &analysis.Pitch{Frequency: 2349.3, Sigma: analysis.Cents(math.Inf(1)), Basis: analysis.StrikeNote, Partial: -1, Likelihood: 0.6},
		Partials: []analysis.Partial{{Frequency: 4698.6, Sigma: 4}},
		Remarks:  []analysis.Remark{{Code: hostile, Words: hostile}},
		ClockPPM: 29, Peak: 1,
	}
}

func vibraphone(t testing.TB) instrument.Instrument {
	t.Helper()
	in, err := instrument.ByName("vibraphone", 442)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

func bentAim() instrument.Aim { return instrument.Aim{Bend: 30, Tolerance: 10} }

func noteAim() instrument.Aim {
	key := 81
	return instrument.Aim{Key: &key, Bend: -15, Tolerance: 5}
}

func text(s string) *string     { return &s }
func number(x float64) *float64 { return &x }

func samplePhone() Phone {
	p := &phone{id: "0123456789ab", name: "blue phone " + hostile, rate: 44100, processed: leftOn(map[string]any{"echoCancellation": false, "noiseSuppression": true})}
	return p.form()
}

func sampleSession() Session {
	target := 81
	return Session{
		Revision: 7, Source: Source{"mic", "hall"}, Kind: analysis.Glass, Reference: 442,
		Instrument: "vibraphone", Aim: true, Target: &target, Bend: 30, Tolerance: 10,
		Frozen: true, FrozenID: text("01JDHZ8Q2R00000000000000A1"),
		Purpose: Purpose{"nothing"}, Tone: Tone{true, number(899.453703)}, Muted: true,
		Notice: text("The session could not be saved: " + hostile),
	}
}

// wireMessages are the messages of testdata/wire, by file name.
func wireMessages(t testing.TB) map[string]any {
	in := vibraphone(t)
	named := StrikeForm(jar(), in, noteAim())
	named.Name, named.Sound = text(hostile), true
	withdrawn := StrikeForm(knock(), in, instrument.Aim{})
	withdrawn.Stage, withdrawn.Revision = analysis.Withdrawn, 2
	plain := Session{
		Source: Source{Choice: "demo"}, Kind: analysis.Unknown, Reference: 440,
		Instrument: "vibraphone", Aim: true, Tolerance: 10, Purpose: Purpose{"nothing"},
	}
	psd := make([]float64, 129)
	for k := range psd {
		psd[k] = 1e-6
	}
	return map[string]any{
		"hello": hello{
			header: head(typeHello), Version: "0.1.0", Instruments: instrument.Names(),
			Sources: []string{"mic", "demo"}, Kinds: kindNames(), Session: plain, Instrument: instrumentForm(in),
			State:   stateForm(listen.State{Code: listen.Hearing, Source: "hall pair", Rate: 48000, Words: "The hall pair hears."}),
			Strikes: []Strike{StrikeForm(jar(), in, bentAim()), StrikeForm(knock(), in, bentAim())}, Earlier: 3,
			Phones: []Phone{samplePhone()},
			Wanted: Wanted{Places: []WantedPlace{}, Errors: []WantedError{}}, Shelf: newShelf(nil).form,
		},
		"shelf":            shelfMessage{head(typeShelf), sampleShelf(t)},
		"strike-kept":      strikeMessage{head(typeStrike), keptStrike(in)},
		"session":          sessionMessage{head(typeSession), sampleSession()},
		"instrument":       instrumentMessage{head(typeInstrument), instrumentForm(glockenspiel(t))},
		"strike":           strikeMessage{head(typeStrike), StrikeForm(jar(), in, bentAim())},
		"strike-named":     strikeMessage{head(typeStrike), named},
		"strike-knock":     strikeMessage{head(typeStrike), StrikeForm(knock(), in, bentAim())},
		"strike-beyond":    strikeMessage{head(typeStrike), StrikeForm(bell(), in, instrument.Aim{})},
		"strike-roll":      strikeMessage{head(typeStrike), StrikeForm(rolled(), in, bentAim())},
		"strike-lowered":   strikeMessage{head(typeStrike), StrikeForm(lowered(), in, bentAim())},
		"strike-withdrawn": strikeMessage{head(typeStrike), withdrawn},
		"trail":            trailMessage{head(typeTrail), []Strike{StrikeForm(jar(), in, noteAim())}, 0},
		"trail-empty":      trailMessage{head(typeTrail), []Strike{}, 0},
		"gone":             goneMessage{head(typeGone), "01JDHZ8Q2R00000000000000A1"},
		"level":            levelMessage{head(typeLevel), levelForm(listen.Level{At: 4800, Peak: 0.25, RMS: 0.03125, Lost: 96, Ringing: true})},
		"room":             roomMessage{head(typeRoom), roomForm(listen.Room{Rate: 8000, PSD: psd, Seconds: 12})},
		"state":            stateMessage{head(typeState), stateForm(listen.State{Code: listen.Deaf, Source: hostile, Words: "The ear hears nothing: look to its cable. " + hostile})},
		"missed":           missedMessage{head(typeMissed), text("01JDHZ8Q2R00000000000000A1"), 4},
		"missed-all":       missedMessage{head(typeMissed), nil, 1},
		"wanted":           wantedMessage{head(typeWanted), sampleWanted(t)},
		"strike-yes":       strikeMessage{head(typeStrike), judged(t, "A5 +8 +-15 glass x2\nB5")},
		"strike-nearly":    strikeMessage{head(typeStrike), judged(t, "Ab5 +-15 glass\nC7 +-20")},
		"strike-unwanted":  strikeMessage{head(typeStrike), judged(t, "F3")},
	}
}

// sampleWanted is a list with one place filled, one ticked, one open and a line
// that cannot be read.
func sampleWanted(t testing.TB) Wanted {
	t.Helper()
	list, _ := wanted.Parse("# for the slow movement\nA5 +8 +-15 glass\nF#4 quarter-sharp -5 +-8 bottle x2\nwhat\n440 Hz\n")
	var err error
	found := time.Date(2026, 11, 25, 9, 31, 0, 0, time.UTC)
	list, err = list.Found("w1", wanted.Fill{Strike: "01JDHZ8Q2R00000000000000A1", Heard: 884.2123456789, Sigma: 0.31, ClockPPM: 29, Kind: analysis.Glass, Name: hostile, Found: found}, vibraphone(t))
	if err == nil {
		list, err = list.WithTick("w3", true)
	}
	if err != nil {
		t.Fatal(err)
	}
	s := Server{trail: newTrail(), in: vibraphone(t), session: defaultSession(nil)}
	s.hunt = hunt{list: list, revision: 4, undo: make([]wanted.List, 2), stored: map[string]bool{"01JDHZ8Q2R00000000000000A1": true}, notice: text(hostile)}
	_, s.hunt.faults = wanted.Parse(list.String())
	return s.wantedForm()
}

// sampleShelf is a shelf with something on its stand, a call-over and a walk.
func sampleShelf(t testing.TB) ShelfForm {
	t.Helper()
	s := Server{trail: newTrail(), shelf: newShelf(nil)}
	degrees := 19.5
	s.shelf.form = ShelfForm{Revision: 12, Open: true, Writable: true, Objects: 2, Voices: 3, Strikes: 40, Away: 1, Instruments: []string{"my vibraphone"},
		Temperature: &degrees, Room: "hall", Stand: &StandForm{"v1", "o1", "jar 7, rim", 3}, Notice: text(hostile)}
	c := match.NewCallOver(map[string]string{"o1": "jar 7", "o2": hostile, "o3": "slate"})
	c.Hear("s1", match.Candidate{ID: "v1", Object: "o1", Shift: -3, Sigma: 0.5}, match.Health{})
	c.Hear("s2", match.Candidate{ID: "v2", Object: "o2"}, match.Health{Known: true, Shift: -14, Changes: []match.Change{{What: match.Fell, Frequency: 884.2, By: -14, Chance: 1e-6}}})
	c.Unsure = append(c.Unsure, match.Unsure{Strike: "s3", Candidates: []match.Candidate{{ID: "v3", Object: "o3", Share: 0.4, Shift: -60}}})
	c.Strangers = append(c.Strangers, "s4")
	s.shelf.callOver, s.shelf.began, s.shelf.degrees = c, "2026-11-25T19:30:00.000000Z", &degrees
	base := vibraphone(t)
	base.Notes = base.Notes[:3]
	w := instrument.NewWalk(base, false)
	w.Hear(analysis.Strike{Heard: &analysis.Pitch{Frequency: base.Notes[0].Targets[0].Shift(4)}})
	w.Skip()
	w.Hear(analysis.Strike{})
	s.shelf.walk, s.shelf.walkName = w, "my vibraphone"
	return s.shelfForm()
}

// keptStrike is the jar, recognised, kept and suspect.
func keptStrike(in instrument.Instrument) Strike {
	form := StrikeForm(jar(), in, bentAim())
	form.Stage = analysis.Final
	labels := map[string]label{"v1": {"o1", "jar 7", "jar 7, rim"}}
	form.Recognised = recognisedForm(match.Verdict{Candidates: []match.Candidate{{ID: "v1", Object: "o1", Share: 0.98, Shift: -1.25, Matched: 3}}}, labels)
	form.Kept = &KeptMark{"v1", "o1", "jar 7, rim", form.ID}
	form.Health = healthForm(&match.Health{Known: true, Shift: -12, Changes: []match.Change{{What: match.Split, Frequency: 884.2, By: 1.4, Chance: 1e-4}}}, analysis.Glass)
	return form
}

// judged is the jar held against a list.
func judged(t testing.TB, lines string) Strike {
	t.Helper()
	list, faults := wanted.Parse(lines)
	if len(faults) > 0 {
		t.Fatal(faults[0])
	}
	in := vibraphone(t)
	form := StrikeForm(jar(), in, bentAim())
	form.Verdict = VerdictForm(jar(), &list, analysis.Glass, in, 10)
	return form
}

func glockenspiel(t testing.TB) instrument.Instrument {
	t.Helper()
	in, err := instrument.ByName("glockenspiel", 440)
	if err != nil {
		t.Fatal(err)
	}
	// A prepared note may have several targets, or none.
	in.Notes = in.Notes[:3]
	in.Notes[1].Targets = []analysis.Hz{in.Notes[1].Targets[0], 1111.5}
	in.Notes[2].Targets = nil
	return in
}

// The files of testdata/wire are what Go sends; webview/page reads the same.
func TestWire(t *testing.T) {
	messages := wireMessages(t)
	for name, message := range messages {
		t.Run(name, func(t *testing.T) {
			var got bytes.Buffer
			if err := json.Indent(&got, encode(message), "", "  "); err != nil {
				t.Fatal(err)
			}
			got.WriteByte('\n')
			file := filepath.Join(wireDir, name+".json")
			if *update {
				if err := os.WriteFile(file, got.Bytes(), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(got.Bytes(), want) {
				t.Errorf("%s: got\n%s\nwant\n%s\n(if the new form is meant: go test ./webview -run Wire -update)", file, got.Bytes(), want)
			}
		})
	}
	files, err := filepath.Glob(filepath.Join(wireDir, "*.json"))
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		name := filepath.Base(file)
		if _, ok := messages[name[:len(name)-len(".json")]]; !ok {
			t.Errorf("%s: no message is sent as this file says; remove it or send it", file)
		}
	}
}
