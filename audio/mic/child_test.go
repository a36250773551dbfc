package mic

import (
	"bytes"
	"context"
	"errors"
	"io"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"ringwell/audio"
)

// quick are limits for devices that fail on purpose; slow ones end nothing.
var quick = limits{open: 20 * time.Second, first: 20 * time.Second, close: 20 * time.Second, beat: 5 * time.Millisecond}

// fakeDevice returns a holder whose device runs play once it is started.
func fakeDevice(watch time.Duration, play func(*feed)) holder {
	return func(_ Options, ready chan<- running, stop <-chan struct{}) error {
		f := newFeed(48000, 2, 1, 20*time.Millisecond)
		f.start()
		ready <- running{hello: audio.Hello{Rate: 48000, Channels: 2, Channel: 2, Device: "hall pair", Host: "ALSA"}, feed: f, watch: watch}
		go play(f)
		<-stop
		return nil
	}
}

func hang() { select {} }

// said is what came down a pipe.
type said struct {
	hello   audio.Hello
	sound   []float32
	lost    int64
	flags   byte
	entered time.Time // the newest
	beats   int
	word    audio.Word
}

// records reads a pipe to its end.
func records(t *testing.T, r io.Reader) (got said) {
	t.Helper()
	p, err := audio.NewPipeReader(r)
	if err != nil {
		t.Fatal(err)
	}
	s := &audio.Sound{Samples: make([]float32, audio.MaxRecord)}
	for {
		v, err := p.Next(s)
		if err == io.EOF {
			return got
		}
		if err != nil {
			t.Fatal(err)
		}
		switch v := v.(type) {
		case audio.Hello:
			got.hello = v
		case audio.Word:
			got.word = v
		case nil:
			got.beats++
		case *audio.Sound:
			got.sound = append(got.sound, v.Samples...)
			got.lost += v.Lost
			got.flags |= v.Flags
			got.entered = v.Entered
		}
	}
}

// until cancels once n bytes were written.
type until struct {
	bytes.Buffer
	n      int
	cancel func()
}

func (u *until) Write(b []byte) (int, error) {
	n, err := u.Buffer.Write(b)
	if u.Len() >= u.n {
		u.cancel()
	}
	return n, err
}

func TestChildSendsWhatTheDeviceGives(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	out := &until{n: 4 * 4800, cancel: cancel}
	began := time.Now()
	err := capture(ctx, out, Options{}, fakeDevice(time.Minute, func(f *feed) {
		for n := range 10 {
			f.take(interleaved(n*480, 480, 2), 0)
		}
	}), quick)
	if err != nil {
		t.Fatal(err)
	}
	got := records(t, out)
	if h := got.hello; h.Device != "hall pair" || h.Rate != 48000 || h.Channel != 2 {
		t.Errorf("hello %+v", h)
	}
	want := make([]float32, 4800)
	for i := range want {
		want[i] = float32(1000000 + i)
	}
	if !slices.Equal(got.sound, want) || got.lost != 0 || got.flags != 0 || got.word != (audio.Word{}) {
		t.Errorf("%d samples, %d lost, flags %b, word %v; want 4800 numbered in order and nothing else", len(got.sound), got.lost, got.flags, got.word)
	}
	if got.entered.Before(began) || got.entered.After(time.Now()) {
		t.Errorf("the newest sample entered at %v, want between %v and now", got.entered, began)
	}
}

func TestChildTellsOfALoss(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	out := &until{n: 4 * 960, cancel: cancel}
	err := capture(ctx, out, Options{}, fakeDevice(time.Minute, func(f *feed) {
		f.take(interleaved(0, 480, 2), 0)
		f.take(interleaved(480, 480, 2), audio.PipeOverflow)
	}), quick)
	if err != nil {
		t.Fatal(err)
	}
	if got := records(t, out); len(got.sound) != 960 || got.lost < 1 || got.flags != audio.PipeOverflow {
		t.Errorf("%d samples, %d lost, flags %b; want 960, 1 or more, %b", len(got.sound), got.lost, got.flags, audio.PipeOverflow)
	}
}

// The daemon tells a child that hangs from a device that is silent by the beats.
func TestChildBeatsWhileNothingComes(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	out := &until{n: 200, cancel: cancel}
	if err := capture(ctx, out, Options{}, fakeDevice(time.Minute, func(*feed) {}), quick); err != nil {
		t.Fatal(err)
	}
	if got := records(t, out); got.beats < 1 || len(got.sound) != 0 {
		t.Errorf("%d beats and %d samples, want beats only", got.beats, len(got.sound))
	}
	if usual.beat > 100*time.Millisecond {
		t.Errorf("a beat every %v, want ten a second", usual.beat)
	}
}

// A sound server that wakes a card may need longer for the first sound than the
// watch allows between two callbacks.
func TestChildWaitsLongerForTheFirstSound(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	beats := make(chan struct{})
	var once sync.Once
	waited := &until{n: 200, cancel: func() { once.Do(func() { close(beats) }) }}
	out := io.MultiWriter(waited, &until{n: 200 + 4*480, cancel: cancel})
	err := capture(ctx, out, Options{}, fakeDevice(time.Millisecond, func(f *feed) {
		<-beats // several, all later than the watch
		f.take(interleaved(0, 480, 2), 0)
	}), quick)
	var stopped fault // once sound came the watch holds, so it may stop after
	if err != nil && !errors.As(err, &stopped) {
		t.Fatal(err)
	}
	if got := records(t, waited); len(got.sound) != 480 {
		t.Errorf("%d samples and the word %q, want the 480 that came late", len(got.sound), got.word.Text)
	}
}

func TestChildTroubles(t *testing.T) {
	once := func(f *feed) { f.take(interleaved(0, 480, 2), 0) }
	for _, c := range []struct {
		name string
		hold holder
		lim  func(*limits)
		hung bool
		code string
		text string
	}{
		{name: "no microphone", hold: func(Options, chan<- running, <-chan struct{}) error { return errNoInput },
			code: audio.WordNoInput, text: "no microphone found"},
		{name: "opening hangs", hold: func(Options, chan<- running, <-chan struct{}) error { hang(); return nil },
			lim: func(l *limits) { l.open = 20 * time.Millisecond }, hung: true,
			code: audio.WordFault, text: "the sound system does not answer"},
		{name: "the device stops", hold: fakeDevice(20*time.Millisecond, once),
			code: audio.WordFault, text: `the microphone "hall pair" stopped: look to its cable; trying again`},
		{name: "the device never starts", hold: fakeDevice(time.Millisecond, func(*feed) {}),
			lim:  func(l *limits) { l.first = 20 * time.Millisecond },
			code: audio.WordFault, text: `"hall pair" was opened but gives no sound`},
		{name: "the device stops and closing hangs", hold: func(o Options, ready chan<- running, stop <-chan struct{}) error {
			fakeDevice(20*time.Millisecond, once)(o, ready, stop)
			hang()
			return nil
		}, lim: func(l *limits) { l.close = 20 * time.Millisecond }, hung: true,
			code: audio.WordFault, text: `stopped`},
		{name: "no microphone at all but a file", hold: fakeDevice(time.Minute, func(f *feed) {
			for !f.runaway.Load() {
				once(f)
			}
		}), code: audio.WordFault, text: `gives sound faster than time passes`},
	} {
		t.Run(c.name, func(t *testing.T) {
			lim := quick
			if c.lim != nil {
				c.lim(&lim)
			}
			var out bytes.Buffer
			err := capture(t.Context(), &out, Options{}, c.hold, lim)
			if err == nil || errors.Is(err, errHung) != c.hung {
				t.Errorf("error %v, want one, hung: %v", err, c.hung)
			}
			word := records(t, &out).word
			if word.Code != c.code || !strings.Contains(word.Text, c.text) {
				t.Errorf("word %+v, want %s: %s", word, c.code, c.text)
			}
		})
	}
}

type brokenPipe struct{ room int }

func (b *brokenPipe) Write(p []byte) (int, error) {
	if b.room -= len(p); b.room < 0 {
		return 0, io.ErrClosedPipe
	}
	return len(p), nil
}

// When the daemon is gone the child lets go of the device.
func TestChildLeavesWithTheDaemon(t *testing.T) {
	for _, room := range []int{0, 8, 200, 10000} { // in the magic, the hello, a beat, the sound
		err := capture(t.Context(), &brokenPipe{room}, Options{}, fakeDevice(time.Minute, func(f *feed) {
			for range 10 {
				f.take(interleaved(0, 480, 2), 0)
			}
		}), quick)
		if !errors.Is(err, io.ErrClosedPipe) || errors.Is(err, errHung) {
			t.Errorf("pipe broken after %d bytes: error %v, want that of the pipe", room, err)
		}
	}
}
