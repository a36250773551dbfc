package drift

import (
	"math"
	"strings"
	"testing"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/physics/material"
)

// exact gives readings on a line of so many cents a degree.
func exact(slope float64, degrees ...float64) (all []Reading) {
	start := time.Date(2025, 5, 3, 9, 0, 0, 0, time.UTC)
	for i, c := range degrees {
		all = append(all, Reading{Time: start.Add(time.Duration(i) * time.Hour), Celsius: c, Heard: analysis.Hz(440 * math.Exp2(slope*(c-20)/1200))})
	}
	return all
}

// A line without scatter is found, to what lags that cannot be told apart leave
// open (0.01 c), and with readings that are plainly wrong
// among them, still (closed form).
func TestExactLine(t *testing.T) {
	rs := exact(-2.02, 18, 19, 21, 22, 24, 25, 26, 27, 25, 23, 20, 19)
	l, err := Fit(rs)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(float64(l.Slope)+2.02) > 0.01 || l.Lag != 0 || len(l.Outliers) != 0 {
		t.Errorf("exact line: got %.4f c a degree, lag %v, outliers %v; wanted -2.02, none, none", l.Slope, l.Lag, l.Outliers)
	}
	if l.Low > -2.02 || l.High < -2.02 || l.High-l.Low > 0.6 {
		t.Errorf("exact line: got an interval of %.3f to %.3f", l.Low, l.High)
	}
	rs[3].Heard = rs[3].Heard.Shift(25)
	rs[9].Heard = rs[9].Heard.Shift(-40)
	l, err = Fit(rs)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(float64(l.Slope)+2.02) > 0.05 {
		t.Errorf("two of twelve wrong by 25 and 40 c: got %.3f c a degree, wanted -2.02 within 0.05", l.Slope)
	}
	if len(l.Outliers) != 2 || l.Outliers[0] != 3 || l.Outliers[1] != 9 {
		t.Errorf("outliers: got %v, wanted 3 and 9", l.Outliers)
	}
}

// An object behind the thermometer by 40 minutes: a step of the air by 8
// degrees, and the object's answer 8·(1 − exp(−t/τ)) (closed form).
func TestLag(t *testing.T) {
	const tau, slope = 2400.0, -0.45
	start := time.Date(2025, 5, 3, 18, 0, 0, 0, time.UTC)
	rs := []Reading{{Time: start, Celsius: 18, Heard: 440}}
	for m := 1.0; m < 240; m += 8 {
		own := 18.0
		if m > 10 {
			own += 8 * (1 - math.Exp(-(m-10)*60/tau))
		}
		air := 18.0
		if m > 10 {
			air = 26
		}
		rs = append(rs, Reading{Time: start.Add(time.Duration(m * float64(time.Minute))), Celsius: air, Heard: analysis.Hz(440 * math.Exp2(slope*(own-18)/1200)), Sigma: .02})
	}
	l, err := Fit(rs)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(float64(l.Slope)-slope) > 0.03 {
		t.Errorf("slope behind a lag: got %.3f c a degree, wanted %.2f within 0.03", l.Slope, slope)
	}
	if l.Lag < 20*time.Minute || l.Lag > 70*time.Minute {
		t.Errorf("lag: got %v, wanted 40 minutes within a rung of the ladder", l.Lag)
	}
}

// Five readings within minutes say nothing of a lag of hours, by which any slope
// would fit: the interval stays what bodies do, and holds the line they lie on
// (closed form).
func TestReadingsSoonAfterEachOther(t *testing.T) {
	for _, slope := range []float64{-0.45, -2} {
		for _, degrees := range [][]float64{{20, 20, 20, 20, 26}, {18, 18.5, 19.5, 21.5, 25.5}, {18, 19, 20, 22, 25}, {15, 16.5, 18, 20, 24}} {
			for _, every := range []time.Duration{2 * time.Second, 30 * time.Second, 5 * time.Minute} {
				rs := exact(slope, degrees...)
				for i := range rs {
					rs[i].Time = rs[0].Time.Add(time.Duration(i) * every)
				}
				l, err := Fit(rs)
				// Three standard deviations of what is likely beforehand.
				if err != nil || float64(l.Low) < -3*likelySlope || float64(l.High) > 3*likelySlope || float64(l.Low) > slope+0.05 || float64(l.High) < slope-0.05 {
					t.Errorf("%g c a degree, %g °C, every %v: got %.2f to %.2f c a degree, %v", slope, degrees, every, l.Low, l.High, err)
				}
			}
		}
	}
}

func TestStage(t *testing.T) {
	l, err := Fit(exact(2.95, 17, 18, 19, 20, 21, 22, 23)) // a blown bottle
	if err != nil {
		t.Fatal(err)
	}
	vibes, of, ok := Instrument("vibraphone")
	if !ok || of.Name != "aluminium" {
		t.Fatalf("vibraphone: got %v %v", of.Name, ok)
	}
	f := Stage(&l, 0, 15, vibes, 20, 29)
	// It rises by 26.5 c while the bars fall by 4.0.
	if want := 9 * (2.95 + 0.449); math.Abs(float64(f.Away.Cents)-want) > 0.3 || !f.Leaves || f.Chance > 0.05 {
		t.Errorf("a bottle at 29 degrees: got %.2f c, leaves %v, chance %.2f; wanted %.2f, true, 0", f.Away.Cents, f.Leaves, f.Chance, want)
	}
	if f.Bend != -f.Away.Cents {
		t.Errorf("bend: got %.2f c, wanted %.2f", f.Bend, -f.Away.Cents)
	}
	if f := Stage(&l, 0, 15, vibes, 20, 22); f.Leaves || f.Chance < 0.95 {
		t.Errorf("at 22 degrees: got leaves %v, chance %.2f; wanted it to stay", f.Leaves, f.Chance)
	}
	if _, _, ok := Instrument("piano"); ok {
		t.Error("piano: got one number for its drift; it has none")
	}
}

func TestBeside(t *testing.T) {
	wood, _ := material.Named("wood")
	steel, _ := material.Named("steel")
	wet, _ := Fit(exact(-9, 18, 20, 22, 24, 26, 28))
	if w := wet.Beside(wood); !strings.Contains(w, "Moisture is the likely cause") {
		t.Errorf("wood at -9 c a degree: got %q, wanted moisture named", w)
	}
	dry, _ := Fit(exact(-2, 18, 20, 22, 24, 26, 28))
	if w := dry.Beside(wood); w != "" {
		t.Errorf("wood at -2 c a degree: got %q, wanted nothing", w)
	}
	plain, _ := Fit(exact(-0.24, 18, 20, 22, 24, 26, 28))
	if w := plain.Beside(steel); w != "" {
		t.Errorf("steel at -0.24 c a degree: got %q, wanted nothing", w)
	}
}

func TestBadReadings(t *testing.T) {
	for why, rs := range map[string][]Reading{
		"none":            nil,
		"one":             exact(1, 20),
		"no span":         exact(1, 20, 20.1, 20.2),
		"not a number":    {{Celsius: math.NaN(), Heard: 440}, {Celsius: 20, Heard: 440}},
		"silence":         {{Celsius: 18, Heard: 0}, {Celsius: 20, Heard: 440}},
		"degrees Kelvin":  {{Celsius: 293, Heard: 440}, {Celsius: 294, Heard: 440}},
		"negative spread": {{Celsius: 18, Heard: 440, Sigma: -1}, {Celsius: 24, Heard: 440}},
	} {
		if _, err := Fit(rs); err == nil {
			t.Errorf("%s: got no error", why)
		}
	}
	two, err := Fit(exact(-1, 18, 26))
	if err != nil || two.Low > -1 || two.High < -1 {
		t.Errorf("two readings: got %.2f to %.2f c a degree, %v; wanted an interval about -1", two.Low, two.High, err)
	}
}

func TestParseSensor(t *testing.T) {
	for text, want := range map[string]float64{
		"21437\n": 21.437, "-3250": -3.25, "21.4": 21.4, "21,4 °C": 21.4, "0": 0, "19": 19,
		"72 01 4b 46 7f ff 0e 10 57 : crc=57 YES\n72 01 4b 46 7f ff 0e 10 57 t=23125\n": 23.125,
	} {
		if got, err := ParseSensor(text); err != nil || got != want {
			t.Errorf("%q: got %v, %v; wanted %g °C", text, got, err, want)
		}
	}
	for why, text := range map[string]string{
		"empty": "", "words": "warm", "bad checksum": "72 01 : crc=57 NO\n72 t=23125", "too hot": "85000", "not a number": "NaN",
	} {
		if got, err := ParseSensor(text); err == nil {
			t.Errorf("%s (%q): got %g °C, wanted an error", why, text, got)
		}
	}
}

func FuzzParseSensor(f *testing.F) {
	f.Add("21437")
	f.Add("t=YES t=1")
	f.Fuzz(func(t *testing.T, text string) {
		if c, err := ParseSensor(text); err == nil && !(c >= -40 && c <= 80) {
			t.Fatalf("%q: got %g °C", text, c)
		}
	})
}
