// Package sourcetest checks an implementation of listen.Source against the
// outcomes its comment lists, the way testing/iotest checks a Reader. Run is
// called from the tests of every package that makes a source, on the real ones
// and on the fakes.
package sourcetest

import (
	"context"
	"errors"
	"io"
	"math"
	"testing"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/listen"
)

// Expectations says what is known of the source beforehand.
type Expectations struct {
	Name string        // exact name; "" only asks that there is one
	Rate analysis.Rate // exact rate; 0 only asks that it is positive
	Live bool

	// Samples is how many samples the source gives before io.EOF, lost ones
	// not counted. Negative: it does not end by itself, and Run stops after
	// Enough of them (0: one second's worth).
	Samples int64
	Enough  int64
	Lost    int64 // total of Block.Lost; negative: any

	// Sound, if not nil, is what the samples must be, from the first on, to
	// within Tolerance (full scale 1). It may be shorter than the source.
	Sound     []float64
	Tolerance float64

	// Within bounds the wait for all of it (0: twenty seconds). It only ends a
	// test that hangs; no speed is judged by it.
	Within time.Duration
}

// Run opens sources and checks what they do: name and rate, the running sample
// clock, finite samples, the sticky io.EOF, cancelling, closing early and
// twice. open is called once for each subtest; Run closes what it opened.
func Run(t *testing.T, open func(t *testing.T) listen.Source, want Expectations) {
	t.Helper()
	if want.Within == 0 {
		want.Within = 20 * time.Second
	}
	t.Run("reads", func(t *testing.T) { reads(t, open(t), want) })
	t.Run("cancel", func(t *testing.T) { cancel(t, open(t), want) })
	t.Run("close", func(t *testing.T) { closes(t, open(t), want) })
}

func reads(t *testing.T, s listen.Source, want Expectations) {
	defer s.Close()
	describe(t, s, want)
	ctx, stop := context.WithTimeout(context.Background(), want.Within)
	defer stop()
	enough := want.Enough
	if enough == 0 {
		enough = int64(float64(s.Rate()))
	}
	var next, got, lost int64
	for block := 0; ; block++ {
		b, err := s.Next(ctx)
		if err == io.EOF {
			if want.Samples < 0 {
				t.Fatalf("given a source without an end: got io.EOF after %d samples", got)
			}
			break
		}
		if err != nil {
			t.Fatalf("block %d: got error %v after %d samples, wanted sound or io.EOF", block, err, got)
		}
		if b.Lost < 0 {
			t.Fatalf("block %d: got Lost = %d samples, wanted 0 or more", block, b.Lost)
		}
		if b.Start != next+b.Lost {
			t.Fatalf("block %d with %d lost: got Start = %d, wanted %d (sample clock)", block, b.Lost, b.Start, next+b.Lost)
		}
		for i, x := range b.Samples {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Fatalf("sample %d: got %v, wanted a finite number", b.Start+int64(i), x)
			}
			if k := got + int64(i); k < int64(len(want.Sound)) && math.Abs(x-want.Sound[k]) > want.Tolerance {
				t.Fatalf("sample %d: got %v, wanted %v ± %v (full scale 1)", k, x, want.Sound[k], want.Tolerance)
			}
		}
		got += int64(len(b.Samples))
		lost += b.Lost
		next = b.Start + int64(len(b.Samples))
		if want.Samples < 0 && got >= enough {
			break
		}
	}
	if want.Samples >= 0 && got != want.Samples {
		t.Errorf("whole source: got %d samples, wanted %d", got, want.Samples)
	}
	if got < int64(len(want.Sound)) {
		t.Errorf("whole source: got %d samples, fewer than the %d to compare with", got, len(want.Sound))
	}
	if want.Lost >= 0 && lost != want.Lost {
		t.Errorf("whole source: got %d samples lost, wanted %d", lost, want.Lost)
	}
	if want.Samples >= 0 {
		ends(t, s, "after the end")
	}
	describe(t, s, want)
}

func cancel(t *testing.T, s listen.Source, want Expectations) {
	defer s.Close()
	ctx, stop := context.WithCancel(context.Background())
	stop()
	// A block that was ready before the caller gave up may still be handed out,
	// but not for ever.
	limit := time.Now().Add(want.Within)
	for {
		b, err := s.Next(ctx)
		if errors.Is(err, context.Canceled) || err == io.EOF && want.Samples >= 0 {
			return
		}
		if err != nil {
			t.Fatalf("cancelled context: got error %v, wanted context.Canceled", err)
		}
		if time.Now().After(limit) {
			t.Fatalf("cancelled context: still got a block of %d samples after %v, wanted context.Canceled", len(b.Samples), want.Within)
		}
	}
}

func closes(t *testing.T, s listen.Source, want Expectations) {
	ctx, stop := context.WithTimeout(context.Background(), want.Within)
	defer stop()
	if _, err := s.Next(ctx); err != nil && err != io.EOF {
		t.Fatalf("first block: got error %v", err)
	}
	began := time.Now()
	if err := s.Close(); err != nil {
		t.Errorf("Close: got error %v, wanted nil", err)
	}
	if took := time.Since(began); took > 3*time.Second {
		t.Errorf("Close: took %v, the contract allows 3s", took)
	}
	ends(t, s, "after Close")
	if err := s.Close(); err != nil {
		t.Errorf("second Close: got error %v, wanted nil", err)
	}
}

func ends(t *testing.T, s listen.Source, when string) {
	t.Helper()
	for i := range 3 {
		if b, err := s.Next(context.Background()); err != io.EOF || len(b.Samples) != 0 {
			t.Errorf("call %d of Next %s: got %d samples and error %v, wanted none and io.EOF", i+1, when, len(b.Samples), err)
		}
	}
}

func describe(t *testing.T, s listen.Source, want Expectations) {
	t.Helper()
	if s.Name() == "" || want.Name != "" && s.Name() != want.Name {
		t.Errorf("Name: got %q, wanted %q", s.Name(), want.Name)
	}
	if s.Rate() <= 0 || want.Rate != 0 && s.Rate() != want.Rate {
		t.Errorf("Rate: got %v samples a second, wanted %v", s.Rate(), want.Rate)
	}
	if s.Live() != want.Live {
		t.Errorf("Live: got %v, wanted %v", s.Live(), want.Live)
	}
}
