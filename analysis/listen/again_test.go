package listen

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"ringwell/analysis"
)

// laid is one recording with another, half as loud, so many seconds into it.
func laid(t *testing.T, first, then string, after float64) recording {
	t.Helper()
	a, b := openRecording(t, "strikes", first), openRecording(t, "strikes", then)
	if a.rate != b.rate {
		t.Fatalf("%s at %v Hz, %s at %v Hz", first, a.rate, then, b.rate)
	}
	at := int(after * float64(a.rate))
	x := make([]float64, max(len(a.x), at+len(b.x)))
	copy(x, a.x)
	for i, v := range b.x {
		x[at+i] += v / 2
	}
	return recording{rate: a.rate, x: x}
}

// nearest returns the last telling of the strike nearest to a time, within 50 ms.
func nearest(all []analysis.Strike, seconds float64) (found analysis.Strike, ok bool) {
	off := 0.05
	for _, s := range all {
		if d := math.Abs(s.Rate.Seconds(s.Onset) - seconds); d < off {
			found, ok, off = s, true, d
		}
	}
	return found, ok
}

// TestStruckWhileAnotherRings lays recordings of bars and a bell into each
// other's rings: the same again is told as the same, each other one as another,
// or nothing is said. Of two of them the pitch is but 4.8 cents apart.
func TestStruckWhileAnotherRings(t *testing.T) {
	const after = 0.3 // s
	firsts := []string{"bell_desk.wav", "xylo_c4.wav", "glock_c6.wav", "glock_g6.wav", "marimba_c3.wav"}
	thens := append(firsts[:len(firsts):len(firsts)], "celesta_c4.wav", "kalimba_g3.wav", "celesta_c6.wav", "vibes_a3.wav")
	told, all := 0, 0
	for i, first := range firsts {
		for _, then := range []string{first, thens[(i+1)%len(firsts)], thens[5+i%4], thens[5+(i+1)%4]} {
			r := laid(t, first, then, after)
			want := analysis.RemarkBeside
			if first == then {
				want = analysis.RemarkSame
			}
			said := ""
			if s, ok := nearest(lastOnes(hearAll(r.rate, r.x, 480, Options{LSB: lsb16})), after); ok {
				for _, m := range s.Remarks {
					if m.Code == analysis.RemarkSame || m.Code == analysis.RemarkBeside {
						said = m.Code
					}
				}
			}
			all++
			switch said {
			case want:
				told++
			case "":
				t.Logf("%s in the ring of %s: not told", then, first)
			default:
				t.Errorf("%s in the ring of %s: got %q, wanted %q or nothing", then, first, said, want)
			}
		}
	}
	t.Logf("%d of %d told", told, all)
	if told < all*8/10 {
		t.Errorf("got %d of %d told, wanted eight tenths", told, all)
	}
}

// TestHeardAfterAnotherBrokeOff: what is struck just after another thing was
// stopped is not drowned by a ring that is no more. The first recording breaks
// off at 0.33 s.
func TestHeardAfterAnotherBrokeOff(t *testing.T) {
	const after = 0.4 // s
	b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "strikes", "truth.json"))
	if err != nil {
		t.Fatal(err)
	}
	var truth []struct {
		File      string
		Heard     float64 `json:"heard_hz"`
		Tolerance float64 `json:"tolerance_cents"`
	}
	if err := json.Unmarshal(b, &truth); err != nil {
		t.Fatal(err)
	}
	for _, then := range []string{"glock_c6.wav", "glock_g6.wav", "xylo_c4.wav", "celesta_c4.wav", "celesta_c6.wav"} {
		r := laid(t, "vibes_a3.wav", then, after)
		s, _ := nearest(lastOnes(hearAll(r.rate, r.x, 480, Options{LSB: lsb16})), after)
		for _, w := range truth {
			if w.File != then {
				continue
			}
			// The blow of a xylophone's bar leaves it 9 cents wide.
			if s.Heard == nil || s.Heard.Sigma > 10 || math.Abs(float64(s.Heard.Frequency.Above(analysis.Hz(w.Heard)))) > max(w.Tolerance, 2*float64(s.Heard.Sigma)) {
				t.Errorf("%s after a bar that broke off: got %+v, wanted %.2f Hz within %v cents or two standard deviations", then, s.Heard, w.Heard, w.Tolerance)
			}
		}
	}
}

// TestSameThing holds the likelihood against odds worked out by hand.
func TestSameThing(t *testing.T) {
	at := func(hz ...float64) (p []analysis.Partial) {
		for _, f := range hz {
			p = append(p, analysis.Partial{Frequency: analysis.Hz(f)})
		}
		return p
	}
	// One on one: odds = 0.85·(1/(2·sqrt(2π)))/(1/3000+0.005).
	odds := 0.85 / (2 * math.Sqrt(2*math.Pi)) / (1.0/3000 + 0.005)
	if got, want := sameThing(at(500), at(500)), odds/(1+odds); math.Abs(got-want) > 1e-12 {
		t.Errorf("one partial at the same place: got %v, wanted %v", got, want)
	}
	// None meets: 0.15 for each of four.
	odds = math.Pow(0.15, 4)
	if got, want := sameThing(at(500, 900), at(600, 1700)), odds/(1+odds); math.Abs(got-want) > 1e-12 {
		t.Errorf("no partial at the same place: got %v, wanted %v", got, want)
	}
	if got := sameThing(at(500), nil); got != 0.5 {
		t.Errorf("nothing known: got %v, wanted 0.5", got)
	}
}
