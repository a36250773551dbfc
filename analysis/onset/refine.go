package onset

import "math"

const order = 16 // of the linear predictor

// refiner finds the first jump of the prediction residual.
type refiner struct {
	block  int // samples averaged, about 0.3 ms
	r      [order + 1]float64
	a, b   [order + 1]float64
	square []float64 // squared residual of each sample
	quiet  []float64 // those before the strike, reordered
}

// jump returns the index in x at which the residual first rises, given that
// x[:quiet] lies before the strike, or fallback if nothing rises. Energy is
// averaged over about 0.3 ms; it must pass nine times the median before the
// strike (three in amplitude) and a fiftieth of the largest (tuned on
// recordings: a tenth is late on soft mallets, a two-hundredth hears the arm).
func (f *refiner) jump(x []float64, quiet, fallback int) int {
	f.predict(x[:quiet])
	f.square = f.square[:len(x)]
	for i := range x {
		e := 0.0
		for k, a := range f.a[:min(order, i)+1] {
			e += a * x[i-k]
		}
		f.square[i] = e * e
	}
	floor := 0.0
	if quiet >= 4*order {
		// The median of a squared Gaussian is 0.455 of its mean.
		f.quiet = append(f.quiet[:0], f.square[order:quiet]...)
		floor = 9 * nth(f.quiet, len(f.quiet)/2) / 0.455
	}
	last := len(x) - f.block
	largest := 0.0
	for i := quiet; i <= last; i++ {
		largest = max(largest, f.mean(i))
	}
	threshold := max(floor, largest/50)
	for i := quiet; i <= last; i++ {
		if f.mean(i) > threshold {
			return i
		}
	}
	return fallback
}

// mean returns the mean squared residual of the block that starts at i.
func (f *refiner) mean(i int) float64 {
	sum := 0.0
	for _, e := range f.square[i : i+f.block] {
		sum += e
	}
	return sum / float64(f.block)
}

// predict sets the predictor from x by the autocorrelation method (Levinson's
// recursion), or to a plain difference where x is too short or silent.
func (f *refiner) predict(x []float64) {
	f.a = [order + 1]float64{1, -1}
	if len(x) < 12*order {
		return
	}
	for k := range f.r {
		s := 0.0
		for i := k; i < len(x); i++ {
			s += x[i] * x[i-k]
		}
		f.r[k] = s
	}
	if f.r[0] <= 0 || math.IsInf(f.r[0], 0) {
		return
	}
	e := f.r[0] * (1 + 1e-4) // a little white noise keeps a pure tone solvable
	f.a = [order + 1]float64{1}
	for m := 1; m <= order; m++ {
		k := f.r[m]
		for i := 1; i < m; i++ {
			k += f.a[i] * f.r[m-i]
		}
		k /= -e
		f.b = f.a
		for i := 1; i < m; i++ {
			f.a[i] = f.b[i] + k*f.b[m-i]
		}
		f.a[m] = k
		e *= 1 - k*k
		if !(e > 0) {
			f.a = [order + 1]float64{1, -1}
			return
		}
	}
}
