package hearing

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"ringwell/analysis"
)

// choice is one strike as the model sees it.
type choice struct {
	family, name string
	listed       bool // a recording whose pitch was measured
	x            [][features]float64
	right        []bool
	weight       float64
}

func chosen(family string, c heardCase, weight float64) choice {
	k := choice{family: family, name: c.name, weight: weight}
	for _, q := range candidates(tones(c.partials), priorOf(analysis.Unknown)) {
		k.x = append(k.x, q.features())
		k.right = append(k.right, math.Abs(1200*math.Log2(q.h/c.hz)) < c.within)
	}
	return k
}

// choices are each family of objects n times, and every recording. Each family
// weighs 1 all together, each family of recordings 2 (it is real), or less
// where there are few of them.
func choices(t testing.TB, n int) (out []choice) {
	r := rand.New(rand.NewPCG(1, 1))
	for _, f := range families() {
		if f.name == "timpani" {
			continue // known to contradict the rest unless the kind is told: kind.go
		}
		for range n {
			out = append(out, chosen(f.name, f.make(r), 1/float64(n)))
		}
	}
	count := map[string]int{}
	for _, q := range recordings(t) {
		if q.SingleAnswer {
			count[q.Family]++
		}
	}
	for _, q := range recordings(t) {
		if q.SingleAnswer {
			w := 2 / float64(max(4, count[q.Family]))
			c := chosen("recorded "+q.Family, heardCase{q.Name, q.partials(), q.HeardHz, q.gross()}, w)
			c.listed = q.Listed
			out = append(out, c)
		}
	}
	return out
}

// fit maximises the penalised likelihood of the right choices by Newton's
// method, one family left out.
func fit(cs []choice, without string) [features]float64 {
	w := [features]float64{}
	for range 60 {
		var g [features]float64
		var h [features][features]float64
		for k := range w {
			g[k] = -ridge * w[k]
			h[k][k] = ridge
		}
		for i := range cs {
			if cs[i].family != without {
				cs[i].slope(&w, &g, &h)
			}
		}
		step := solve(h, g)
		size := 0.0
		for k := range w {
			step[k] = max(-1, min(1, step[k]))
			w[k] += step[k]
			size += math.Abs(step[k])
		}
		if size < 1e-9 {
			break
		}
	}
	return w
}

// ridge keeps weights from running off where a family is told apart perfectly.
const ridge = 0.02

// slope adds the gradient and the expected information of one choice. With
// lapses the likelihood is (1-lapse)·P(right) + lapse/10.
func (c *choice) slope(w, g *[features]float64, h *[features][features]float64) {
	p := c.shares(w)
	right := 0.0
	for j, ok := range c.right {
		if ok {
			right += p[j]
		}
	}
	if right == 0 {
		return
	}
	sure := (1 - lapse) * right / ((1-lapse)*right + lapse/10)
	var all, ours [features]float64
	for j, x := range c.x {
		for k := range x {
			all[k] += p[j] * x[k]
			if c.right[j] {
				ours[k] += p[j] / right * x[k]
			}
		}
	}
	for k := range g {
		g[k] += c.weight * sure * (ours[k] - all[k])
		for l := range g {
			for j, x := range c.x {
				h[k][l] += c.weight * p[j] * (x[k] - all[k]) * (x[l] - all[l])
			}
		}
	}
}

func (c *choice) shares(w *[features]float64) []float64 {
	p := make([]float64, len(c.x))
	top := math.Inf(-1)
	for j, x := range c.x {
		for k := range x {
			p[j] += w[k] * x[k]
		}
		top = max(top, p[j])
	}
	sum := 0.0
	for j := range p {
		p[j] = math.Exp(p[j] - top)
		sum += p[j]
	}
	for j := range p {
		p[j] /= sum
	}
	return p
}

// names reports the likeliest candidate's share and whether it is right.
func (c *choice) names(w *[features]float64) (share float64, ok bool) {
	p := c.shares(w)
	if len(p) == 0 {
		return 0, false
	}
	share = slices.Max(p)
	return share, c.right[slices.Index(p, share)]
}

// solve is Gauss's elimination for a few unknowns.
func solve(a [features][features]float64, b [features]float64) [features]float64 {
	for i := range b {
		for k := i + 1; k < features; k++ {
			q := a[k][i] / a[i][i]
			for j := i; j < features; j++ {
				a[k][j] -= q * a[i][j]
			}
			b[k] -= q * b[i]
		}
	}
	for i := features - 1; i >= 0; i-- {
		for j := i + 1; j < features; j++ {
			b[i] -= a[i][j] * b[j]
		}
		b[i] /= a[i][i]
	}
	return b
}

// The weights in score.go are those of this fit, to two digits.
func TestWeightsAreFitted(t *testing.T) {
	weights := [features]float64{weightTogether, weightRun, weightUnder}
	got := fit(choices(t, 100), "")
	for k := range got {
		if math.Abs(got[k]-weights[k]) > 0.02*math.Abs(weights[k]) {
			t.Errorf("weight %d: score.go has %.2f, the fit gives %.2f (all: %.2f)", k, weights[k], got[k], got)
		}
	}
}

// Each family in turn is kept from the fit and then judged by it.
func TestLeaveOneFamilyOut(t *testing.T) {
	cs := choices(t, 100)
	var names []string
	for _, c := range cs {
		if !slices.Contains(names, c.family) {
			names = append(names, c.family)
		}
	}
	made, madeWrong, real, realWrong, listed, listedWrong := 0, 0, 0, 0, 0, 0
	var bins [10]struct{ n, right, said float64 }
	t.Logf("%-36s %5s %6s %9s   weights", "family left out", "cases", "wrong", "mean said")
	for _, name := range names {
		w := fit(cs, name)
		n, wrong, said := 0, 0, 0.0
		var which []string
		for _, c := range cs {
			if c.family != name {
				continue
			}
			share, ok := c.names(&w)
			n++
			said += share
			if c.listed {
				listed++
				if !ok {
					listedWrong++
				}
			}
			b := &bins[min(9, int(10*share))]
			b.n++
			b.said += share
			if ok {
				b.right++
			} else {
				wrong++
				which = append(which, c.name)
			}
		}
		t.Logf("%-36s %5d %6d %9.2f   %.2f", name, n, wrong, said/float64(n), w)
		if len(name) > 8 && name[:8] == "recorded" {
			real, realWrong = real+n, realWrong+wrong
			if wrong > 0 {
				t.Logf("      %v", which)
			}
		} else {
			made, madeWrong = made+n, madeWrong+wrong
		}
	}
	t.Logf("made %d, wrong %d (%.1f %%); recorded %d, wrong %d (%.1f %%)", made, madeWrong, 100*float64(madeWrong)/float64(made), real, realWrong, 100*float64(realWrong)/float64(real))
	t.Logf("recordings whose pitch was measured: %d, wrong %d", listed, listedWrong)
	// What was reached when these limits were set: 6.2 %, 5.7 %, none, 1.00.
	if madeWrong > made*8/100 || realWrong > real*7/100 || listedWrong > 1 {
		t.Errorf("wrong: %d of %d made, %d of %d recorded, %d of %d measured; wanted at most 8 %%, 7 %% and 1", madeWrong, made, realWrong, real, listedWrong, listed)
	}
	if b := bins[9]; b.right < 0.97*b.n {
		t.Errorf("where 0.9 and more was said it was right %.3f of the time, wanted 0.97", b.right/b.n)
	}
	for _, b := range bins {
		if b.n > 0 {
			t.Logf("said %.2f: right %.2f of %4.0f", b.said/b.n, b.right/b.n, b.n)
		}
	}
}
