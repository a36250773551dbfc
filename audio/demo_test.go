package audio

import (
	"context"
	"errors"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"ringwell/analysis"
	"ringwell/analysis/listen"
	"ringwell/analysis/listen/sourcetest"
)

// one is a scene of a single event without noise.
func one(e Event, seconds float64) Scene {
	e.Click, e.Breath = 0, 0
	return Scene{Seconds: seconds, Events: []Event{e}}
}

// What Mode's comment says, sample by sample.
func TestRenderIsTheFormula(t *testing.T) {
	const rate = 44100
	for _, e := range DemoScene() {
		if e.Hold > 0 {
			continue
		}
		e.Start = math.Mod(e.Start, 1) // to get there sooner
		got := one(e, e.Start+0.35).Render(rate)
		at := e.Sample(rate)
		if want := int64(math.Round(e.Start * rate)); at != want {
			t.Errorf("%s at %v s: sample %d, want %d", e.Object, e.Start, at, want)
		}
		for n := range got {
			var want float64
			if s := float64(n) - float64(at); s >= 0 {
				s /= rate
				rise := 1.0
				if s < e.Contact {
					rise = math.Pow(math.Sin(math.Pi*s/(2*e.Contact)), 2)
				}
				for _, m := range e.Modes {
					want += rise * m.Amplitude * math.Pow(10, -3*s/m.T60) * math.Sin(2*math.Pi*float64(m.Frequency)*s+m.Phase)
				}
			}
			if math.Abs(got[n]-want) > 1e-7 { // modes end at 1e-8
				t.Errorf("%s at %v s: sample %d is %v, want %v", e.Object, e.Start, n, got[n], want)
				break
			}
		}
	}
}

func TestABlownNoteLastsAndStops(t *testing.T) {
	const rate = 48000
	for _, e := range DemoScene() {
		if e.Hold == 0 {
			continue
		}
		e.Start = 0
		got := one(e, e.Hold+1).Render(rate)
		rms := func(from, to float64) float64 {
			var sum float64
			cut := got[int(from*rate):int(to*rate)]
			for _, x := range cut {
				sum += x * x
			}
			return math.Sqrt(sum / float64(len(cut)))
		}
		first, last, after := rms(0.1, 0.4), rms(e.Hold-0.3, e.Hold), rms(e.Hold+0.5, e.Hold+0.9)
		if math.Abs(first/last-1) > 0.01 || after > 1e-6 {
			t.Errorf("%s: RMS %v, later %v, after it %v; want steady and then nothing", e.Object, first, last, after)
		}
	}
}

func TestModesAboveTheConverterAreLeftOut(t *testing.T) {
	e := Event{Pitched: true, Contact: 1e-3, Modes: []Mode{{Frequency: 3700, T60: 1, Amplitude: 0.5}}}
	for _, x := range one(e, 0.1).Render(8000) {
		if x != 0 {
			t.Fatalf("a mode at 3700 Hz sounds %v at a rate of 8 kHz", x)
		}
	}
}

func TestRoomIsAsLoudAsStated(t *testing.T) {
	for _, rate := range []analysis.Rate{8000, 48000} {
		var sum, mean float64
		room := Scene{Seconds: 20, Room: 0.01, Seed: 3}.Render(rate)
		for _, x := range room {
			sum += x * x
			mean += x
		}
		near(t, "RMS of the room", math.Sqrt(sum/float64(len(room))), 0.01, 0.0003, "full scale")
		near(t, "mean of the room", mean/float64(len(room)), 0, 0.001, "full scale")
	}
}

func TestEveryTurnOfASeedIsTheSame(t *testing.T) {
	s := Scene{Seconds: 3, Room: demoRoom, Seed: 5, Events: DemoScene()[:1]}
	a, b := s.Render(48000), s.Render(48000)
	if !slices.Equal(a, b) {
		t.Error("the same seed gives another sound")
	}
	s.Seed++
	if slices.Equal(a, s.Render(48000)) {
		t.Error("another seed gives the same sound")
	}
}

// The scene is what its comment promises.
func TestDemoScene(t *testing.T) {
	events := DemoScene()
	kinds := map[analysis.Kind]int{}
	last := math.Inf(-1)
	var knocks, blown, quiet, loud, over int
	var ringsUntil float64
	for _, e := range events {
		if gap := e.Start - last; gap < 1.5 || !math.IsInf(gap, 1) && gap > 2.7 {
			t.Errorf("%s at %v s comes %v s after the one before, want 1.5 to 2.7", e.Object, e.Start, gap)
		}
		last = e.Start
		kinds[e.Kind]++
		if !e.Pitched {
			knocks++
			if e.Heard != 0 {
				t.Errorf("a knock is heard at %v Hz", e.Heard)
			}
			continue
		}
		if e.Hold > 0 {
			blown++
		}
		var sum float64
		for i, m := range e.Modes {
			sum += m.Amplitude
			if !(m.Frequency > 20 && m.Amplitude > 0 && m.T60 >= 0) || (m.T60 == 0) != (e.Hold > 0) {
				t.Errorf("%s: mode %+v", e.Object, m)
			}
			if i > 0 && m.Frequency <= e.Modes[i-1].Frequency {
				t.Errorf("%s: modes are not sorted: %v Hz after %v", e.Object, m.Frequency, e.Modes[i-1].Frequency)
			}
			if m.Pair > 0 {
				mate := slices.ContainsFunc(e.Modes, func(o Mode) bool { return o.Pair == m.Pair && o.Frequency != m.Frequency })
				split := slices.ContainsFunc(e.Modes, func(o Mode) bool {
					return o.Pair == m.Pair && math.Abs(float64(o.Frequency-m.Frequency)) > 30
				})
				if split || !mate {
					t.Errorf("%s: mode %+v has no near mate", e.Object, m)
				}
			}
		}
		if sum > 0.9 {
			t.Errorf("%s: amplitudes add up to %v, which may clip", e.Object, sum)
		}
		if sum < 0.1 {
			quiet++
		} else {
			loud++
		}
		if e.Heard != 0 && !slices.ContainsFunc(e.Modes, func(m Mode) bool { return m.Frequency == e.Heard }) {
			t.Errorf("%s is heard at %v Hz, where it has no mode", e.Object, e.Heard)
		}
		if e.Start < ringsUntil {
			over++
		}
		for _, m := range e.Modes {
			ringsUntil = max(ringsUntil, e.Start+m.T60/2) // 30 dB down
		}
	}
	if knocks != 1 || blown != 1 || quiet < 3 || loud < 12 {
		t.Errorf("%d knocks, %d blown, %d quiet, %d loud; want 1, 1, some, many", knocks, blown, quiet, loud)
	}
	if over < 2 {
		t.Errorf("%d strikes fall into a ring that is less than 30 dB down, want 2 or more", over)
	}
	for _, k := range []analysis.Kind{analysis.Glass, analysis.Bell, analysis.Bar, analysis.Plate, analysis.Blown} {
		if kinds[k] == 0 {
			t.Errorf("nothing of kind %s", k)
		}
	}
	if end := DemoSeconds - last; end < 2 {
		t.Errorf("the last event has %v s before the scene starts again, want 2", end)
	}
}

// A listener's way to the truth: the strongest place of the spectrum near each
// strong mode, by a scan of single bins over a windowed second, lies where the
// mode is.
func TestModesSoundWhereTheyAreStated(t *testing.T) {
	const rate = 48000
	full := Scene{Seconds: DemoSeconds, Room: demoRoom, Seed: 1, Events: DemoScene()}.Render(rate)
	for i, e := range DemoScene() {
		if e.Heard == 0 || i == 13 { // 13 falls into the brake drum's ring
			continue
		}
		cut := slices.Clone(full[int(e.Sample(rate))+480:][:rate])
		for n := range cut {
			cut[n] *= 0.5 - 0.5*math.Cos(2*math.Pi*float64(n)/rate)
		}
		power := func(f float64) float64 {
			var re, im float64
			for n, x := range cut {
				s, c := math.Sincos(2 * math.Pi * f * float64(n) / rate)
				re += x * c
				im += x * s
			}
			return re*re + im*im
		}
		best, at := 0.0, 0.0
		for f := float64(e.Heard) - 4; f <= float64(e.Heard)+4; f += 0.5 {
			if p := power(f); p > best {
				best, at = p, f
			}
		}
		// A near mate pulls the top of a one-second window by up to half the
		// split.
		near(t, e.Object+": strongest near the heard pitch", at, float64(e.Heard), 1, "Hz")
	}
}

func TestDemoIsASource(t *testing.T) {
	turn := int64(DemoSeconds * 8000)
	sound := Scene{Seconds: DemoSeconds, Room: demoRoom, Seed: 2, Events: DemoScene()}.Render(8000)
	open := func(o DemoOptions) func(t *testing.T) listen.Source {
		return func(t *testing.T) listen.Source {
			o.Rate, o.Seed = 8000, 2
			if !o.Free {
				o.clock = newJumpClock()
			}
			d, err := NewDemo(o)
			if err != nil {
				t.Fatal(err)
			}
			return d
		}
	}
	want := sourcetest.Expectations{Name: "demo scene", Rate: 8000, Live: true, Samples: -1, Enough: 2*turn + 1000, Tolerance: 1e-7}
	want.Sound = append(append(append([]float64{}, sound...), sound...), sound[:1000]...)
	t.Run("for ever", func(t *testing.T) { sourcetest.Run(t, open(DemoOptions{}), want) })
	want.Live = false
	t.Run("free", func(t *testing.T) { sourcetest.Run(t, open(DemoOptions{Free: true}), want) })
	want.Samples, want.Sound = turn, sound
	t.Run("once, free", func(t *testing.T) { sourcetest.Run(t, open(DemoOptions{Free: true, Once: true}), want) })
	want.Live = true
	t.Run("once", func(t *testing.T) { sourcetest.Run(t, open(DemoOptions{Once: true}), want) })
}

func TestDemoRefusesRates(t *testing.T) {
	for _, rate := range []analysis.Rate{4000, 1e6, -1, analysis.Rate(math.NaN()), analysis.Rate(math.Inf(1))} {
		if _, err := NewDemo(DemoOptions{Rate: rate}); err == nil || !strings.Contains(err.Error(), "8000 to 192000 Hz") {
			t.Errorf("rate %v: %v, want the range that can be heard", rate, err)
		}
	}
}

func TestDemoNextAllocatesNothing(t *testing.T) {
	d, err := NewDemo(DemoOptions{Rate: 8000, clock: &stillClock{}})
	if err != nil {
		t.Fatal(err)
	}
	ctx := context.Background()
	if n := testing.AllocsPerRun(300, func() { d.Next(ctx) }); n != 0 {
		t.Errorf("Next allocates %v times, want 0", n)
	}
	gone, stop := context.WithCancel(ctx)
	stop()
	if _, err := d.Next(gone); !errors.Is(err, context.Canceled) {
		t.Errorf("a caller who gave up: %v", err)
	}
	d.Close()
	if _, err := d.Next(ctx); err != io.EOF {
		t.Errorf("after Close: %v, want EOF", err)
	}
}

func BenchmarkNewDemo(b *testing.B) {
	for b.Loop() {
		if _, err := NewDemo(DemoOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}
