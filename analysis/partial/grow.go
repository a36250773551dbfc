package partial

import "math"

// falseAlarm is the chance that a window of pure noise gives a partial.
const falseAlarm = 0.01

// threshold returns the likelihood ratio a partial must reach in a window of
// n samples: about 4·n independent cells of frequency and damping are looked
// at, each above η with probability exp(-η).
func threshold(n int) float64 { return math.Log(4 * float64(n) / falseAlarm) }

// onLineThreshold is the same for a second wave under a line that is known:
// there are but some twenty cells to look at.
func onLineThreshold() float64 { return math.Log(20 * 20 / falseAlarm) }

// windows fits growing windows up to n samples.
func (e *Estimator) windows(n int) {
	first := int(firstWindow * e.fs)
	for {
		next := n
		switch {
		case e.n == 0 && n > first*3/2:
			next = first
		case e.n > 0 && float64(n) > 2.7*float64(e.n):
			next = 2 * e.n
		}
		next = next / block * block
		if next <= e.n {
			return
		}
		e.window(next)
		if e.broke > 0 || next >= n/block*block {
			return
		}
	}
}

// window fits the first n samples, or as many of them as one model holds for.
func (e *Estimator) window(n int) {
	// A window hardly longer than the last that was scanned shows little new.
	look := float64(n) >= scanAgain*float64(e.scanned)
	if look && float64(n) < freshBelow*e.fs {
		e.drop()
	}
	if e.n > 0 {
		e.older, e.newer = e.newer, e.older
		e.newer.keep(e.n, e.joint.cur)
	}
	e.fit(n, look)
	s := e.joint.cur
	w, d := e.w, e.d
	// A hand in the last moments of the window before was not seen then, but
	// has bent its fit: so the one before that is asked too.
	for _, old := range [...]*model{&e.newer, &e.older} {
		at := e.suspect(n, old)
		if float64(at) < freshBelow*e.fs {
			continue
		}
		w, d = append(w[:0], s.w...), append(d[:0], s.d...)
		if e.broken(at, n, old.w, old.d) {
			e.broke, n = at, at
			break
		}
		e.at(n, w, d)
		s = e.joint.cur
	}
	e.w, e.d = w, d
	e.n = n
}

// fit finds the poles of the first n samples, from those at hand; where it is
// to look for more, it scans what is left.
func (e *Estimator) fit(n int, look bool) {
	blocks := n / block
	e.uv = fold(e.uv[:min(len(e.uv), blocks*block)], e.y, min(len(e.uv)/block, blocks), blocks)
	f := e.joint
	f.n, f.yy = n, square(e.y[:n])
	f.wlo, f.whi = 2*math.Pi*20/e.fs, 0.98*math.Pi
	f.dlo, f.dhi = 0.02/float64(n), decayOf(0.010, e.fs)
	if k := len(f.cur.w); k > 0 {
		f.start(f.cur.w[:k], f.cur.d[:k])
		f.run(8)
		e.prune(n)
	}
	passes := 0
	if look {
		passes = 8
		e.closed = e.closed[:0]
		e.scanned = n
	}
	for pass := range passes {
		if len(e.mom) >= polesMost {
			break
		}
		shut := len(e.closed)
		found := e.scan(n, pass == 0 && len(e.mom) == 0)
		if len(found) == 0 {
			if len(e.closed) > shut {
				continue
			}
			break
		}
		was := f.cur.energy
		if len(e.mom) == 0 {
			was = f.yy
		}
		split := e.add(found, n)
		f.run(8)
		e.prune(n)
		if !split && !e.scanner.hidden && len(e.closed) == shut && (pass > 0 || n > 3000) {
			break
		}
		if !(was-f.cur.energy >= threshold(n)) && len(e.closed) == shut {
			break
		}
	}
	e.settle()
}

// jointMoments gives the data at pole i, moving its reference if it must.
func (e *Estimator) jointMoments(i int, w, d float64) (z0, z1 complex128) {
	m := e.mom[i]
	if math.Abs(w-m.w0)*(block/2) > maxDrift {
		m.refer(w)
	}
	blocks := e.joint.n / block
	m.extend(e.uv, blocks)
	return m.at(w, d, blocks)
}

// settle ends a fit with every reference close to its pole.
func (e *Estimator) settle() {
	f, j := e.joint, &e.judge
	moved := false
	j.used, j.kept = grown(j.used, len(e.mom)), j.kept[:0]
	for i, m := range e.mom {
		j.kept = append(j.kept, i)
		j.used[i] = math.Abs(f.cur.w[i]-m.w0)*(block/2) > settledDrift
		if j.used[i] {
			m.refer(f.cur.w[i])
			moved = true
		}
	}
	if moved {
		f.place(f.cur.w, f.cur.d, j.kept, j.used)
		f.run(3)
	}
}

// take returns moments to use at w.
func (e *Estimator) moments(w float64) *moments {
	if k := len(e.spare); k > 0 {
		m := e.spare[k-1]
		e.spare = e.spare[:k-1]
		m.refer(w)
		return m
	}
	m := &moments{}
	m.refer(w)
	return m
}

// keepOnly drops the poles not marked and solves anew for the rest.
func (e *Estimator) keepOnly(keep []bool) {
	s, j := e.joint.cur, &e.judge
	j.w, j.d, j.kept = j.w[:0], j.d[:0], j.kept[:0]
	for i, m := range e.mom {
		if !keep[i] {
			e.spare = append(e.spare, m)
			continue
		}
		e.mom[len(j.w)] = m
		j.w, j.d, j.kept = append(j.w, s.w[i]), append(j.d, s.d[i]), append(j.kept, i)
	}
	e.mom = e.mom[:len(j.w)]
	j.used = grown(j.used, len(j.w))
	clear(j.used)
	e.joint.place(j.w, j.d, j.kept, j.used)
	e.joint.run(5)
}

func decayOf(t60, fs float64) float64 { return lnThousand / (t60 * fs) }
