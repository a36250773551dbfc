package main

import (
	"bytes"
	"context"
	"math"

	"ringwell/analysis"
	"ringwell/analysis/listen"
	"ringwell/audio"
	"ringwell/audio/wav"
)

// encodeKept writes a strike's sound as the shelf keeps it, so that any sampler
// loads it in tune: one channel of 24-bit PCM, a cue point at the onset and,
// where a pitch was heard, that pitch.
func encodeKept(rate analysis.Rate, sound []float32, onset int, heard *analysis.Pitch) ([]byte, error) {
	meta := wav.Meta{}
	if onset >= 0 && onset < len(sound) {
		meta.Cues = []wav.Cue{{ID: 1, Frame: int64(onset)}}
	}
	if heard != nil {
		meta.Note = noteOf(heard.Frequency)
	}
	var b bytes.Buffer
	err := wav.Encode(&b, wav.Format{Rate: int(math.Round(float64(rate))), Channels: 1, Bits: 24}, sound, meta)
	return b.Bytes(), err
}

// struck is a strike as it was heard to its end, with its sound.
type struck struct {
	analysis.Strike
	sound []float32
}

// hearings gathers the strikes of a recording.
type hearings struct{ all []struck }

func (h *hearings) Hear(analysis.Strike) {}
func (h *hearings) Level(listen.Level)   {}
func (h *hearings) Room(listen.Room)     {}
func (h *hearings) State(listen.State)   {}
func (h *hearings) Keep(s analysis.Strike, sound []float32) {
	h.all = append(h.all, struck{s, append([]float32(nil), sound...)})
}

// hearFile hears a recording to its end, and says how many seconds it lasts.
func hearFile(ctx context.Context, path string, o listen.Options) (heard []struck, seconds float64, err error) {
	r, err := audio.OpenRecording(path, audio.RecordingOptions{})
	if err != nil {
		return nil, 0, err
	}
	defer r.Close()
	o.LSB = r.LSB()
	var h hearings
	timed := &timedSource{Source: r}
	err = listen.Attend(ctx, func(context.Context) (listen.Source, error) { return timed, nil }, o, nil, &h)
	return h.all, r.Rate().Seconds(timed.end), err
}

// timedSource notes how far its source has come.
type timedSource struct {
	listen.Source
	end int64
}

func (t *timedSource) Next(ctx context.Context) (analysis.Block, error) {
	b, err := t.Source.Next(ctx)
	if err == nil {
		t.end = b.Start + int64(len(b.Samples))
	}
	return b, err
}
