package partial

import "ringwell/analysis"

// Take is what is known before a strike begins.
type Take struct {
	Rate analysis.Rate
	// Before is the sound before the onset with earlier rings taken out, at
	// most 2.5 s of it, ending at the onset; it may be short or empty. The
	// contacts of earlier strikes (45 ms from each onset) are better left out.
	Before []float64
	// Floor is the power of the background as in listen.Room: Floor[k] is the
	// power at frequency k·Rate/(2·(len(Floor)-1)), scaled so that white noise
	// of variance v reads v. Nil if unknown.
	Floor []float64
	// LSB is the source's quantisation step, full scale 1; 0 if unknown.
	LSB float64
}

// Component is one damped sinusoid of the model, as it stood at the onset:
//
//	x[n] = Re(Amp·exp((-Decay + i·Omega)·n)),  n samples after the onset.
type Component struct {
	Omega float64    // rad a sample, inside (0, π)
	Decay float64    // neper a sample, > 0
	Amp   complex128 // full scale 1
}

// Reading is what the sound heard so far says.
type Reading struct {
	N        int                // samples after the onset it rests on
	Partials []analysis.Partial // reported, by rising frequency; the caller's to keep
	Ring     []Component        // the whole model, for taking this ring out of what follows; the caller's to keep

	Explained float64 // share of the early energy the reported partials explain, 0..1: the smaller of raw and whitened
	Lasting   float64 // the same share of what comes after the first 100 ms, whitened; 0 unknown
	RiseMS    float64 // where the loudest 8 ms begin, ms after the onset
	FirstDB   float64 // level of the first 24 ms against the loudest 8 ms, dB, at most 0

	Broke   int // sample at which the model stopped holding (a hand, an end); 0 if it holds
	Clipped int // samples after which nothing is clipped; 0 if nothing is
	Remarks []analysis.Remark
	Pitched bool // a struck thing with a ring, not a knock
}
