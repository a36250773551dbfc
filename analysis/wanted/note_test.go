package wanted

import (
	"testing"

	"ringwell/analysis/instrument"
)

// German and Dutch names against the keys they are (common practice, no
// source): -is raises by a semitone, -es lowers by one, A and E take
// -s and -ses, H is B.
func TestForeignNames(t *testing.T) {
	for name, plain := range map[string]string{
		"H4": "B4", "Cis4": "C#4", "Fis5": "F#5", "Gisis3": "G##3", "Des4": "Db4", "Ges5": "Gb5", "Deses4": "Dbb4",
		"As4": "Ab4", "Es5": "Eb5", "Ases4": "Abb4", "Eses4": "Ebb4", "Ais4": "A#4", "Eis4": "E#4", "His3": "B#3",
	} {
		want, err := instrument.ParseLabel(plain)
		if err != nil {
			t.Fatal(err)
		}
		l, faults := Parse(name)
		if len(faults) > 0 || len(l.Places) != 1 || l.Places[0].Key != want {
			t.Errorf("%s: got %+v, %v, wanted the key of %s, %d", name, l.Places, faults, plain, want)
		}
	}
	for _, name := range []string{"Aes4", "Aeses4", "Ees4", "Ds4", "Dses4", "Hs4", "Cisi4", "Axes4", "Exses4"} {
		if l, faults := Parse(name); len(faults) == 0 {
			t.Errorf("%s: got %+v, wanted a fault", name, l.Places)
		}
	}
}
