package mic

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"ringwell/audio"
)

// A laptop with an interface plugged in, as PortAudio names things.
var laptop = []audio.Input{
	{Host: "ALSA", Name: "Laptop: Analog (hw:0,0)", Channels: 2, Rate: 44100},
	{Host: "ALSA", Name: "Stage Box: USB Audio (hw:1,0)", Channels: 4, Rate: 48000},
	{Host: "ALSA", Name: "pulse", Channels: 32, Rate: 44100},
	{Host: "ALSA", Name: "default", Channels: 32, Rate: 44100, Default: true},
	{Host: "JACK", Name: "default", Channels: 2, Rate: 48000},
}

func TestPick(t *testing.T) {
	for _, c := range []struct {
		name, want string
		index      int
	}{
		{"the default", "", 3},
		{"a name that stands in two host APIs", "default", 3},
		{"any case", "PULSE", 2},
		{"the whole name", "Stage Box: USB Audio (hw:1,0)", 1},
		{"a card that came back at another address", "Stage Box: USB Audio (hw:3,0)", 1},
		{"a part", "stage", 1},
	} {
		if i, err := pick(laptop, c.want); err != nil || i != c.index {
			t.Errorf("%s: pick %q = %d, %v; want %d", c.name, c.want, i, err, c.index)
		}
	}
	if i, err := pick(laptop[:2], ""); err != nil || i != 0 {
		t.Errorf("no default: pick = %d, %v; want the first", i, err)
	}
	for _, c := range []struct {
		name, want, words string
		inputs            []audio.Input
		code              string
	}{
		{"no microphone", "", "no microphone found", nil, audio.WordNoInput},
		{"no microphone, and one is asked for", "stage", "no microphone found", nil, audio.WordNoInput},
		{"not there", "hall", `no input called "hall"; there is "Laptop: Analog (hw:0,0)", "Stage Box: USB Audio (hw:1,0)"`, laptop, audio.WordFault},
		{"two cards", "(hw", `fits more than one input: "Laptop: Analog (hw:0,0)", "Stage Box: USB Audio (hw:1,0)"; give more`, laptop, audio.WordFault},
	} {
		_, err := pick(c.inputs, c.want)
		var f fault
		if !errors.As(err, &f) || f.code != c.code || !strings.Contains(f.text, c.words) {
			t.Errorf("%s: pick %q: error %#v, want code %s and words %q", c.name, c.want, err, c.code, c.words)
		}
	}
}

func TestRates(t *testing.T) {
	for _, c := range []struct {
		asked, preferred float64
		want             []float64
	}{
		{0, 44100, []float64{48000, 44100}},
		{0, 48000, []float64{48000, 44100}},
		{0, 96000, []float64{48000, 96000, 44100}},
		{0, 0, []float64{48000, 44100}},
		{96000, 44100, []float64{96000}},
	} {
		if got := rates(c.asked, c.preferred); !slices.Equal(got, c.want) {
			t.Errorf("asked %v, device prefers %v: tried %v Hz, want %v", c.asked, c.preferred, got, c.want)
		}
	}
}

func TestBuffering(t *testing.T) {
	for i, want := range []time.Duration{100, 100, 20, 20, 100} {
		if got := buffering(laptop[i]); got != want*time.Millisecond {
			t.Errorf("%s %q: %v, want %v ms", laptop[i].Host, laptop[i].Name, got, int(want))
		}
	}
	wide := audio.Input{Host: "ALSA", Name: "Desk (hw:2,0)", Channels: 32}
	if got := buffering(wide); got != 100*time.Millisecond {
		t.Errorf("a card of 32 channels: %v, want 100 ms", got)
	}
}

func TestWatch(t *testing.T) {
	for _, c := range []struct{ latency, want time.Duration }{
		{20 * time.Millisecond, time.Second},
		{100 * time.Millisecond, time.Second},
		{300 * time.Millisecond, 3 * time.Second},
	} {
		if got := watch(c.latency); got != c.want {
			t.Errorf("latency %v: watch %v, want %v", c.latency, got, c.want)
		}
	}
}
