package match

import (
	"strings"
	"testing"

	"ringwell/analysis"
)

func TestAdviceNeverSaysProof(t *testing.T) {
	sick := Health{Known: true, Changes: []Change{{Fell, 740.4, -12.3, 1e-5}, {Split, 740.4, 1.52, 0.05}, {Shorter, 2001, 0.71, 1e-4}}}
	for i, want := range []string{"740 Hz lies 12 cents lower", "740 Hz beats 1.5 times", "2001 Hz rings 71 % as long"} {
		if got := sick.Changes[i].Words(); !strings.Contains(got, want) {
			t.Errorf("%+v: got %q, want %q in it", sick.Changes[i], got, want)
		}
	}
	for _, kind := range analysis.Kinds() {
		got := sick.Advice(kind)
		if !strings.Contains(got, "consistent with a crack") || !strings.Contains(got, "Stop striking") || strings.Contains(got, "is cracked") {
			t.Errorf("%s: got %q, want it consistent with a crack and no more", kind, got)
		}
	}
	for kind, want := range map[analysis.Kind]bool{analysis.Glass: true, analysis.Plate: true, analysis.Unknown: true, analysis.Drum: false} {
		if got := strings.Contains(sick.Advice(kind), "sharp pieces"); got != want {
			t.Errorf("%s: warned of pieces: got %v, want %v", kind, got, want)
		}
	}
	if got := (&Health{Known: true}).Advice(analysis.Glass); got != "" {
		t.Errorf("nothing changed: got %q, want nothing", got)
	}
}
