package main

import (
	"io"
	"math"

	"ringwell/analysis"
	"ringwell/analysis/instrument"
	"ringwell/audio/wav"
)

// encodeWAV writes a strike's kept sound as it was heard: one channel of 32-bit
// float, a cue point at the onset and, where a pitch was heard, that pitch for
// samplers (equal temperament on 440 Hz, as they take it).
func encodeWAV(w io.Writer, rate analysis.Rate, sound []float32, onset int, heard *analysis.Pitch) error {
	meta := wav.Meta{}
	if onset >= 0 && onset < len(sound) {
		meta.Cues = []wav.Cue{{ID: 1, Frame: int64(onset)}}
	}
	if heard != nil {
		meta.Note = noteOf(heard.Frequency)
	}
	return wav.Encode(w, wav.Format{Rate: int(math.Round(float64(rate))), Channels: 1, Bits: 32, Float: true}, sound, meta)
}

// noteOf is a frequency as key and upward fraction; nil outside MIDI's keys.
func noteOf(f analysis.Hz) *wav.Note {
	n := 69 + float64(f.Above(instrument.StandardReference))/100
	key := math.Floor(n)
	if !(key >= instrument.LowestKey && key <= instrument.HighestKey) {
		return nil
	}
	return &wav.Note{Key: int(key), Fraction: n - key}
}
