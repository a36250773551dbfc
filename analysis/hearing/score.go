package hearing

import "math"

// The weights of three things that speak for or against a pitch, in nepers of
// odds. They are the maximum likelihood estimate of a conditional logit (D.
// McFadden, 1974) over the families of objects in the tests;
// TestWeightsAreFitted fits them again, TestLeaveOneFamilyOut says how well
// they do on a family they were not fitted to. The fourth, known, is in nepers
// already and counts as it is: fitted, too, it would get 1.4 to 3.2 and serve
// the made families, which follow the patterns, at the cost of recordings.
const (
	weightTogether = 4.26
	weightRun      = 2.52
	weightUnder    = -8.08
)

const features = 3

func (c *candidate) features() [features]float64 {
	return [features]float64{c.together, c.run, c.under}
}

// utility is the logarithm of the odds of c, but for a constant of the strike.
func (c *candidate) utility() float64 {
	return weightTogether*c.together + weightRun*c.run + weightUnder*c.under + c.known
}

// lapse is the share of listeners who name something that is not on the list:
// no model deserves to be surer than that of a thing it cannot check.
const lapse = 0.02

// likelihoods returns the share of listeners expected to name each candidate:
// exp(utility) over the sum of all, less lapse.
func likelihoods(cs []candidate) []float64 {
	p := make([]float64, len(cs))
	top := math.Inf(-1)
	for i := range cs {
		p[i] = cs[i].utility()
		top = max(top, p[i])
	}
	sum := 0.0
	for i := range p {
		p[i] = math.Exp(p[i] - top)
		sum += p[i]
	}
	for i := range p {
		p[i] *= (1 - lapse) / sum
	}
	return p
}
