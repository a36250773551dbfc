package hearing

import (
	"math"

	"ringwell/analysis"
)

// ERB is the equivalent rectangular bandwidth of the auditory filter at f, in
// Hz: 24.7 (4.37 F + 1), F in kHz; about 100 Hz to 10 kHz, moderate levels.
// Glasberg & Moore 1990.
func ERB(f analysis.Hz) analysis.Hz { return 24.7 * (4.37*f/1000 + 1) }

// ERBNumber is how many ERBs lie below f: 21.4 lg(4.37 F + 1), F in kHz.
// Glasberg & Moore 1990. (Integrating 1/ERB would give the factor 21.33; the
// published one is used throughout.)
func ERBNumber(f analysis.Hz) float64 { return 21.4 * math.Log10(4.37*float64(f)/1000+1) }
