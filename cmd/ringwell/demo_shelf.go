package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
	"ringwell/analysis/listen"
	"ringwell/audio"
)

// demoDegrees are the temperatures at which the trio struck its things: enough
// times for their health to be judged.
func demoDegrees() []float64 { return []float64{17, 18.5, 19, 20, 21.5, 22} }

// demoSlope is how the invented things go with temperature, in cents a kelvin.
// That of steel is -0.2, from its modulus; one for all is good enough to try.
const demoSlope = -0.2

// stockDemo puts the trio's collection on a shelf that holds nothing, as the
// ear hears it, and marks the shelf as a demo. A shelf that is one is left as
// it is; any other is ErrDemo.
func stockDemo(ctx context.Context, s *catalogue.Shelf) error {
	demo, err := s.Demo(ctx)
	if err != nil {
		return err
	}
	if tally, err := s.Tally(ctx); err != nil || demo && tally.Objects+tally.Away > 0 {
		return err
	}
	if err := s.MarkDemo(ctx); err != nil {
		return err
	}
	voices := map[string]string{}
	for n, degrees := range demoDegrees() {
		if err := demoTurn(ctx, s, voices, n, degrees); err != nil {
			return fmt.Errorf("stock the demo shelf: %w", err)
		}
	}
	return nil
}

// sameStrike is how far a strike may be heard from where it was made.
const sameStrike = 0.1 // s

// demoTurn has the scene heard once and keeps its strikes.
func demoTurn(ctx context.Context, s *catalogue.Shelf, voices map[string]string, n int, degrees float64) error {
	scene := audio.Scene{Seconds: audio.DemoSeconds, Room: 2.5e-4, Seed: uint64(n + 1), Events: audio.DemoScene()}
	factor := analysis.Hz(math.Exp2(demoSlope * (degrees - 20) / 1200))
	for i := range scene.Events {
		e := &scene.Events[i]
		e.Modes = slices.Clone(e.Modes)
		for k := range e.Modes {
			e.Modes[k].Frequency *= factor
		}
	}
	const rate = 48000
	heard, err := hearSound(ctx, scene.Render(rate), rate)
	if err != nil {
		return err
	}
	for _, h := range heard {
		at := h.Rate.Seconds(h.Onset)
		i := slices.IndexFunc(scene.Events, func(e audio.Event) bool { return math.Abs(e.Start-at) < sameStrike })
		if i < 0 || !scene.Events[i].Pitched || len(h.Partials) == 0 {
			continue
		}
		e := &scene.Events[i]
		if voices[e.Object] == "" {
			if voices[e.Object], err = demoObject(ctx, s, e); err != nil {
				return err
			}
		}
		onset := int(h.Onset - h.From)
		data, err := encodeKept(h.Rate, h.sound, onset, h.Heard)
		if err != nil {
			return err
		}
		k := catalogue.Kept{Strike: h.Strike, Voice: voices[e.Object], Frame: int64(onset), Temperature: &degrees, Room: "invented", Input: "demo scene", Analysis: release}
		k.ID = fmt.Sprintf("demo-%d-%02d", n+1, i+1)
		k.Time = time.Date(2031, 3, 4+n, 19, 0, 0, 0, time.UTC).Add(h.Rate.Duration(h.Onset))
		if err := s.Keep(ctx, k, data); err != nil {
			return err
		}
	}
	return nil
}

func demoObject(ctx context.Context, s *catalogue.Shelf, e *audio.Event) (voice string, err error) {
	o, err := s.AddObject(ctx, catalogue.Object{Name: e.Object, Kind: e.Kind, KeptAt: "the trio's crates", Notes: "Invented, to try the shelf on."})
	if err != nil {
		return "", err
	}
	v, err := s.AddVoice(ctx, catalogue.Voice{Object: o.ID, Place: "rim", Beater: "felt"})
	return v.ID, err
}

// hearSound hears one channel of sound to its end.
func hearSound(ctx context.Context, sound []float64, rate analysis.Rate) ([]struck, error) {
	ear := listen.New(rate, listen.Options{Source: "demo scene"})
	last := map[string]analysis.Strike{}
	var order []string
	hear := func(tellings []analysis.Strike) {
		for _, s := range tellings {
			if _, ok := last[s.ID]; !ok {
				order = append(order, s.ID)
			}
			last[s.ID] = s
		}
	}
	const block = 4096
	for from := 0; from < len(sound); from += block {
		if ctx.Err() != nil {
			return nil, errors.New("interrupted")
		}
		hear(ear.Step(analysis.Block{Samples: sound[from:min(from+block, len(sound))], Start: int64(from)}))
	}
	hear(ear.Flush())
	var all []struck
	for _, id := range order {
		s := last[id]
		if s.Stage == analysis.Withdrawn {
			continue
		}
		from, to := max(0, s.From), min(int64(len(sound)), s.To)
		kept := make([]float32, max(0, to-from))
		for i := range kept {
			kept[i] = float32(sound[from+int64(i)])
		}
		s.From = from
		if len(kept) > 0 {
			all = append(all, struck{s, kept})
		}
	}
	return all, nil
}
