package hearing

import (
	"math"

	"ringwell/analysis"
)

// Bark is the critical-band rate of f in Bark:
// 13 atan(0.76 F) + 3.5 atan((F/7.5)²), F in kHz. Zwicker & Terhardt 1980.
func Bark(f analysis.Hz) float64 {
	k := float64(f) / 1000
	return 13*math.Atan(0.76*k) + 3.5*math.Atan(k/7.5*(k/7.5))
}
