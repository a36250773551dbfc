package webview

import (
	"encoding/json"
	"math"
	"reflect"
	"strings"
	"testing"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
	"ringwell/analysis/listen"
)

// Whatever number is no number, and wherever, the form can be sent, and says
// null or leaves out rather than something made up.
func TestStrikeFormWithoutNumbers(t *testing.T) {
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), math.Copysign(0, -1), math.MaxFloat64, -math.MaxFloat64, math.SmallestNonzeroFloat64} {
		s := rolled()
		s.Glide, s.Wobble = lowered().Glide, lowered().Wobble
		var paths []string
		visitFloats(reflect.ValueOf(&s).Elem(), "strike", func(path string, f reflect.Value) {
			paths = append(paths, path)
			was := f.Float()
			f.SetFloat(bad)
			form := StrikeForm(s, vibraphone(t), bentAim())
			if _, err := json.Marshal(form); err != nil {
				t.Errorf("%s = %g: got %v, wanted a form that JSON can say", path, bad, err)
			}
			f.SetFloat(was)
		})
		if len(paths) < 20 {
			t.Fatalf("only %d numbers were tried: %v", len(paths), paths)
		}
	}
}

func visitFloats(v reflect.Value, path string, do func(string, reflect.Value)) {
	switch v.Kind() {
	case reflect.Float64:
		do(path, v)
	case reflect.Pointer:
		if !v.IsNil() {
			visitFloats(v.Elem(), path, do)
		}
	case reflect.Slice:
		for i := range v.Len() {
			visitFloats(v.Index(i), path+"[]", do)
		}
	case reflect.Struct:
		if v.Type().PkgPath() != "ringwell/analysis" {
			return
		}
		for i := range v.NumField() {
			visitFloats(v.Field(i), path+"."+v.Type().Field(i).Name, do)
		}
	}
}

func TestStrikeFormLeavesOutWhatDoesNotSound(t *testing.T) {
	s := jar()
	s.Partials[1].Frequency = analysis.Hz(math.NaN())
	form := StrikeForm(s, vibraphone(t), bentAim())
	if len(form.Partials) != 2 {
		t.Fatalf("one of three partials without a frequency: got %d partials, wanted 2", len(form.Partials))
	}
	if got := form.Second.Partial; got == nil || form.Partials[*got].Frequency != 2096.5 {
		t.Errorf("the second pitch rests on partial %v of %+v, wanted the one at 2096.5 Hz", got, form.Partials)
	}
	s.Heard.Partial = 1
	if got := StrikeForm(s, vibraphone(t), bentAim()).Heard.Partial; got != nil {
		t.Errorf("heard rests on the partial left out: got index %d, wanted null", *got)
	}
	s.Heard.Frequency = 0
	form = StrikeForm(s, vibraphone(t), bentAim())
	if form.Pitched || form.Heard != nil || form.Landing != nil {
		t.Errorf("heard at 0 Hz: got pitched %v, heard %v, landing %v, wanted none", form.Pitched, form.Heard, form.Landing)
	}
}

// The form of measure --json as it was promised; fields may only be added.
func TestStrikeFormHoldsMeasuresFields(t *testing.T) {
	const promised = `{"onset_s":0.512,"pitched":true,"heard":{"frequency_hz":440.1,"sigma_cents":0.2},` +
		`"landing":{"note":"A4","midi":69,"cents":0.4,"instrument":"vibraphone"},` +
		`"partials":[{"frequency_hz":440.1,"sigma_cents":0.2,"level_db":-6.1,"t60_s":1.9,"beat_hz":1.3}]}`
	s := analysis.Strike{
		Rate: 48000, Onset: 24576,
		Heard:    &analysis.Pitch{Frequency: 440.1, Sigma: 0.2},
		Partials: []analysis.Partial{{Frequency: 440.1, Sigma: 0.2, Level: -6.1, T60: 1.9, Beat: 1.3}},
	}
	in, err := instrument.ByName("vibraphone", 440)
	if err != nil {
		t.Fatal(err)
	}
	var want, got any
	if err := json.Unmarshal([]byte(promised), &want); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(encode(StrikeForm(s, in, instrument.Aim{})), &got); err != nil {
		t.Fatal(err)
	}
	holds(t, "strike", got, want)
}

func holds(t *testing.T, path string, got, want any) {
	t.Helper()
	switch want := want.(type) {
	case map[string]any:
		m, ok := got.(map[string]any)
		if !ok {
			t.Errorf("%s: got %v, wanted an object", path, got)
		}
		for k, v := range want {
			holds(t, path+"."+k, m[k], v)
		}
	case []any:
		l, ok := got.([]any)
		if !ok || len(l) != len(want) {
			t.Errorf("%s: got %v, wanted a list of %d", path, got, len(want))
			return
		}
		for i := range want {
			holds(t, path+"[]", l[i], want[i])
		}
	case float64:
		// 0.01 is a digit of the promised cents: 440.1 Hz lies 0.39 c above A4.
		if f, ok := got.(float64); !ok || math.Abs(f-want) > 0.01 {
			t.Errorf("%s: got %v, wanted %g", path, got, want)
		}
	default:
		if got != want {
			t.Errorf("%s: got %v, wanted %v", path, got, want)
		}
	}
}

func TestRings(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*analysis.Strike)
		want   *float64
	}{
		"the heard partial":                           {func(*analysis.Strike) {}, number(1.9)},
		"its time unknown: the longest other":         {func(s *analysis.Strike) { s.Partials[0].T60 = 0 }, number(1.7)},
		"no partial heard by itself: the longest":     {func(s *analysis.Strike) { s.Heard.Partial = -1; s.Partials[1].T60 = 2.5 }, number(2.5)},
		"no pitch: the longest":                       {func(s *analysis.Strike) { s.Heard = nil }, number(1.9)},
		"no pitch: a longer one too weak to count":    {func(s *analysis.Strike) { s.Heard = nil; s.Partials[2].Level, s.Partials[2].T60 = -20.1, 9 }, number(1.9)},
		"no pitch: a longer one just loud enough":     {func(s *analysis.Strike) { s.Heard = nil; s.Partials[2].Level, s.Partials[2].T60 = -20, 9 }, number(9)},
		"no time known":                               {func(s *analysis.Strike) { s.Partials[0].T60, s.Partials[1].T60 = 0, 0 }, nil},
		"an infinite time is not known: the next one": {func(s *analysis.Strike) { s.Partials[0].T60 = math.Inf(1) }, number(1.7)},
	} {
		s := jar()
		c.change(&s)
		got := StrikeForm(s, vibraphone(t), instrument.Aim{}).RingsS
		if (got == nil) != (c.want == nil) || got != nil && *got != *c.want {
			t.Errorf("%s: got %v s, wanted %v s", name, show(got), show(c.want))
		}
	}
}

func show(f *float64) any {
	if f == nil {
		return "unknown"
	}
	return *f
}

// Text from outside stays text: JSON gives back the very same, and none of it
// could end a script or a line of JSON if it were pasted into one.
func TestHostileText(t *testing.T) {
	for _, text := range []string{hostile, "</script>", "\u2029\u2028", "\x00\x1b]0;title\x07", strings.Repeat("é", 1000), `"},{"type":"hello`} {
		s := bell()
		s.Source, s.ID = text, text
		s.Remarks[0] = analysis.Remark{Code: text, Words: text}
		in := vibraphone(t)
		in.Name, in.Source, in.Notes[0].Label = text, text, text
		form := StrikeForm(s, in, instrument.Aim{Tolerance: 1})
		form.Name = &text
		session := sampleSession()
		session.Instrument, session.Source.Input, session.Notice = text, text, &text
		for _, message := range []any{
			strikeMessage{head(typeStrike), form}, instrumentMessage{head(typeInstrument), instrumentForm(in)},
			sessionMessage{head(typeSession), session}, stateMessage{head(typeState), stateForm(listen.State{Source: text, Words: text})},
			goneMessage{head(typeGone), text}, missedMessage{head(typeMissed), &text, 1},
		} {
			sent := encode(message)
			if strings.ContainsAny(string(sent), "<>&\x00\x1b\n\u2028\u2029") {
				t.Errorf("%q: sent as %s, wanted its hostile signs escaped", text, sent)
			}
			back := reflect.New(reflect.TypeOf(message))
			if err := json.Unmarshal(sent, back.Interface()); err != nil {
				t.Fatalf("%q: %v in %s", text, err, sent)
			}
			if !reflect.DeepEqual(back.Elem().Interface(), message) {
				t.Errorf("%q: got back %+v, wanted %+v", text, back.Elem(), message)
			}
		}
	}
}

// White noise of variance v has v·B/(R/2) in a band B wide: that is what a
// power spectral density means.
func TestRoomWhite(t *testing.T) {
	const variance, rate = 1e-4, 48000.
	psd := make([]float64, 4097)
	for k := range psd {
		psd[k] = variance
	}
	form := roomForm(listen.Room{Rate: rate, PSD: psd, Seconds: 3})
	if n := len(form.Bands); n != 30 {
		t.Fatalf("48 kHz: got %d bands, wanted 30 (25 Hz to 20 kHz)", n)
	}
	for _, b := range form.Bands {
		width := b.Frequency * (math.Pow(10, 0.05) - math.Pow(10, -0.05)) // G^(1/6) = 10^0.05
		want := 10 * math.Log10(variance*width/(rate/2))
		if math.Abs(b.Level-want) > 0.01 { // dB; the wire rounds to 0.001
			t.Errorf("band at %g Hz: got %g dB, wanted %g dB", b.Frequency, b.Level, want)
		}
	}
}

// A hum in one bin is in one band, the one around it, wholly.
func TestRoomHum(t *testing.T) {
	psd := make([]float64, 4097)
	k := 171 // 1001.95 Hz
	psd[k] = 4096 * 0.25
	form := roomForm(listen.Room{Rate: 48000, PSD: psd})
	for _, b := range form.Bands {
		want := float64(quietest)
		if b.Frequency == 1000 {
			want = 10 * math.Log10(0.25)
		}
		if math.Abs(b.Level-want) > 0.01 {
			t.Errorf("hum of power 0.25 at 1002 Hz, band at %g Hz: got %g dB, wanted %g dB", b.Frequency, b.Level, want)
		}
	}
}

func TestRoomUnknown(t *testing.T) {
	for name, r := range map[string]listen.Room{
		"no spectrum": {Rate: 48000}, "no rate": {PSD: make([]float64, 129)},
		"no number": {Rate: 48000, PSD: []float64{math.NaN(), math.Inf(1), -1}},
	} {
		form := roomForm(r)
		if form.Bands == nil {
			t.Errorf("%s: got bands null, wanted a list", name)
		}
		for _, b := range form.Bands {
			if b.Level != quietest {
				t.Errorf("%s: got %g dB at %g Hz, wanted %d dB", name, b.Level, b.Frequency, quietest)
			}
		}
	}
}
