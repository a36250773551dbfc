package listen

import (
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"ringwell/analysis"
)

var variants = flag.Int("variants", 1, "how often each recording is put into a room; 60 show what happens once in twenty times")

// TestARoomChangesNothing puts recordings, most of them cut off while they
// still ring, at any moment into a room of any loudness, with the room going on
// after them, without a room, and with a room that is cut off as well: each is
// one strike and nothing else, and its pitch is that of testdata/strikes.
//
//	go test ./analysis/listen -run ARoomChangesNothing -variants 60
func TestARoomChangesNothing(t *testing.T) {
	const room, silence, cut = "room", "silence", "cut room"
	for name, want := range heardTable(t) {
		switch name {
		case "celesta_c4.wav", "vibes_a3.wav", "glock_g6.wav", "marimba_c3.wav", "xylo_c4.wav":
		default:
			continue
		}
		r := openRecording(t, "strikes", name)
		for _, mode := range []string{room, silence, cut} {
			t.Run(name+" in "+mode, func(t *testing.T) {
				for seed := range *variants {
					rng := rand.New(rand.NewPCG(uint64(seed), 77))
					lead := int((0.5 + 1.5*rng.Float64()) * float64(r.rate))
					x := make([]float64, lead+len(r.x)+int(r.rate)*4/5)
					copy(x[lead:], r.x)
					level := 1e-4 * math.Pow(10, rng.Float64()-0.5) // -90 to -70 dB
					for i := range x {
						if mode == room || mode == cut && i < lead+len(r.x) {
							x[i] += level * rng.NormFloat64()
						}
					}
					got := lastOnes(hearAll(r.rate, x, 480, Options{LSB: lsb16, NewID: numbered()}))
					if len(got) != 1 || got[0].Heard == nil || got[0].Stage != analysis.Final ||
						math.Abs(float64(got[0].Heard.Frequency.Above(want.Heard))) > want.Tolerance {
						t.Errorf("seed %d: got %s, wanted one strike of %.2f Hz within %v c", seed, told(got, r.rate, lead), want.Heard, want.Tolerance)
					}
				}
			})
		}
	}
}

// told says strikes in a line; times are from sample 0 of the recording.
func told(list []analysis.Strike, rate analysis.Rate, zero int) string {
	words := fmt.Sprint(len(list), " strikes:")
	for _, s := range list {
		words += fmt.Sprintf(" at %.3f s %s", rate.Seconds(s.Onset-int64(zero)), s.Stage)
		if s.Heard != nil {
			words += fmt.Sprintf(" %.2f Hz ±%.1f c", s.Heard.Frequency, s.Heard.Sigma)
		}
	}
	return words
}

type heardTruth struct {
	File      string      `json:"file"`
	Heard     analysis.Hz `json:"heard_hz"`
	Tolerance float64     `json:"tolerance_cents"`
}

// heardTable is testdata/strikes/truth.json by file.
func heardTable(t *testing.T) map[string]heardTruth {
	raw, err := os.ReadFile("../../testdata/strikes/truth.json")
	if err != nil {
		t.Fatal(err)
	}
	var list []heardTruth
	if err := json.Unmarshal(raw, &list); err != nil {
		t.Fatal(err)
	}
	table := map[string]heardTruth{}
	for _, v := range list {
		table[v.File] = v
	}
	return table
}
