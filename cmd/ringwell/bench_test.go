package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"math"
	"math/rand/v2"
	"os"
	"runtime"
	"runtime/debug"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	dsp "github.com/mjibson/go-dsp/fft"
	"gonum.org/v1/gonum/dsp/fourier"

	"ringwell/analysis"
	"ringwell/analysis/listen"
	"ringwell/audio"
	"ringwell/webview"
)

// The transform is gonum's where it is hot; go-dsp's serves once a second.
// Both of a real signal, so that the difference is seen that decided it.
func BenchmarkFFT(b *testing.B) {
	for _, n := range []int{1024, 4096, 16384, 65536} {
		x := make([]float64, n)
		rng := rand.New(rand.NewPCG(9, 10))
		for i := range x {
			x[i] = rng.NormFloat64()
		}
		b.Run(fmt.Sprintf("gonum/%d", n), func(b *testing.B) {
			b.ReportAllocs()
			t, dst := fourier.NewFFT(n), make([]complex128, n/2+1)
			for b.Loop() {
				t.Coefficients(dst, x)
			}
		})
		b.Run(fmt.Sprintf("go-dsp/%d", n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				dsp.FFTReal(x)
			}
		})
	}
}

// until is a source that ends after so many samples and tells how far it is.
type until struct {
	listen.Source
	end int64
	at  atomic.Int64
}

func (u *until) Next(ctx context.Context) (analysis.Block, error) {
	b, err := u.Source.Next(ctx)
	if err != nil {
		return b, err
	}
	if u.at.Store(b.Start); b.Start >= u.end {
		return analysis.Block{}, io.EOF
	}
	return b, nil
}

// BenchmarkAnHour runs the daemon's ear, trail and page server through an hour
// of the demo scene as fast as it goes. The clock of the trail goes with the
// sound, so that strikes grow old as they would. Heap is what is left after a
// collection; peak is the most memory the process ever had of the system.
// Once is enough: -benchtime 1x.
func BenchmarkAnHour(b *testing.B) {
	defer debug.SetGCPercent(debug.SetGCPercent(spareMemory))
	b.ReportAllocs()
	for b.Loop() {
		demo, err := audio.NewDemo(audio.DemoOptions{Free: true})
		if err != nil {
			b.Fatal(err)
		}
		rate := demo.Rate()
		source := &until{Source: demo, end: int64(rate.Samples(time.Hour))}
		epoch := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
		server, err := webview.New(webview.Config{
			Now: func() time.Time { return epoch.Add(rate.Duration(source.at.Load())) },
			Log: slog.New(slog.DiscardHandler), EncodeWAV: encodeWAV,
		})
		if err != nil {
			b.Fatal(err)
		}
		tenth := &census{Audience: server, source: source, every: int64(rate.Samples(10 * time.Minute))}
		began := time.Now()
		open := func(context.Context) (listen.Source, error) { return source, nil }
		if err := listen.Attend(b.Context(), open, listen.Options{Epoch: epoch}, nil, tenth); err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(3600/time.Since(began).Seconds(), "x-real-time")
		b.ReportMetric(float64(tenth.strikes), "strikes")
		b.ReportMetric(tenth.heap[0], "MB-heap-10min")
		b.ReportMetric(tenth.heap[len(tenth.heap)-1], "MB-heap-60min")
		b.ReportMetric(peakMemory(), "MB-peak")
		runtime.KeepAlive(server)
	}
	b.ReportMetric(0, "ns/op")
}

// census counts strikes and weighs the heap now and then.
type census struct {
	listen.Audience
	source  *until
	every   int64
	next    int64
	strikes int
	heap    []float64 // MB
}

func (c *census) Hear(s analysis.Strike) {
	if s.Stage == analysis.Final {
		c.strikes++
	}
	c.Audience.Hear(s)
}

func (c *census) Level(l listen.Level) {
	c.Audience.Level(l)
	if c.next == 0 {
		c.next = c.every
	}
	if l.At >= c.next-int64(c.every/100) {
		c.next += c.every
		var m runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&m)
		c.heap = append(c.heap, float64(m.HeapAlloc)/1e6)
	}
}

// peakMemory is the peak resident set in MB, as Linux tells it; NaN elsewhere.
func peakMemory() float64 {
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return math.NaN()
	}
	_, rest, _ := strings.Cut(string(status), "VmHWM:")
	var kB float64
	if _, err := fmt.Sscan(rest, &kB); err != nil {
		return math.NaN()
	}
	return kB / 1e3
}
