package listen

import (
	"math"

	"ringwell/analysis"
	"ringwell/analysis/pitch"
)

const (
	loudOver     = 10.0  // the room's power must be exceeded as much before anybody looks for a tone
	leastPower   = 1e-7  // of full scale, where the room is not known
	aperiodic    = 0.15  // at most, of each estimate of a tone
	steadyCents  = 35.0  // from one estimate to the next: a voice glides faster
	wanderCents  = 60.0  // from the mean of the run
	toneSeconds  = 0.25  // a run must last before it is a tone: longer than most syllables
	offSeconds   = 0.10  // without an estimate ends it
	fadeDB       = 20.0  // under its loudest ends it
	pieceSeconds = 0.10  // fitted at a time
	lateSeconds  = 1.0   // of it, the last, that an answer rests on
	harmonics    = 12    // reported at most
	faintest     = 1e-4  // power of a harmonic against the strongest: -40 dB; breath makes fainter ones
	sure         = 4.0   // standard deviations a harmonic's amplitude must have in most pieces
	oddShare     = 0.005 // of the power in odd harmonics under which the period found was two
)

// toneFinder watches for sounds that repeat themselves for a while: blown,
// bowed, rubbed. It allocates only in newToneFinder.
type toneFinder struct {
	rate    analysis.Rate
	tracker *pitch.Tracker
	fitter  *pitch.Fitter
	hop     []float64
	piece   []float64
	next    int64 // index of the next sample for the tracker
	quiet   bool  // it was quiet before it became loud: a tone begins, and does not linger
	loud    bool
	began   int64 // index at which it became loud
	run     run
	last    run // the run that ended last
}

// run is a series of estimates that agree.
type run struct {
	n, missed int
	from, to  int64   // index of the first and the last
	log       float64 // mean of ln f
	last      float64 // ln f
	rms, most float64
}

func newToneFinder(rate analysis.Rate) *toneFinder {
	f := &toneFinder{
		rate:    rate,
		tracker: pitch.New(rate, pitch.Options{}),
		piece:   make([]float64, int(pieceSeconds*float64(rate))),
	}
	f.hop = make([]float64, f.tracker.Hop())
	f.fitter = pitch.NewFitter(rate, harmonics, len(f.piece))
	return f
}

// reset forgets everything; the next sample has index at.
func (f *toneFinder) reset(at int64) {
	f.next, f.quiet, f.loud, f.run, f.last = at, false, false, run{}, run{}
}

// follow takes in the sound up to its end. room is the power of the
// background, 0 if unknown. While nobody wants a tone, or nothing is loud
// enough, it only skips.
func (f *toneFinder) follow(sound *history, room float64, wanted bool) {
	if !wanted {
		f.reset(sound.to)
		return
	}
	for f.next+int64(len(f.hop)) <= sound.to {
		sound.copy(f.hop, f.next)
		m := mean(f.hop)
		p := 0.0
		for _, v := range f.hop {
			p += (v - m) * (v - m)
		}
		p /= float64(len(f.hop))
		loud := p > max(loudOver*room, leastPower)
		switch {
		case loud && !f.loud:
			f.loud, f.began = true, f.next
			f.tracker.Reset(f.next)
		case !loud && f.run.n == 0:
			f.loud, f.quiet = false, true
		}
		f.next += int64(len(f.hop))
		if !f.loud {
			continue
		}
		if e, ok := f.tracker.Step(f.hop); ok {
			f.estimate(e)
		}
	}
}

// estimate takes in one estimate of the tracker.
func (f *toneFinder) estimate(e pitch.Estimate) {
	r := &f.run
	good := e.Frequency > 0 && e.Aperiodicity < aperiodic && e.RMS > r.most*math.Pow(10, -fadeDB/20)
	l := math.Log(float64(e.Frequency))
	if good && r.n > 0 {
		good = math.Abs(l-r.last)*analysis.CentsPerNeper < steadyCents && math.Abs(l-r.log)*analysis.CentsPerNeper < wanderCents
	}
	if !good {
		if r.missed++; float64(r.missed*len(f.hop)) >= offSeconds*float64(f.rate) || !f.is() {
			f.end()
		}
		return
	}
	if r.n == 0 {
		r.from = e.At
	}
	r.n++
	r.missed = 0
	r.to, r.last, r.rms = e.At, l, e.RMS
	r.most = max(r.most, e.RMS)
	r.log += (l - r.log) / float64(min(r.n, 100))
}

// is reports whether there is a tone.
func (f *toneFinder) is() bool {
	return float64(f.run.to-f.run.from) >= toneSeconds*float64(f.rate)
}

// end ends the run.
func (f *toneFinder) end() { f.last, f.run = f.run, run{} }

// may reports whether there may soon be one.
func (f *toneFinder) may() bool { return f.run.n >= 4 }

// read fits what was heard of the tone in a run: the last second, piece by
// piece. ok is false if no piece fits.
func (f *toneFinder) read(sound *history, r run) (p analysis.Pitch, partials []analysis.Partial, ok bool) {
	end := min(r.to+int64(len(f.piece))/4, sound.to)
	begin := max(r.from, end-int64(lateSeconds*float64(f.rate)), sound.from)
	var logs, sigmas []float64
	var powers [harmonics]float64
	var pieces [harmonics]int
	guess := analysis.Hz(math.Exp(r.log))
	for at := end - int64(len(f.piece)); at >= begin; at -= int64(len(f.piece)) {
		sound.copy(f.piece, at)
		fit, good := f.fitter.Fit(f.piece, guess)
		if !good || fit.Explained < 1-2*aperiodic || math.Abs(float64(fit.Frequency.Above(guess))) > wanderCents {
			continue
		}
		logs = append(logs, math.Log(float64(fit.Frequency)))
		sigmas = append(sigmas, float64(fit.Sigma))
		for h, a := range fit.Amplitudes {
			powers[h] += a * a
			if a > sure*fit.SigmaAmp {
				pieces[h]++
			}
		}
	}
	if len(logs) == 0 {
		return p, nil, false
	}
	n := float64(len(logs))
	middle := mean(logs)
	within, between := 0.0, 0.0
	for i, l := range logs {
		within += sigmas[i] * sigmas[i]
		d := (l - middle) * analysis.CentsPerNeper
		between += d * d
	}
	sigma := math.Sqrt(within) / n
	if n > 1 { // breath wavers: what the pieces scatter counts too
		sigma = math.Hypot(sigma, math.Sqrt(between/(n-1)/n))
	}
	step := 1
	if oddPower(powers[:]) < oddShare {
		step = 2
	}
	f0 := math.Exp(middle) * float64(step)
	p = analysis.Pitch{Frequency: analysis.Hz(f0), Sigma: analysis.Cents(sigma), Basis: analysis.Periodic, Partial: -1, Likelihood: 1}
	strongest := 0.0
	for _, v := range powers {
		strongest = max(strongest, v)
	}
	for h := step; h <= harmonics; h += step {
		v := powers[h-1]
		if v < strongest*faintest || 2*pieces[h-1] <= len(logs) {
			continue
		}
		partials = append(partials, analysis.Partial{
			Frequency: analysis.Hz(f0 * float64(h/step)),
			Sigma:     p.Sigma,
			Level:     decibel(v / strongest),
		})
	}
	return p, partials, true
}

// oddPower is the share of the power in harmonics 1, 3, 5 ...
func oddPower(powers []float64) float64 {
	odd, all := 0.0, 0.0
	for i, v := range powers {
		if i%2 == 0 {
			odd += v
		}
		all += v
	}
	return odd / all
}
