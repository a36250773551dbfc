package partial

// covariances inverts the Fisher information of the joint fit, group by group
// of coupled poles, for noise of unit variance: the Cramér-Rao bound. Rows and
// columns are (ln a, φ, ω, d) at the first sample of the window, in neper,
// rad, rad a sample and neper a sample.
func (e *Estimator) covariances() {
	f, j := e.joint, &e.judge
	k := len(f.cur.w)
	j.cov = grown(j.cov, k)
	j.inv = grown(j.inv, 4*polesMost*4)
	j.group = grown(j.group, k)
	j.cross = j.cross[:0]
	groups := f.groups()
	copy(j.group, f.group)
	for g := range groups {
		f.members(g)
		n := 4 * len(f.set)
		f.lm.resize(n)
		f.cur.fisher(f.lm.a, n, f.set)
		ok := f.lm.prepare() && f.lm.factor(1e-13)
		for a, i := range f.set {
			j.cov[i] = [16]float64{}
			if !ok {
				continue
			}
			for r := range 4 {
				col := j.inv[:n]
				f.lm.column(col, 4*a+r)
				copy(j.cov[i][4*r:4*r+4], col[4*a:4*a+4])
				for b, m := range f.set {
					if m <= i || f.cur.couple(i, m) < strangers {
						continue
					}
					j.setCross(i, m, r, col[4*b:4*b+4])
				}
			}
		}
	}
}

// crossing is the covariance of the four parameters of pole i (rows) with
// those of pole m (columns), i < m.
type crossing struct {
	i, m int
	v    [16]float64
}

func (j *judge) setCross(i, m, row int, v []float64) {
	if k := len(j.cross); k == 0 || row == 0 || j.find(i, m) < 0 {
		j.cross = append(j.cross, crossing{i: i, m: m})
	}
	copy(j.cross[j.find(i, m)].v[4*row:], v)
}

func (j *judge) find(i, m int) int {
	for k := len(j.cross) - 1; k >= 0; k-- {
		if j.cross[k].i == i && j.cross[k].m == m {
			return k
		}
	}
	return -1
}

// between returns the cross covariance of poles a (rows) and b (columns).
func (j *judge) between(a, b int) (v [16]float64, ok bool) {
	if a < b {
		if k := j.find(a, b); k >= 0 {
			return j.cross[k].v, true
		}
		return v, false
	}
	k := j.find(b, a)
	if k < 0 {
		return v, false
	}
	for r := range 4 {
		for c := range 4 {
			v[4*r+c] = j.cross[k].v[4*c+r]
		}
	}
	return v, true
}

// atOnset carries a covariance from the start of the window back to the onset,
// skip samples earlier: ln a₀ = ln a + d·skip, φ₀ = φ - ω·skip.
func atOnset(v [16]float64, skip float64) [16]float64 {
	row := func(m [16]float64) [16]float64 {
		for c := range 4 {
			m[c] += skip * m[12+c]
			m[4+c] -= skip * m[8+c]
		}
		return m
	}
	turn := func(m [16]float64) (t [16]float64) {
		for r := range 4 {
			for c := range 4 {
				t[4*c+r] = m[4*r+c]
			}
		}
		return t
	}
	return turn(row(turn(row(v))))
}
