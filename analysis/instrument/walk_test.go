package instrument

import (
	"math"
	"strings"
	"testing"

	"ringwell/analysis"
)

func heardAt(f analysis.Hz) analysis.Strike {
	return analysis.Strike{Heard: &analysis.Pitch{Frequency: f}, Partials: []analysis.Partial{{Frequency: f}}}
}

// A vibraphone whose bars lie 3 cents high and whose octaves are stretched is
// walked along, with a repeat, a slip, a knock, a skip and a step back.
func TestWalk(t *testing.T) {
	base, err := ByName("vibraphone", 440)
	if err != nil {
		t.Fatal(err)
	}
	w := NewWalk(base, false)
	real := func(i int) analysis.Hz { return base.Notes[i].Targets[0].Shift(3 + analysis.Cents(i)/4) }
	for i := 0; w.At < len(w.Notes); {
		switch {
		case i == 4 && w.Notes[3].Strikes == 1: // struck twice, 2 cents apart
			if !w.Hear(heardAt(real(3).Shift(2))) || w.At != 4 {
				t.Fatalf("a repeat: got note %d at hand, %q, want 4", w.At, w.Notice)
			}
			continue
		case i == 7 && w.Notice == "":
			if w.Hear(heardAt(real(12))) || w.At != 7 || !strings.Contains(w.Notice, base.Notes[12].Label) {
				t.Fatalf("a slip: got note %d at hand, %q, want 7 and that it was %s", w.At, w.Notice, base.Notes[12].Label)
			}
			if w.Hear(analysis.Strike{}) || w.At != 7 || w.Notice == "" {
				t.Fatalf("a knock: got note %d at hand, want 7 and words", w.At)
			}
			i, w.Notice = 7, "said"
		case i == 9:
			w.Skip()
			i++
			continue
		}
		if !w.Hear(heardAt(real(i))) {
			t.Fatalf("note %d: %s", i, w.Notice)
		}
		i = w.At
	}
	if w.Hear(heardAt(real(2))) {
		t.Error("after the last: taken, want that it is passed over")
	}
	if n := w.Measured(); n != len(w.Notes)-1 || !w.Notes[9].Skipped {
		t.Errorf("got %d measured and note 9 %+v, want all but that", n, w.Notes[9])
	}
	if off := w.Notes[3].Targets[0].Above(real(3)); math.Abs(float64(off)-1) > 1e-9 || w.Notes[3].Strikes != 2 {
		t.Errorf("struck twice: %v cents off in %d strikes, want the mean, 1", off, w.Notes[3].Strikes)
	}
	w.Back()
	if w.At != len(w.Notes)-1 {
		t.Errorf("back: got note %d, want the last", w.At)
	}
	if err := w.To(base.Notes[5].Key); err != nil || w.At != 5 {
		t.Errorf("to a note: got %d, %v, want 5", w.At, err)
	}
	w.Again()
	if w.Notes[5].Strikes != 0 || w.At != 5 {
		t.Errorf("again: got %+v", w.Notes[5])
	}
	if err := w.To(0); err == nil {
		t.Error("to a note it has not: got no error")
	}
	notes := map[int][]analysis.Hz{}
	for _, n := range w.Notes {
		if n.Strikes > 0 {
			notes[n.Key] = n.Targets
		}
	}
	in := Measured("mine", base, notes)
	at442, err := in.At(442)
	if err != nil {
		t.Fatal(err)
	}
	if l := at442.Land(real(20), Aim{}); math.Abs(float64(l.Cents)) > 1e-9 || l.Instrument != "mine" {
		t.Errorf("its own note on another reference: got %+v, want 0 cents", l)
	}
	if base.Notes[0].Fixed {
		t.Error("the built-in instrument was changed")
	}
}

// A prepared string may have two pitches, or none.
func TestWalkOfAPreparedPiano(t *testing.T) {
	base, err := ByName("piano", 440)
	if err != nil {
		t.Fatal(err)
	}
	w := NewWalk(base, true)
	two := heardAt(524)
	two.Second = &analysis.Pitch{Frequency: 261, Likelihood: 0.4}
	w.Hear(two)
	w.Hear(analysis.Strike{})
	if got := w.Notes[0].Targets; len(got) != 2 || got[0] != 261 || got[1] != 524 {
		t.Errorf("two pitches: got %v", got)
	}
	if n := w.Notes[1]; n.Strikes != 1 || len(n.Targets) != 0 || w.At != 2 {
		t.Errorf("none: got %+v", n)
	}
}
