package partial

// breaks returns the sample of the window at which the sound falls below what
// the poles of the window before predict (a hand, the end of a recording), or
// 0: measured over predicted energy in blocks of 20 ms falls by 10 dB within
// 40 ms and stays down for 80 ms. The null of a beat is shorter, or comes
// slower.
func (e *Estimator) breaks(n int) int {
	s := e.joint.cur
	if len(s.w) == 0 || float64(n) < 0.07*e.fs {
		return 0
	}
	b := int(0.02 * e.fs)
	from := e.n / 2
	count := (n - from) / b
	if count < 5 {
		return 0
	}
	e.rest = grown(e.rest, n)
	model := e.rest[:n]
	clear(model)
	for i := range s.w {
		subtract(model, s.w[i], s.d[i], s.c[i])
	}
	e.tmp = grown(e.tmp, 2*count)
	ratio, predicted := e.tmp[:count], e.tmp[count:2*count]
	for k := range count {
		at := from + k*b
		predicted[k] = square(model[at:at+b]) / float64(b)
		ratio[k] = max(square(e.y[at:at+b])/float64(b)-1, 0.05) / max(predicted[k], 1e-12)
	}
	for k := 1; k < count-3; k++ {
		if predicted[k+1] < 3 { // too near the noise to tell
			return 0
		}
		if ratio[k-1] < 0.3 {
			continue
		}
		down := 0
		for q := k + 1; q < min(k+5, count); q++ {
			if ratio[q] >= 0.1*ratio[k-1] {
				down = -1
				break
			}
			down++
		}
		if down >= 3 {
			at := from + k*b
			if ratio[k] >= 0.7*ratio[k-1] {
				at += b
			}
			return max(int(0.03*e.fs), at-int(0.004*e.fs))
		}
	}
	return 0
}
