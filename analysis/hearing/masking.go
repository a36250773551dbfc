package hearing

import (
	"math"

	"ringwell/analysis"
)

// ThresholdInQuiet is the sound pressure level in dB that a tone of frequency
// f needs to be heard at all:
// 3.64 F^-0.8 - 6.5 exp(-0.6 (F-3.3)²) + 0.001 F⁴, F in kHz. Terhardt 1979, as
// used in Terhardt, Stoll & Seewann 1982.
func ThresholdInQuiet(f analysis.Hz) float64 {
	k := float64(f) / 1000
	return 3.64*math.Pow(k, -0.8) - 6.5*math.Exp(-0.6*(k-3.3)*(k-3.3)) + 1e-3*k*k*k*k
}

// MaskedThreshold is the level in dB under which another tone at frequency at
// is not heard beside a tone at frequency masker of sound pressure level dB:
// ISO/IEC 11172-3 Annex D, model 1, tonal masker. It reaches from 3 Bark below
// the masker to 8 Bark above; elsewhere it is -Inf.
func MaskedThreshold(masker analysis.Hz, level float64, at analysis.Hz) float64 {
	return masked(Bark(masker), level, Bark(at))
}

// masked is MaskedThreshold with both places in Bark.
func masked(z, level, at float64) float64 {
	dz := at - z
	var spread float64
	switch {
	case dz < -3 || dz >= 8:
		return math.Inf(-1)
	case dz < -1:
		spread = 17*(dz+1) - (0.4*level + 6)
	case dz < 0:
		spread = (0.4*level + 6) * dz
	case dz < 1:
		spread = -17 * dz
	default:
		spread = -(dz-1)*(17-0.15*level) - 17
	}
	return level - 1.525 - 0.275*z - 4.5 + spread
}

// Excess fills dst with how many dB each tone stands over what the others and
// the threshold in quiet leave audible. Thresholds add as powers (ISO/IEC
// 11172-3). levels are sound pressure levels in dB.
func Excess(dst []float64, f []analysis.Hz, levels []float64) {
	z := make([]float64, len(f))
	for i := range f {
		z[i] = Bark(f[i])
	}
	for i := range f {
		sum := math.Pow(10, ThresholdInQuiet(f[i])/10)
		for j := range f {
			if j != i {
				sum += math.Exp(math.Ln10 / 10 * masked(z[j], levels[j], z[i]))
			}
		}
		dst[i] = levels[i] - 10*math.Log10(sum)
	}
}

// Dominance is the weight, 0..1, of a component at f for the pitch of the
// whole: largest at 700 Hz. Terhardt, Stoll & Seewann 1982.
func Dominance(f analysis.Hz) float64 {
	r := float64(f)/700 - 700/float64(f)
	return 1 / math.Sqrt(1+0.07*r*r)
}
