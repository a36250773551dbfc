package webview

import (
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/catalogue"
)

// shelfRig is a server with a shelf, and the trio at its microphone.
type shelfRig struct {
	*rig
	rnd    *rand.Rand
	struck int
}

// rawEncode and rawDecode are the recordings of these tests: the rate, then the
// samples.
func rawEncode(rate analysis.Rate, sound []float32, _ int, _ *analysis.Pitch) ([]byte, error) {
	b := binary.LittleEndian.AppendUint64(nil, math.Float64bits(float64(rate)))
	for _, x := range sound {
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(x))
	}
	return b, nil
}

func rawDecode(b []byte) (sound []float64, rate analysis.Rate, err error) {
	if len(b) < 8 {
		return nil, 0, fmt.Errorf("%d bytes are no recording", len(b))
	}
	rate = analysis.Rate(math.Float64frombits(binary.LittleEndian.Uint64(b)))
	for b = b[8:]; len(b) >= 4; b = b[4:] {
		sound = append(sound, float64(math.Float32frombits(binary.LittleEndian.Uint32(b))))
	}
	return sound, rate, nil
}

func shelved(t *testing.T) *shelfRig {
	t.Helper()
	s, err := catalogue.Open(context.Background(), t.TempDir(), catalogue.Options{})
	if err != nil {
		t.Fatal(err)
	}
	r := start(t, Config{Shelf: &ShelfOptions{Write: s, Ear: "ear 1", Encode: rawEncode, Decode: rawDecode,
		Invented: func(source string) bool { return source == "demo scene" }}})
	t.Cleanup(func() { r.stop(); s.Close() })
	return &shelfRig{r, rand.New(rand.NewPCG(1, 2)), 0}
}

// object is an invented thing: partials that ring shorter the higher they lie.
func object(root float64, ratios ...float64) []analysis.Partial {
	var ps []analysis.Partial
	for i, x := range append([]float64{1}, ratios...) {
		ps = append(ps, analysis.Partial{Frequency: analysis.Hz(root * x), Sigma: 0.3, Level: -6 * float64(i), SigmaLevel: 0.3, T60: 2 / float64(i+1), SigmaT60: 0.02})
	}
	return ps
}

func lowJar() []analysis.Partial  { return object(740, 2.4, 4.1, 6.3) }
func highJar() []analysis.Partial { return object(1130, 2.6, 4.9) }

const strikeRate = 8000

// strike has the ear hear a thing once, moved by cents, to the end.
func (r *shelfRig) strike(partials []analysis.Partial, cents float64) string {
	r.t.Helper()
	r.struck++
	s := analysis.Strike{ID: fmt.Sprintf("01KAX%021d", r.struck), Revision: 1, Stage: analysis.Final, Source: "hall pair", Rate: strikeRate,
		Onset: 800, From: 0, To: 8800, Time: time.Date(2026, 11, 25, 10, 0, r.struck, 0, time.UTC), Used: 1, ClockPPM: 29, Peak: 0.3}
	sound := make([]float32, 8800)
	for _, p := range partials {
		p.Frequency = p.Frequency.Shift(analysis.Cents(cents + 0.4*r.rnd.NormFloat64()))
		p.Level += r.rnd.NormFloat64()
		p.T60 *= math.Exp(0.03 * r.rnd.NormFloat64())
		s.Partials = append(s.Partials, p)
		for i := range sound[800:] {
			at := float64(i) / strikeRate
			sound[800+i] += float32(0.1 * math.Pow(10, p.Level/20-3*at/p.T60) * math.Sin(2*math.Pi*float64(p.Frequency)*at))
		}
	}
	if len(partials) > 0 {
		s.Heard = &analysis.Pitch{Frequency: s.Partials[0].Frequency, Sigma: 0.3, Basis: analysis.OnPartial, Likelihood: 0.9}
	}
	r.Hear(s)
	r.Keep(s, sound)
	return s.ID
}

// told waits until a strike is told so.
func (r *shelfRig) told(id, what string, so func(Strike) bool) (s Strike) {
	r.t.Helper()
	eventually(r.t, what, func() bool {
		r.mustAsk("GET", "/api/strikes/"+id, nil, &s)
		return so(s)
	})
	return s
}

func (r *shelfRig) keep(id string, as any) (k Keeping) {
	r.t.Helper()
	r.mustAsk("POST", "/api/strikes/"+id+"/keep", as, &k)
	if k.Kept == nil || k.Kept.Strike != id {
		r.t.Fatalf("keep %s as %v: got %+v", id, as, k)
	}
	return k
}

type m = map[string]any
