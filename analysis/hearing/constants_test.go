package hearing

import (
	"math"
	"testing"

	"ringwell/analysis"
)

// Published formulas at chosen points, computed apart in double precision from
// the formulas as printed; the printed digits must come out.
func TestPublishedFormulas(t *testing.T) {
	for _, c := range []struct {
		source string
		f      analysis.Hz
		got    func(analysis.Hz) float64
		want   float64
		digit  float64 // half a unit of the last digit
	}{
		// Glasberg & Moore, Hearing Research 47 (1990) 103: 24.7(4.37F+1), 21.4 lg(4.37F+1).
		{"ERB", 100, erb, 35.4939, 5e-5}, {"ERB", 440, erb, 72.1932, 5e-5}, {"ERB", 1000, erb, 132.6390, 5e-5}, {"ERB", 4000, erb, 456.4560, 5e-5},
		{"ERB number", 100, ERBNumber, 3.3696, 5e-5}, {"ERB number", 1000, ERBNumber, 15.6214, 5e-5}, {"ERB number", 4000, ERBNumber, 27.1074, 5e-5},
		// Zwicker & Terhardt, J. Acoust. Soc. Am. 68 (1980) 1523.
		{"Bark", 100, Bark, 0.9867, 5e-5}, {"Bark", 440, Bark, 4.2073, 5e-5}, {"Bark", 1000, Bark, 8.5105, 5e-5}, {"Bark", 4000, Bark, 17.2589, 5e-5},
		// Terhardt, Stoll & Seewann, J. Acoust. Soc. Am. 71 (1982) 679, constants as in Terhardt's own program text.
		{"threshold in quiet", 100, ThresholdInQuiet, 22.9529, 5e-5}, {"threshold in quiet", 440, ThresholdInQuiet, 6.9720, 5e-5},
		{"threshold in quiet", 1000, ThresholdInQuiet, 3.3691, 5e-5}, {"threshold in quiet", 4000, ThresholdInQuiet, -3.3875, 5e-5}, {"threshold in quiet", 8000, ThresholdInQuiet, 4.7856, 5e-5},
		{"dominance", 200, Dominance, 0.76178, 5e-6}, {"dominance", 440, Dominance, 0.96908, 5e-6}, {"dominance", 700, Dominance, 1, 5e-6},
		{"dominance", 1000, Dominance, 0.98192, 5e-6}, {"dominance", 2000, Dominance, 0.83333, 5e-6}, {"dominance", 4000, Dominance, 0.56363, 5e-6},
	} {
		if got := c.got(c.f); math.Abs(got-c.want) > c.digit {
			t.Errorf("%s at %g Hz: got %.6f, wanted %.6f", c.source, c.f, got, c.want)
		}
	}
}

func erb(f analysis.Hz) float64 { return float64(ERB(f)) }

// ISO 226:2003, threshold of hearing, frontal free field: Terhardt's formula
// lies within 3.6 dB of it from 100 Hz to 6.3 kHz.
func TestThresholdAgainstISO226(t *testing.T) {
	for f, want := range map[analysis.Hz]float64{
		100: 26.5, 160: 17.9, 250: 11.4, 400: 6.2, 630: 3.0, 1000: 2.4, 1600: 1.7, 2500: -4.2, 4000: -5.4, 6300: 6.0,
	} {
		if got := ThresholdInQuiet(f); math.Abs(got-want) > 3.65 {
			t.Errorf("threshold at %g Hz: got %.1f dB, ISO 226 has %.1f dB; wanted within 3.6 dB", f, got, want)
		}
	}
}

// ISO/IEC 11172-3, Annex D, psychoacoustic model 1, a tonal masker of 60 dB:
// its own place, and the spreading at whole distances in Bark.
func TestMaskingOfISO11172(t *testing.T) {
	if got := MaskedThreshold(1000, 60, 1000); math.Abs(got-51.635) > 5e-4 {
		t.Errorf("1 kHz, 60 dB, at its own place: got %.4f dB, wanted 51.635 dB", got)
	}
	if got := MaskedThreshold(440, 60, 1212.877); math.Abs(got+0.707) > 5e-4 {
		t.Errorf("440 Hz, 60 dB, at 1212.877 Hz: got %.4f dB, wanted -0.707 dB", got)
	}
	for _, c := range []struct{ dz, want float64 }{{-2, -47}, {-0.5, -15}, {0.5, -8.5}, {2, -25}, {4, -41}} {
		at := barkInverse(Bark(1000) + c.dz)
		if got := MaskedThreshold(1000, 60, at) - MaskedThreshold(1000, 60, 1000); math.Abs(got-c.want) > 1e-6 {
			t.Errorf("spreading at %+.1f Bark: got %.4f dB, wanted %.4f dB", c.dz, got, c.want)
		}
	}
	for _, at := range []analysis.Hz{barkInverse(Bark(1000) - 3.01), barkInverse(Bark(1000) + 8.01)} {
		if got := MaskedThreshold(1000, 60, at); !math.IsInf(got, -1) {
			t.Errorf("beyond its reach, at %.0f Hz: got %.1f dB, wanted none", at, got)
		}
	}
}

// barkInverse finds the frequency of a critical-band rate by halving.
func barkInverse(z float64) analysis.Hz {
	lo, hi := analysis.Hz(1), analysis.Hz(20000)
	for range 100 {
		if mid := (lo + hi) / 2; Bark(mid) < z {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}
