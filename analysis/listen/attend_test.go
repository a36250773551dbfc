package listen

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"ringwell/analysis"
)

// bars is sound with a struck bar of 440 Hz at each of the given seconds.
func bars(rate analysis.Rate, seconds float64, at ...float64) []float64 {
	rng := rand.New(rand.NewPCG(11, 1))
	x := make([]float64, int(float64(rate)*seconds))
	for i := range x {
		x[i] = 1e-4 * rng.NormFloat64()
	}
	for _, a := range at {
		strike(x, rate, a, 0.3, 440, 0.8, rng)
	}
	return x
}

// strike adds a bar free at both ends (ratios 1 : 2.757 : 5.404, of Rossing,
// "Science of Percussion Instruments", from memory) and a click of 2 ms.
func strike(x []float64, rate analysis.Rate, at, a, f, t60 float64, rng *rand.Rand) {
	first := int(math.Ceil(at * float64(rate)))
	click := int(0.002 * float64(rate))
	for k, ratio := range []float64{1, 2.757, 5.404} {
		phase := 2 * math.Pi * rng.Float64()
		if f*ratio > 0.45*float64(rate) {
			continue
		}
		for i := first; i < len(x); i++ {
			t := float64(i)/float64(rate) - at
			x[i] += a * math.Pow(0.5, float64(k)) * math.Exp(-t*analysis.LnThousand*ratio/t60) * math.Sin(2*math.Pi*f*ratio*t+phase)
		}
	}
	for i := first; i < min(first+click, len(x)); i++ {
		x[i] += 0.2 * a * rng.NormFloat64()
	}
}

// stopped is a clock that stands still, and a pause that only notes.
type stopped struct{ pauses []time.Duration }

func (s *stopped) now() time.Time { return epoch }
func (s *stopped) pause(_ context.Context, d time.Duration) {
	s.pauses = append(s.pauses, d)
}

func opens(sources ...*fakeSource) func(context.Context) (Source, error) {
	return func(context.Context) (Source, error) {
		if len(sources) == 0 {
			return nil, fmt.Errorf("no input: %w", ErrPermanent)
		}
		s := sources[0]
		sources = sources[1:]
		if s == nil {
			return nil, errors.New("the device is busy")
		}
		return s, nil
	}
}

func TestAttendARecording(t *testing.T) {
	sound := bars(48000, 3, 0.5, 1.8)
	l := &listener{}
	src := &fakeSource{name: "bars.wav", rate: 48000, sound: sound, block: 333}
	err := Attend(context.Background(), opens(src), Options{Epoch: epoch}, nil, l)
	if err != nil {
		t.Fatalf("recording: got error %v, wanted nil at its end", err)
	}
	if !src.isClosed() {
		t.Error("recording: not closed at its end")
	}
	if got, want := l.codes(), []string{Opening, Hearing, Ended}; !slices.Equal(got, want) {
		t.Errorf("states: got %v, wanted %v", got, want)
	}
	if got, want := len(l.levels), 30; got != want {
		t.Errorf("3 s of sound: got %d levels, wanted %d", got, want)
	}
	if len(l.kept) != 2 {
		t.Fatalf("two strikes: got the sound of %d", len(l.kept))
	}
	for i, s := range l.kept {
		if s.Source != "bars.wav" || s.Stage != analysis.Final || s.Heard == nil {
			t.Errorf("strike %d: got source %q, stage %s, heard %v; wanted bars.wav, final, a pitch", i, s.Source, s.Stage, s.Heard)
			continue
		}
		if c := float64(s.Heard.Frequency.Above(440)); math.Abs(c) > 2 {
			t.Errorf("strike %d of 440 Hz: got %.2f Hz, %.2f cents away", i, s.Heard.Frequency, c)
		}
		want := sound[s.From:s.To]
		if len(l.sounds[i]) != len(want) {
			t.Fatalf("strike %d: kept %d samples, wanted From..To, %d", i, len(l.sounds[i]), len(want))
		}
		for k := range want {
			if l.sounds[i][k] != float32(want[k]) {
				t.Fatalf("strike %d, kept sample %d: got %v, wanted %v exactly", i, k, l.sounds[i][k], float32(want[k]))
			}
		}
		if lead := s.Onset - s.From; lead != 12000 {
			t.Errorf("strike %d: got %d samples kept before the onset, wanted 12000 (0.25 s)", i, lead)
		}
		if s.Time != epoch.Add(s.Rate.Duration(s.Onset)) {
			t.Errorf("strike %d: got time %v, wanted the epoch and %v", i, s.Time, s.Rate.Duration(s.Onset))
		}
	}
}

func TestAttendReopensALiveSource(t *testing.T) {
	sound := bars(48000, 1, 0.5)
	gone := errors.New("the microphone was unplugged")
	first := &fakeSource{name: "mic", rate: 48000, live: true, sound: sound[:36000], block: 480, breaks: gone}
	second := &fakeSource{name: "mic", rate: 44100, live: true, sound: bars(44100, 1, 0.5), block: 480}
	clock := &stopped{}
	l := &listener{}
	err := attend(context.Background(), opens(first, nil, nil, second), Options{}, nil, l, clock.now, clock.pause)
	if err != nil {
		t.Fatalf("live source that ends in order after a break: got error %v, wanted nil", err)
	}
	if want := []time.Duration{0, 500 * time.Millisecond, time.Second}; !slices.Equal(clock.pauses, want) {
		t.Errorf("one break and two failures to open: got waits %v, wanted %v", clock.pauses, want)
	}
	if got, want := l.codes(), []string{Opening, Hearing, Deaf, Deaf, Deaf, Hearing, Ended}; !slices.Equal(got, want) {
		t.Errorf("states: got %v, wanted %v", got, want)
	}
	for _, s := range l.states {
		if s.Code == Deaf && !strings.Contains(s.Words, "rying again") {
			t.Errorf("words while deaf: got %q, wanted them to say that it is tried again", s.Words)
		}
	}
	if !strings.Contains(l.states[2].Words, gone.Error()) {
		t.Errorf("words after the break: got %q, wanted %q in them", l.states[2].Words, gone)
	}
	if len(l.kept) != 2 || l.kept[0].ID == l.kept[1].ID || l.kept[0].Rate != 48000 || l.kept[1].Rate != 44100 {
		t.Fatalf("a strike before the break and one after: got %+v", l.kept)
	}
	if !first.isClosed() || !second.isClosed() {
		t.Error("a source was left open")
	}
}

func TestBackOffGrowsAndStops(t *testing.T) {
	before := time.Duration(-1)
	for failures := range 8 {
		d := backOff(failures)
		if d < before || d > 10*time.Second {
			t.Errorf("after %d failures: got a wait of %v, wanted %v or more and at most 10s", failures, d, before)
		}
		before = d
	}
}

func TestAttendEnds(t *testing.T) {
	bad := errors.New("the file is cut short")
	cases := []struct {
		name string
		open func(context.Context) (Source, error)
		want error
	}{
		{"a recording that breaks is not opened again", opens(&fakeSource{name: "a", rate: 48000, sound: make([]float64, 999), block: 100, breaks: bad}), bad},
		{"a source that can never be opened", opens(), ErrPermanent},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			clock := &stopped{}
			err := attend(context.Background(), c.open, Options{}, nil, &listener{}, clock.now, clock.pause)
			if !errors.Is(err, c.want) {
				t.Errorf("got error %v, wanted %v", err, c.want)
			}
			if len(clock.pauses) > 0 {
				t.Errorf("got waits %v, wanted none", clock.pauses)
			}
		})
	}
}

func TestAttendIsCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	src := &fakeSource{name: "mic", rate: 48000, live: true, sound: bars(48000, 1, 0.5), block: 480, waits: true}
	l := &listener{onHear: func(analysis.Strike) { cancel() }}
	if err := Attend(ctx, opens(src), Options{}, nil, l); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled at the first telling: got error %v, wanted context.Canceled", err)
	}
	if n := len(l.tellings); n == 0 || l.tellings[n-1].Stage != analysis.Final {
		t.Errorf("cancelled in the middle of a ring: got tellings %v, wanted the last one final", l.tellings)
	}
	if !src.isClosed() {
		t.Error("the source was left open")
	}
	// Cancelled while it waits before trying again.
	ctx, cancel = context.WithCancel(context.Background())
	l = &listener{onState: func(s State) {
		if s.Code == Deaf {
			cancel()
		}
	}}
	if err := Attend(ctx, opens(nil, nil, nil), Options{}, nil, l); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled while deaf: got error %v, wanted context.Canceled", err)
	}
}

func TestAttendSaysDeafAndSilent(t *testing.T) {
	sound := append(make([]float64, 3*48000), bars(48000, 1, 0.5)...)
	src := &fakeSource{name: "mic", rate: 48000, live: true, sound: sound, block: 4800, empty: 15}
	l := &listener{}
	if err := Attend(context.Background(), opens(src), Options{}, nil, l); err != nil {
		t.Fatal(err)
	}
	if got, want := l.codes(), []string{Opening, Deaf, Hearing, Silent, Hearing, Ended}; !slices.Equal(got, want) {
		t.Errorf("a second of nothing, three of zeros, one of sound: got states %v, wanted %v", got, want)
	}
}

func TestAttendObeysItsControls(t *testing.T) {
	c := &Controls{}
	if k := c.Kind(); k != analysis.Unknown {
		t.Errorf("kind at first: got %q, wanted %q", k, analysis.Unknown)
	}
	c.SetKind(analysis.Bell)
	if k := c.Kind(); k != analysis.Bell {
		t.Errorf("kind set: got %q, wanted %q", k, analysis.Bell)
	}
	c.Mute(true)
	l := &listener{}
	src := &fakeSource{name: "mic", rate: 48000, live: true, sound: bars(48000, 2, 0.5, 1.2), block: 480}
	if err := Attend(context.Background(), opens(src), Options{}, c, l); err != nil {
		t.Fatal(err)
	}
	if len(l.tellings) > 0 || len(l.rooms) > 0 {
		t.Errorf("muted all along: got %d tellings and %d rooms, wanted none", len(l.tellings), len(l.rooms))
	}
	for _, v := range l.levels {
		if !v.Muted {
			t.Fatalf("level at %d: got Muted false, wanted true", v.At)
		}
	}
}

func TestLevel(t *testing.T) {
	m := newMeter(1000)
	x := make([]float64, 300)
	for i := range x {
		x[i] = 0.5 * math.Sin(2*math.Pi*float64(i)/20) // 5 whole periods a tenth: RMS 0.5/√2
	}
	x[150], x[151], x[152] = 1, 1, 1
	x[210], x[230] = 1, -1 // touched, not clipped
	var got []Level
	m.take(analysis.Block{Start: 50, Lost: 50, Samples: x[:130]}, func(l Level) { got = append(got, l) })
	m.take(analysis.Block{Start: 180, Samples: x[130:]}, func(l Level) { got = append(got, l) })
	if len(got) != 3 {
		t.Fatalf("0.3 s: got %d levels, wanted 3", len(got))
	}
	if w := 0.5 / math.Sqrt2; math.Abs(got[0].RMS-w) > 1e-12 || math.Abs(got[0].Peak-0.5) > 1e-12 {
		t.Errorf("sine of amplitude 0.5: got RMS %v and peak %v, wanted %v and 0.5", got[0].RMS, got[0].Peak, w)
	}
	for i, want := range []Level{{At: 150, Lost: 50}, {At: 250, Lost: 50, Clipped: true}, {At: 350, Lost: 50}} {
		got[i].RMS, got[i].Peak = 0, 0
		if !reflect.DeepEqual(got[i], want) {
			t.Errorf("level %d: got %+v, wanted %+v", i, got[i], want)
		}
	}
}
