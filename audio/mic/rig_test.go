package mic

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"ringwell/audio"
	"ringwell/audio/wav"
)

// These tests need cmd/rig.sh, a virtual microphone, around them:
//
//	sh cmd/rig.sh go test -run TestRig ./audio/mic
func needRig(t testing.TB) {
	t.Helper()
	if os.Getenv("RINGWELL_RIG") != "1" {
		t.Skip("needs the virtual microphone: sh cmd/rig.sh go test -run TestRig ./audio/mic")
	}
}

var childCommand = []string{os.Args[0], "capture-child"}

func openRig(t testing.TB, o audio.CaptureOptions) *audio.Capture {
	t.Helper()
	o.Command = childCommand
	o.Stderr = t.Output()
	c, err := audio.OpenCapture(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}

// rig runs a command of the rig: plug, unplug, freeze or thaw.
func rig(t testing.TB, what string) {
	t.Helper()
	if out, err := exec.Command("sh", os.Getenv("RIG"), what).CombinedOutput(); err != nil {
		t.Fatalf("rig %s: %v\n%s", what, err, out)
	}
}

// hear collects n samples from the first on.
func hear(t testing.TB, c *audio.Capture, n int) (got []float64, lost int64) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	for len(got) < n {
		b, err := c.Next(ctx)
		if err != nil {
			t.Fatalf("after %d samples: %v", len(got), err)
		}
		got = append(got, b.Samples...)
		lost += b.Lost
	}
	return got, lost
}

// play plays samples of channels side by side into a sink while what() runs.
func play(t testing.TB, sink string, channels int, samples []float32, what func()) {
	t.Helper()
	name := filepath.Join(t.TempDir(), "x.wav")
	f, err := os.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := wav.Encode(f, wav.Format{Rate: 48000, Channels: channels, Bits: 32, Float: true}, samples, wav.Meta{}); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("paplay", "-d", sink, name)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	what()
	if err := cmd.Wait(); err != nil {
		t.Fatalf("paplay: %v", err)
	}
}

const (
	rigRate = 48000
	tone    = 987.654 // Hz
)

// toneAndNoise is half a second of silence, then a sine with noise for d: the
// noise fixes where it is, the sine shows the frequency.
func toneAndNoise(seed uint64, seconds int) []float32 {
	rng := rand.New(rand.NewPCG(seed, 0))
	x := make([]float32, rigRate/2+seconds*rigRate)
	for i := rigRate / 2; i < len(x); i++ {
		x[i] = float32(0.5*math.Sin(2*math.Pi*tone/rigRate*float64(i)) + 0.01*rng.NormFloat64())
	}
	return x
}

// find returns the index in got at which want stands, by its first sample that
// is not 0.
func find(t *testing.T, got []float64, want []float32) int {
	t.Helper()
	lead := 0
	for want[lead] == 0 {
		lead++
	}
	for i, v := range got {
		if v == float64(want[lead]) {
			return i - lead
		}
	}
	t.Fatalf("%d samples heard: the first sample played, %v, is not among them", len(got), want[lead])
	return 0
}

// compare checks that want stands in got at at, sample for sample.
func compare(t *testing.T, got []float64, at int, want []float32) {
	t.Helper()
	bad, worst := 0, 0.0
	for i, w := range want {
		j := at + i
		if j < 0 { // lead silence
			continue
		}
		if j >= len(got) {
			t.Fatalf("heard only %d of %d samples", i, len(want))
		}
		if e := math.Abs(got[j] - float64(w)); e != 0 {
			bad++
			worst = max(worst, e)
		}
	}
	t.Logf("%d samples: %d differ, by at most %.3g of full scale", len(want), bad, worst)
	if bad != 0 {
		t.Errorf("%d of %d samples differ from what was played, by up to %g", bad, len(want), worst)
	}
}

// frequency measures the tone by how its phase moves from one second to the
// next: least squares over whole seconds, an estimator of its own.
func frequency(x []float64) float64 {
	n := len(x) / rigRate
	var st, sp, stt, stp, last float64
	for s := range n {
		var re, im float64
		for i := s * rigRate; i < (s+1)*rigRate; i++ {
			sin, cos := math.Sincos(2 * math.Pi * math.Mod(tone*float64(i)/rigRate, 1))
			re += x[i] * cos
			im -= x[i] * sin
		}
		phase := math.Atan2(im, re)
		phase += 2 * math.Pi * math.Round((last-phase)/(2*math.Pi))
		last = phase
		k := float64(s)
		st, sp, stt, stp = st+k, sp+phase, stt+k*k, stp+k*phase
	}
	m := float64(n)
	return tone + (m*stp-st*sp)/(m*stt-st*st)/(2*math.Pi)
}

func TestRigHearsWhatIsPlayed(t *testing.T) {
	needRig(t)
	const seconds = 10
	want := toneAndNoise(1, seconds)
	c := openRig(t, audio.CaptureOptions{})
	hear(t, c, 1) // play only once sound comes in
	var got []float64
	var lost int64
	play(t, "rig", 1, want, func() { got, lost = hear(t, c, len(want)+2*rigRate) })
	at := find(t, got, want)
	compare(t, got, at, want)
	if lost != 0 {
		t.Errorf("%d samples counted as lost, want 0", lost)
	}
	f := frequency(got[at+rigRate/2 : at+len(want)])
	// The noise alone makes ±0.005 ppm (Cramér-Rao bound for 10 s at 31 dB).
	if ppm := (f/tone - 1) * 1e6; math.Abs(ppm) > 0.1 {
		t.Errorf("%v Hz played, %.6f Hz heard: %+.3f ppm, want less than 0.1", tone, f, ppm)
	} else {
		t.Logf("%v Hz played, %.6f Hz heard: %+.4f ppm", tone, f, ppm)
	}
}

func TestRigTakesTheChannelAskedFor(t *testing.T) {
	needRig(t)
	left, right := toneAndNoise(2, 1), toneAndNoise(3, 1)
	both := make([]float32, 2*len(left))
	for i := range left {
		both[2*i], both[2*i+1] = left[i], right[i]
	}
	for channel, want := range map[int][]float32{1: left, 2: right} {
		c := openRig(t, audio.CaptureOptions{Input: "PAI", Channel: channel})
		if c.Name() != "pair" || c.Rate() != rigRate {
			t.Errorf("opened %q at %v Hz, want \"pair\" at 48000", c.Name(), c.Rate())
		}
		hear(t, c, 1)
		var got []float64
		play(t, "pair", 2, both, func() { got, _ = hear(t, c, len(want)+2*rigRate) })
		compare(t, got, find(t, got, want), want)
		c.Close()
	}
}

// A player may ask for another rate: the sound server converts, and the clock
// must stay true.
func TestRigOtherRate(t *testing.T) {
	needRig(t)
	c := openRig(t, audio.CaptureOptions{Rate: 44100})
	if c.Rate() != 44100 {
		t.Errorf("asked for 44100 Hz, got %v", c.Rate())
	}
	hear(t, c, 44100)
}

func TestRigSaysWhatCannotBeHad(t *testing.T) {
	needRig(t)
	for _, c := range []struct {
		name  string
		o     audio.CaptureOptions
		words string
	}{
		{"name", audio.CaptureOptions{Input: "hall"}, `there is no input called "hall"; there is "pair", "default"`},
		{"channel", audio.CaptureOptions{Channel: 99}, `has no channel 99`},
		{"rate", audio.CaptureOptions{Rate: 1e7}, `does not run at 1e+07 Hz`},
	} {
		c.o.Command = childCommand
		_, err := audio.OpenCapture(t.Context(), c.o)
		if err == nil || !strings.Contains(err.Error(), c.words) || errors.Is(err, audio.ErrNoInput) {
			t.Errorf("%s: error %v, want %q", c.name, err, c.words)
		}
	}
}

func TestRigWithoutAnyInput(t *testing.T) {
	needRig(t)
	t.Setenv("ALSA_CONFIG_PATH", filepath.Join(os.Getenv("RIG_DIR"), "none.conf"))
	_, err := audio.OpenCapture(t.Context(), audio.CaptureOptions{Command: childCommand})
	if !errors.Is(err, audio.ErrNoInput) {
		t.Errorf("error %v, want ErrNoInput", err)
	}
	inputs, err := audio.ListInputs(t.Context(), childCommand)
	if err != nil || len(inputs) != 0 {
		t.Errorf("inputs %v, %v; want none", inputs, err)
	}
}

func TestRigListsInputs(t *testing.T) {
	needRig(t)
	inputs, err := audio.ListInputs(t.Context(), childCommand)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]bool{}
	for _, in := range inputs {
		got[in.Name] = in.Default
		if in.Host != "ALSA" || in.Channels < 1 || in.Rate < 8000 {
			t.Errorf("%+v: want ALSA, a channel and a rate", in)
		}
	}
	if pair, ok := got["pair"]; !ok || pair || !got["default"] {
		t.Errorf("inputs %+v: want \"pair\", and \"default\" as the default", inputs)
	}
}

// The sound libraries write nothing on standard error, which they do if let.
func TestRigIsQuiet(t *testing.T) {
	needRig(t)
	said := func(args ...string) string {
		cmd := exec.Command(childCommand[0], append(childCommand[1:], args...)...)
		var b strings.Builder
		cmd.Stderr = &b
		if err := cmd.Run(); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	if s := said("--list"); s != "" {
		t.Errorf("standard error has\n%s\nwant nothing", s)
	}
	if said("--list", "--noise") == "" {
		t.Log("this machine's sound libraries have nothing to say (is JACK's library installed?)")
	}
}

// reopen opens until it works, as the daemon does.
func reopen(t *testing.T, open func(context.Context) (*audio.Capture, error)) *audio.Capture {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	for {
		c, err := open(ctx)
		if err == nil {
			t.Cleanup(func() { c.Close() })
			return c
		}
		select {
		case <-ctx.Done():
			t.Fatalf("did not come back: %v", err)
		case <-time.After(100 * time.Millisecond):
		}
	}
}

func nextError(t *testing.T, c *audio.Capture) error {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	for {
		if _, err := c.Next(ctx); err != nil {
			return err
		}
	}
}

// The server dies (unplugged) or stands still (a driver that hangs, also in
// Stop and Close). Either way the source says so, Close returns, and a new
// source hears what is played.
func TestRigRecovers(t *testing.T) {
	needRig(t)
	for _, c := range []struct{ trouble, end string }{{"unplug", "plug"}, {"freeze", "thaw"}} {
		t.Run(c.trouble, func(t *testing.T) {
			open := audio.Reopener(audio.CaptureOptions{Command: childCommand, Input: "pair", Stderr: t.Output()})
			s := reopen(t, open)
			hear(t, s, rigRate/2)
			rig(t, c.trouble)
			t.Cleanup(func() {
				if t.Failed() { // leave the rig usable
					exec.Command("sh", os.Getenv("RIG"), c.end).Run()
				}
			})
			began := time.Now()
			err := nextError(t, s)
			t.Logf("%s: noticed after %v: %v", c.trouble, time.Since(began).Round(time.Millisecond), err)
			if want := `the microphone "pair" stopped: look to its cable; trying again`; err.Error() != want {
				t.Errorf("error %q, want %q", err, want)
			}
			began = time.Now()
			if err := s.Close(); err != nil {
				t.Errorf("Close: %v", err)
			}
			took := time.Since(began)
			t.Logf("Close took %v", took.Round(time.Millisecond))
			if took > 3*time.Second { // the contract of listen.Source
				t.Errorf("Close took %v, want at most 3 s", took)
			}
			rig(t, c.end)
			began = time.Now()
			s = reopen(t, open)
			hear(t, s, 1)
			t.Logf("%s: sound again %v later", c.end, time.Since(began).Round(time.Millisecond))
			want := toneAndNoise(4, 1)
			var got []float64
			play(t, "pair", 2, twice(want), func() { got, _ = hear(t, s, len(want)+2*rigRate) })
			compare(t, got, find(t, got, want), want)
		})
	}
}

func twice(x []float32) []float32 {
	y := make([]float32, 0, 2*len(x))
	for _, v := range x {
		y = append(y, v, v)
	}
	return y
}
