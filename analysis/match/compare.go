package match

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"ringwell/analysis"
)

// Delta is by how much something differs between two strikes. For cents and dB
// By is the difference, for rings the factor.
type Delta struct {
	By          float64
	Low, High   float64 // it lies between them with 95 %
	Significant bool    // beyond chance, over all that was compared
}

// Paired are two partials that belong together, or one that stands alone.
type Paired struct {
	A, B               int    // indices into the two strikes' partials; -1: it has none
	Cents, Level, Ring *Delta // nil: not known
}

// What one strike of a voice differs from the next by, one sigma, where its
// history does not tell: cents, dB and ln T60. By trial on crockery struck by
// hand.
const (
	usualCents = 1.0
	usualLevel = 3.0
	usualRing  = 0.1
)

// overall is the chance of calling anything significant where nothing differs.
const overall = 0.05

// Compare holds the partials of two strikes against each other. own are the
// modes of the voice they are strikes of, which say what strikes differ by
// anyway; nil where it is not known. Partials farther apart than a fifth of a
// tone do not belong together.
//
// The variance of a difference is the sum of both strikes' own and twice that
// of the voice; whether it is beyond chance is Bonferroni's rule over all
// differences.
func Compare(a, b []analysis.Partial, own []Mode) []Paired {
	var al aligner
	pairs := al.align(len(a), len(b), func(i, j int) float64 {
		d := float64(b[j].Frequency.Above(a[i].Frequency))
		l := b[j].Level - a[i].Level
		return 2*same*same - d*d - l*l/4
	})
	all := []Paired{}
	i, j := 0, 0
	alone := func(toA, toB int) {
		for i < toA || j < toB {
			if j >= toB || i < toA && a[i].Frequency <= b[j].Frequency {
				all = append(all, Paired{A: i, B: -1})
				i++
			} else {
				all = append(all, Paired{A: -1, B: j})
				j++
			}
		}
	}
	for _, p := range pairs {
		alone(p.i, p.j)
		all = append(all, paired(a, b, p, own))
		i, j = p.i+1, p.j+1
	}
	alone(len(a), len(b))
	judgeAll(all)
	return all
}

func paired(a, b []analysis.Partial, p pair, own []Mode) Paired {
	x, y := &a[p.i], &b[p.j]
	m := spreadOf(x.Frequency, own)
	out := Paired{A: p.i, B: p.j}
	out.Cents = delta(float64(y.Frequency.Above(x.Frequency)), float64(x.Sigma), float64(y.Sigma), float64(m.Spread))
	out.Level = delta(y.Level-x.Level, x.SigmaLevel, y.SigmaLevel, m.SpreadLevel)
	if x.T60 > 0 && y.T60 > 0 {
		out.Ring = delta(math.Log(y.T60/x.T60), x.SigmaT60/x.T60, y.SigmaT60/y.T60, m.SpreadT60)
	}
	return out
}

// spreadOf is what the voice's strikes differ by near a frequency.
func spreadOf(f analysis.Hz, own []Mode) Mode {
	out := Mode{Spread: usualCents, SpreadLevel: usualLevel, SpreadT60: usualRing}
	off := float64(same)
	for _, m := range own {
		if d := math.Abs(float64(m.Frequency.Above(f))); d < off && m.Seen >= enoughStrikes {
			off, out = d, m
		}
	}
	return out
}

// delta keeps the sigma in High until judgeAll.
func delta(by, sa, sb, own float64) *Delta {
	return &Delta{By: by, High: math.Sqrt(sa*sa + sb*sb + 2*own*own)}
}

func judgeAll(all []Paired) {
	tests := 0
	for _, p := range all {
		for _, d := range []*Delta{p.Cents, p.Level, p.Ring} {
			if d != nil {
				tests++
			}
		}
	}
	if tests == 0 {
		return
	}
	normal := distuv.UnitNormal
	beyond := normal.Quantile(1 - overall/2/float64(tests))
	half := normal.Quantile(0.975)
	for _, p := range all {
		for _, d := range []*Delta{p.Cents, p.Level, p.Ring} {
			if d == nil {
				continue
			}
			sigma := d.High
			d.Significant = math.Abs(d.By) > beyond*sigma
			d.Low, d.High = d.By-half*sigma, d.By+half*sigma
			if d == p.Ring {
				d.By, d.Low, d.High = math.Exp(d.By), math.Exp(d.Low), math.Exp(d.High)
			}
		}
	}
}

// Sayings are sentences on what differs beyond chance.
func Sayings(all []Paired, a []analysis.Partial) []string {
	words := []string{}
	for _, p := range all {
		if p.A < 0 || p.B < 0 {
			continue
		}
		f := math.Round(float64(a[p.A].Frequency))
		if d := p.Cents; d.Significant {
			words = append(words, fmt.Sprintf("The partial at %.0f Hz lies %s cents %s.", f, figure(math.Abs(d.By)), choose(d.By > 0, "higher", "lower")))
		}
		if d := p.Ring; d != nil && d.Significant {
			words = append(words, fmt.Sprintf("The partial at %.0f Hz rings %s times as long.", f, figure(d.By)))
		}
		if d := p.Level; d.Significant {
			words = append(words, fmt.Sprintf("The partial at %.0f Hz is %s dB %s beside the strongest.", f, figure(math.Abs(d.By)), choose(d.By > 0, "louder", "fainter")))
		}
	}
	return words
}

// figure writes a number to two digits.
func figure(x float64) string {
	if math.Abs(x) >= 10 {
		return fmt.Sprintf("%.0f", x)
	}
	return fmt.Sprintf("%.1f", x)
}

func choose(yes bool, a, b string) string {
	if yes {
		return a
	}
	return b
}
