//go:build unix

package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"ringwell/analysis/accuracy"
	"ringwell/audio/wav"
)

// libaubio is a general-purpose library that Debian carries (package
// aubio-tools). Its YIN runs with a buffer of 2048 and a hop of 256 samples.

// aubioTrack writes a take as a recording and has it tracked; used is the
// processor's time it took, start and reading included.
func aubioTrack(t testing.TB, tool string, k accuracy.Take) (at, hz []float64, used time.Duration) {
	t.Helper()
	sound := make([]float32, len(k.Samples))
	for i, v := range k.Samples {
		sound[i] = float32(v)
	}
	path := filepath.Join(t.TempDir(), "held.wav")
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := wav.Encode(file, wav.Format{Rate: int(k.Rate), Channels: 1, Bits: 16}, sound, wav.Meta{}); err != nil {
		t.Fatal(err)
	}
	if err := file.Close(); err != nil {
		t.Fatal(err)
	}
	c := exec.Command(tool, "-i", path, "-p", "yin", "-B", "2048", "-H", "256")
	out, err := c.Output()
	if err != nil {
		t.Fatalf("%s: aubiopitch: %v", k.Name, err)
	}
	for _, line := range strings.Split(string(out), "\n") {
		var when, f float64
		if n, _ := fmt.Sscan(line, &when, &f); n == 2 && f > 0 {
			at, hz = append(at, when), append(hz, f)
		}
	}
	return at, hz, c.ProcessState.UserTime() + c.ProcessState.SystemTime()
}

func aubiopitch(t testing.TB) string {
	tool, err := exec.LookPath("aubiopitch")
	if err != nil {
		t.Skip("libaubio's YIN: aubiopitch is not installed (Debian package aubio-tools)")
	}
	return tool
}

// TestTrackBesideAubio: on held tones whose pitch is known our refined track
// lies nearer the truth than libaubio's, on every one. Our YIN by itself does
// where there is breath, and not on steady tones: it works at a lower rate.
func TestTrackBesideAubio(t *testing.T) {
	tool := aubiopitch(t)
	for _, k := range accuracy.Held(1) {
		at, hz, _ := aubioTrack(t, tool, k)
		theirs, theirMost := accuracy.OffTrack(k, at, hz)
		at, hz = accuracy.Track(k, false)
		plain, plainMost := accuracy.OffTrack(k, at, hz)
		at, hz = accuracy.Track(k, true)
		ours, ourMost := accuracy.OffTrack(k, at, hz)
		t.Logf("%-13s %7.2f Hz: off by cents, median / 95 %%: libaubio %.3f / %.3f, our YIN %.3f / %.3f, refined %.4f / %.4f",
			k.Name, k.Truth.Strikes[0].Heard.Frequency, theirs, theirMost, plain, plainMost, ours, ourMost)
		if !(ours < theirs) {
			t.Errorf("%s: our track is off by %.3f cents (median), libaubio's by %.3f; wanted less", k.Name, ours, theirs)
		}
	}
}

// BenchmarkBesideAubio gives the processor's time of our track, plain and refined,
// and of the whole ear as shares of libaubio's YIN on the same sound, 24 s of held tones.
func BenchmarkBesideAubio(b *testing.B) {
	tool := aubiopitch(b)
	takes := accuracy.Held(1)
	spent := func() time.Duration {
		var u syscall.Rusage
		if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
			b.Fatal(err)
		}
		return time.Duration(u.Utime.Nano() + u.Stime.Nano())
	}
	var theirs, plain, refined, whole time.Duration
	for b.Loop() {
		for _, k := range takes {
			_, _, used := aubioTrack(b, tool, k)
			theirs += used
			t0 := spent()
			accuracy.Track(k, false)
			t1 := spent()
			accuracy.Track(k, true)
			t2 := spent()
			accuracy.HearAll(k)
			plain, refined, whole = plain+t1-t0, refined+t2-t1, whole+spent()-t2
		}
	}
	b.ReportMetric(plain.Seconds()/theirs.Seconds(), "yin/aubio")
	b.ReportMetric(refined.Seconds()/theirs.Seconds(), "refined/aubio")
	b.ReportMetric(whole.Seconds()/theirs.Seconds(), "ear/aubio")
}
