package mic

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"os/exec"
	"slices"
	"testing"
	"time"

	"ringwell/audio"
)

// BenchmarkRigLatency plays clicks and tells how long the way of each was:
// from the player's write to the callback (player, sound server, host), and
// from the callback until the block is in the hands of who asked for it (ring,
// pipe, two processes). Run it alone:
//
//	sh cmd/rig.sh go test -run x -bench RigLatency -benchtime 40x ./audio/mic
func BenchmarkRigLatency(b *testing.B) {
	needRig(b)
	for _, latency := range []time.Duration{20 * time.Millisecond, 100 * time.Millisecond} {
		b.Run(fmt.Sprintf("buffer=%v", latency), func(b *testing.B) { benchmarkLatency(b, latency) })
	}
}

func benchmarkLatency(b *testing.B, latency time.Duration) {
	c := openRig(b, audio.CaptureOptions{Latency: latency})
	hear(b, c, 1)
	player := exec.Command("pacat", "-d", "rig", "--raw", "--format=float32le", "--rate=48000", "--channels=1", "--latency-msec=20")
	stdin, err := player.StdinPipe()
	if err != nil {
		b.Fatal(err)
	}
	if err := player.Start(); err != nil {
		b.Fatal(err)
	}
	clicks := make(chan time.Time, 1)
	stop, gone := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(gone)
		click(stdin, clicks, stop)
	}()
	var toCallback, toHand, beats []float64
	var last time.Time
	for b.Loop() {
		for heard := false; !heard; {
			blk, err := c.Next(b.Context())
			if err != nil {
				b.Fatal(err)
			}
			now := time.Now()
			if len(blk.Samples) == 0 {
				continue
			}
			at, _ := c.Entered()
			if !last.IsZero() && at != last {
				beats = append(beats, at.Sub(last).Seconds()*1e3)
			}
			last = at
			toHand = append(toHand, now.Sub(at).Seconds()*1e3)
			if slices.Max(blk.Samples) > 0.5 {
				toCallback = append(toCallback, at.Sub(<-clicks).Seconds()*1e3)
				heard = true
			}
		}
	}
	close(stop)
	<-gone
	stdin.Close()
	player.Wait()
	b.ReportMetric(0, "ns/op")
	for _, m := range []struct {
		name string
		ms   []float64
	}{{"to-callback", toCallback}, {"to-hand", toHand}, {"beat", beats}} {
		slices.Sort(m.ms)
		b.ReportMetric(quantile(m.ms, 0.5), m.name+"-p50-ms")
		b.ReportMetric(quantile(m.ms, 0.95), m.name+"-p95-ms")
	}
}

func quantile(sorted []float64, q float64) float64 {
	if len(sorted) == 0 {
		return math.NaN()
	}
	return sorted[int(q*float64(len(sorted)-1)+0.5)]
}

// click writes silence in step with the time, so that nothing queues up before
// the player, and a click twice a second, told on clicks just before.
func click(w io.Writer, clicks chan<- time.Time, stop <-chan struct{}) {
	const step = 10 * time.Millisecond
	silence := make([]byte, 4*rigRate/100)
	loud := slices.Clone(silence)
	binary.LittleEndian.PutUint32(loud, math.Float32bits(0.9))
	tick := time.NewTicker(step)
	defer tick.Stop()
	began := time.Now()
	for n := 0; ; n++ {
		// Ticks may be missed, samples may not.
		for time.Since(began) < time.Duration(n)*step {
			select {
			case <-stop:
				return
			case <-tick.C:
			}
		}
		p := silence
		if n%53 == 52 { // not in step with callbacks
			p = loud
			select {
			case clicks <- time.Now():
			case <-stop:
				return
			}
		}
		if _, err := w.Write(p); err != nil {
			return
		}
	}
}
