package listen_test

import (
	"testing"

	"ringwell/analysis/listen"
	"ringwell/analysis/listen/sourcetest"
)

// The fake that stands for a source in these tests keeps to the contract of a
// source, so that what is proved with it holds for real ones.
func TestFakeSourceKeepsTheContract(t *testing.T) {
	sound := make([]float64, 5000)
	for i := range sound {
		sound[i] = float64(i%100)/100 - 0.5
	}
	for _, c := range []struct {
		name       string
		live       bool
		gapAt, gap int
	}{
		{"recording", false, 0, 0},
		{"live, 300 samples lost on the way", true, 1234, 300},
	} {
		t.Run(c.name, func(t *testing.T) {
			sourcetest.Run(t, func(*testing.T) listen.Source {
				return listen.NewFakeSource(c.live, sound, c.gapAt, c.gap)
			}, sourcetest.Expectations{
				Name: "fake", Rate: 48000, Live: c.live,
				Samples: 5000, Lost: int64(c.gap), Sound: sound,
			})
		})
	}
}
