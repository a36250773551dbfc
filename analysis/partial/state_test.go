package partial

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// some returns a state of k poles at random over n samples.
func some(r *rand.Rand, k, n int) *state {
	s := &state{}
	s.resize(k)
	moved := make([]bool, k)
	for i := range k {
		s.w[i] = 0.02 + 2.5*r.Float64()
		if i > 0 && i%2 == 1 {
			s.w[i] = s.w[i-1] + 3/float64(n) // a near pair
		}
		s.d[i] = (0.3 + 3*r.Float64()) / float64(n)
		s.c[i] = cmplx.Rect(0.5+r.Float64(), 6*r.Float64())
		moved[i] = true
	}
	s.relate(moved, n)
	return s
}

// jacobian returns the derivatives of the model by (ln a, φ, ω, d) of every
// pole, by differences of the model itself.
func jacobian(s *state, n int) *mat.Dense {
	k := len(s.w)
	j := mat.NewDense(n, 4*k, nil)
	model := func(i int, la, ph, w, d float64) []float64 {
		x := make([]float64, n)
		Render(x, 0, []Component{{Omega: w, Decay: d, Amp: s.c[i] * cmplx.Exp(complex(la, ph))}})
		return x
	}
	for i := range k {
		for p := range 4 {
			h := 1e-5
			if p >= 2 {
				h = 1e-5 / float64(n)
			}
			v := [4]float64{0, 0, s.w[i], s.d[i]}
			v[p] += h
			up := model(i, v[0], v[1], v[2], v[3])
			v[p] -= 2 * h
			down := model(i, v[0], v[1], v[2], v[3])
			for q := range n {
				j.Set(q, 4*i+p, (up[q]-down[q])/(2*h))
			}
		}
	}
	return j
}

func TestFisherAgainstDifferences(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	const k, n = 5, 700
	s := some(r, k, n)
	g := make([]float64, 16*k*k)
	s.fisher(g, 4*k, []int{0, 1, 2, 3, 4})
	var want mat.Dense
	j := jacobian(s, n)
	want.Mul(j.T(), j)
	for a := range 4 * k {
		for b := range 4 * k {
			size := math.Sqrt(want.At(a, a) * want.At(b, b))
			if e := math.Abs(g[a*4*k+b] - want.At(a, b)); e > 1e-6*size {
				t.Errorf("entry %d,%d (pole %d and %d): got %.9g, want %.9g by differences", a, b, a/4, b/4, g[a*4*k+b], want.At(a, b))
			}
		}
	}
}

// The amplitudes must be those of the textbook: a dense least-squares fit of
// cosines and sines, by QR.
func TestAmplitudesAgainstDenseLeastSquares(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 1))
	const k, n = 4, 640
	s := some(r, k, n)
	y := make([]float64, n)
	for i := range y {
		y[i] = 0.3 * r.NormFloat64()
	}
	for i := range k {
		Render(y, 0, []Component{{Omega: s.w[i], Decay: s.d[i], Amp: s.c[i]}})
	}
	f := fitOver(y)
	if !f.start(s.w, s.d) {
		t.Fatal("start failed")
	}
	a := mat.NewDense(n, 2*k, nil)
	for i := range k {
		for q := range n {
			z := cmplx.Exp(complex(-s.d[i], s.w[i]) * complex(float64(q), 0))
			a.Set(q, 2*i, real(z))
			a.Set(q, 2*i+1, -imag(z))
		}
	}
	var x mat.VecDense
	if err := x.SolveVec(a, mat.NewVecDense(n, y)); err != nil {
		t.Fatal(err)
	}
	var fit, rest mat.VecDense
	fit.MulVec(a, &x)
	rest.SubVec(mat.NewVecDense(n, y), &fit)
	want := mat.Dot(&rest, &rest)
	// The series inside a block errs by (d·16)⁴/30 of these short waves.
	if math.Abs(f.cur.energy-want) > 2e-5*want {
		t.Errorf("left over: got %.9g, want %.9g", f.cur.energy, want)
	}
	for i := range k {
		w := complex(x.AtVec(2*i), x.AtVec(2*i+1))
		if cmplx.Abs(f.cur.c[i]-w) > 1e-5 {
			t.Errorf("amplitude %d: got %v, want %v", i, f.cur.c[i], w)
		}
	}
}

// fitOver returns a fitter over white noise data y.
func fitOver(y []float64) *fitter {
	f := newFitter()
	uv := fold(nil, y, 0, len(y)/block)
	f.n, f.yy = len(y)/block*block, square(y[:len(y)/block*block])
	f.wlo, f.whi, f.dlo, f.dhi = 0.001, 3.1, 0.02/float64(f.n), 0.05
	mom := map[int]*moments{}
	f.at = func(i int, w, d float64) (complex128, complex128) {
		if mom[i] == nil {
			mom[i] = &moments{}
		}
		m := mom[i]
		if math.Abs(w-m.w0)*block/2 > settledDrift {
			m.refer(w)
		}
		m.extend(uv, f.n/block)
		return m.at(w, d, f.n/block)
	}
	return f
}

// At the fit's end the residual must be at right angles to every derivative,
// and no other place near it may leave less.
func TestFitEndsAtALeast(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 1))
	const k, n = 4, 1280
	s := some(r, k, n)
	y := make([]float64, n)
	for i := range y {
		y[i] = 0.05 * r.NormFloat64()
	}
	for i := range k {
		Render(y, 0, []Component{{Omega: s.w[i], Decay: s.d[i], Amp: s.c[i]}})
	}
	w, d := make([]float64, k), make([]float64, k)
	for i := range k {
		w[i] = s.w[i] + 0.3*r.NormFloat64()/n
		d[i] = s.d[i] * (0.7 + 0.6*r.Float64())
	}
	f := fitOver(y)
	f.start(w, d)
	f.run(30)
	least := f.cur.energy
	at := &state{}
	at.from(f.cur)
	for range 200 {
		for i := range k {
			w[i] = at.w[i] + 0.02*r.NormFloat64()/n
			d[i] = at.d[i] + 0.02*r.NormFloat64()/n
		}
		if !f.start(w, d) {
			continue
		}
		if f.cur.energy < least-1e-5 {
			t.Fatalf("left over: the fit ended at %.9g, a place beside it leaves %.9g", least, f.cur.energy)
		}
	}
}
