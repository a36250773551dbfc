package accuracy

import (
	"math"
	"testing"

	"ringwell/analysis/partial"
)

// The 1 % and 0.01 % points of χ² with four degrees of freedom are 13.277 and
// 23.513 (tables of χ², from memory, unchecked).
func TestPairTestStandsInTheTables(t *testing.T) {
	for alarm, want := range map[float64]float64{0.01: 13.277, 1e-4: 23.513} {
		if got := pairTest(alarm); math.Abs(got-want) > 0.001 {
			t.Errorf("χ² of four degrees of freedom exceeded with %g: got %.4f, want %.3f", alarm, got, want)
		}
		if got := offCentre(0, pairTest(alarm)); math.Abs(got-alarm) > 1e-9 {
			t.Errorf("on centre, the test is passed with %g, want its false alarm %g", got, alarm)
		}
	}
	// Mean 4+λ, variance 2·(4+2λ): half of them lie near the mean when λ is large.
	if got := offCentre(400, 404); math.Abs(got-0.5) > 0.02 {
		t.Errorf("off centre by 400, over the mean: got %.3f, want about 0.5", got)
	}
}

// The split's bound must be that of two lone waves when they lie far apart.
func TestSplitBoundOfFarWaves(t *testing.T) {
	at := func(f float64) partial.Component { return component(mode{f, 1, 1}, 0.3) }
	const n, noise = 48000, 0.01
	v := newPairView([]partial.Component{at(1000), at(1060)}, 0, n, noise)
	one := partial.Bounds([]partial.Component{at(1000)}, 0, n, []float64{noise})[0].Omega
	if got, want := v.splitSigma(), math.Sqrt2*one; math.Abs(got/want-1) > 0.02 {
		t.Errorf("split of 60 Hz, T60 1 s: sigma %.3g rad a sample, want %.3g", got, want)
	}
	// One wave fitted to two equal far ones leaves one of them: SNR·n of it.
	lone := 0.3 * 0.3 / 4 / (noise * noise) * 2 * (1 - math.Exp(-2*math.Log(1000))) / (2 * math.Log(1000) / 48000)
	if got := v.left(); math.Abs(got/lone-1) > 0.05 {
		t.Errorf("what one of two leaves: got %.0f, want %.0f", got, lone)
	}
}
