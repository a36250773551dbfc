package partial

import (
	"math"
	"slices"

	"ringwell/analysis"
)

// answer returns the reading of the last fit; it is made once for each fit.
func (e *Estimator) answer() Reading {
	if e.n == 0 {
		r := Reading{Clipped: e.clipped}
		r.RiseMS, r.FirstDB = rise(e.x, e.rate)
		return r
	}
	if e.last.N != e.skip+e.n || e.broke > 0 && e.last.Broke == 0 {
		e.last = e.read()
	}
	r := e.last
	r.RiseMS, r.FirstDB = rise(e.x, e.rate)
	r.Pitched = pitched(&r)
	r.Partials = slices.Clone(r.Partials)
	r.Ring = slices.Clone(r.Ring)
	r.Remarks = slices.Clone(r.Remarks)
	return r
}

func (e *Estimator) read() Reading {
	r := Reading{N: e.skip + e.n, Clipped: e.clipped}
	if e.broke > 0 {
		r.Broke = e.skip + e.broke
	}
	if len(e.mom) > 0 {
		e.weigh()
		e.gather()
		e.widen()
		e.list(&r)
		r.Explained, r.Lasting = e.explained()
	}
	e.remark(&r)
	return r
}

// widen makes the sigma of each line what the model's own faults leave of the
// Cramér-Rao bound: the noise beside the line, the difference between its
// halves, a fifth of the line width times the share of power on the line that
// the model does not hold, half the spread of what was merged.
func (e *Estimator) widen() {
	j := &e.judge
	loud := j.byEnergy()
	if len(loud) == 0 {
		return
	}
	first := j.lines[loud[0]]
	cents := func(l *line) float64 { return analysis.CentsPerNeper * l.drift / l.f }
	for _, i := range loud[1:] {
		l := &j.lines[i]
		if c := cents(l); c > 4 && l.drift > 0.1*l.width && c > 4*cents(&first) && l.energy < 0.1*first.energy {
			l.keep = false // a voice: weak and on the move
		}
	}
	for _, i := range loud {
		l := &j.lines[i]
		on := l.beside
		for k := range j.lines {
			if q := &j.lines[k]; k != i && !q.keep && math.Abs(q.f-l.f) < 3*max(l.width, 1.5*e.fs/float64(e.n)) {
				on += q.energy / l.energy
			}
		}
		l.sigma = math.Hypot(l.sigma*l.noise, l.drift)
		l.sigma = math.Hypot(l.sigma, 0.2*l.width*math.Sqrt(min(on, 1)))
		l.sigma = math.Hypot(l.sigma, 0.5*l.spread)
	}
}

// list writes partials and ring.
func (e *Estimator) list(r *Reading) {
	j := &e.judge
	for i := range j.lines {
		l := &j.lines[i]
		s := e.joint.cur
		c := Component{Omega: s.w[l.i], Decay: s.d[l.i], Amp: l.amp}
		if finite(real(c.Amp)) && finite(imag(c.Amp)) {
			r.Ring = append(r.Ring, c)
		}
	}
	order := j.byFrequency()
	top := 0.0
	for _, i := range order {
		top = max(top, abs2(j.lines[i].amp))
	}
	for _, i := range order {
		r.Partials = append(r.Partials, e.partial(&j.lines[i], top))
	}
	pairs := 0
	for a := 1; a < len(order); a++ {
		p, q := &j.lines[order[a-1]], &j.lines[order[a]]
		if near(p, q) && r.Partials[a-1].Pair == 0 {
			pairs++
			e.pair(&r.Partials[a-1], &r.Partials[a], p, q, pairs)
		}
	}
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// partial says one line in the words of the field.
func (e *Estimator) partial(l *line, top float64) analysis.Partial {
	v := e.scaled(atOnset(e.judge.cov[l.i], float64(e.skip)), l.noise*l.noise)
	p := analysis.Partial{
		Frequency:  analysis.Hz(l.f),
		Sigma:      analysis.Cents(analysis.CentsPerNeper * l.sigma / l.f),
		Level:      dB(abs2(l.amp) / top),
		SigmaLevel: 20 / math.Ln10 * math.Sqrt(max(v[0], 0)),
	}
	// The frequency may be known worse than the bound says: so is its entry.
	if w := 2 * math.Pi * l.sigma; w > 0 && v[10] > 0 {
		g := w / math.Sqrt(v[10])
		for k := range 4 {
			v[8+k] *= g
			v[4*k+2] *= g
		}
	}
	for r := range 4 {
		copy(p.Cov[r][:], v[4*r:4*r+4])
	}
	// Half its own size is as uncertain as a ring time may be and still be told.
	decay := e.joint.cur.d[l.i] * e.fs
	if rel := math.Sqrt(max(v[15], 0)) / decay; rel < 0.5 {
		p.T60 = l.t60
		p.SigmaT60 = rel * l.t60
	}
	return p
}

// scaled turns a covariance of the window's units into seconds, widened.
func (e *Estimator) scaled(v [16]float64, noise float64) [16]float64 {
	unit := [4]float64{1, 1, e.fs, e.fs}
	for r := range 4 {
		for c := range 4 {
			v[4*r+c] *= unit[r] * unit[c] * noise
		}
	}
	return v
}

// near reports whether two lines beat as a pair: close enough to be heard as
// one, and of like decay.
func near(p, q *line) bool {
	r := p.t60 / q.t60
	return math.Abs(p.f-q.f) < max(0.012*p.f, 9) && r > 0.25 && r < 4
}

// pair marks two partials as a near pair.
func (e *Estimator) pair(a, b *analysis.Partial, p, q *line, id int) {
	v, ok := e.judge.between(p.i, q.i)
	if ok {
		v = e.scaled(atOnset(v, float64(e.skip)), p.noise*q.noise)
		for r := range 4 {
			for c := range 4 {
				a.Cross[r][c], b.Cross[c][r] = v[4*r+c], v[4*r+c]
			}
		}
	}
	beat := math.Abs(p.f - q.f)
	hz := 1 / (2 * math.Pi)
	variance := p.sigma*p.sigma + q.sigma*q.sigma - 2*v[10]*hz*hz
	// Never below what is left if they shared every error the bound knows.
	sigma := math.Sqrt(max(variance, 0.01*(p.sigma*p.sigma+q.sigma*q.sigma)))
	a.Pair, b.Pair = id, id
	a.Beat, b.Beat = beat, beat
	a.SigmaBeat, b.SigmaBeat = sigma, sigma
}

// remark adds what a player should know.
func (e *Estimator) remark(r *Reading) {
	if r.Clipped > 0 {
		r.Remarks = append(r.Remarks, analysis.Remark{Code: analysis.RemarkClipped,
			Words: "the loudest part was cut off at the input; only what follows is measured"})
	}
	if r.Broke > 0 {
		r.Remarks = append(r.Remarks, analysis.Remark{Code: analysis.RemarkDamped,
			Words: "something stopped the ring; only the free part is measured"})
	}
}
