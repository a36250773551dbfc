package listen

import (
	"math"

	"ringwell/analysis"
)

const (
	soonSeconds     = 0.080 // from here on an undecided pitch is told, with the other one
	mostExplained   = 0.80  // share of the sound that must be explained before that
	soonSigma       = 20    // cents at most, before that
	aloneExplained  = 0.95  // a window that explains so much, ...
	aloneSigma      = 3     // ... cents, so sharply, ...
	aloneLikelihood = 0.9   // ... of a pitch so plain is told without a second one
	agreeCents      = 30    // two windows name the same pitch
	jumpCents       = 50    // half a semitone: another note
	settledSigma    = 1.0   // cents
	settledShare    = 0.25  // of the T60 of the partial heard
	settledSeconds  = 0.040
	clockworkCents  = 0.1 // two windows never agree better than this
	refuseSeconds   = 0.160
	unpitchedEnough = 2 // windows in a row
)

// answer is what one window says of the pitch.
type answer struct {
	seconds       float64 // of sound
	heard, second *analysis.Pitch
	t60           float64 // of the partial heard, 0 unknown
	explained     float64
}

// course is how the answers of one strike have gone so far.
type course struct {
	last      answer          // the window before
	windows   int             // with a pitch, in a row
	unpitched int             // windows without, in a row
	told      *analysis.Pitch // the pitch of the last telling
	left      *analysis.Pitch // the pitch left behind by a jump, until two windows agree
}

// verdict is what is to be told after a window.
type verdict struct {
	tell   bool
	stage  analysis.Stage
	second *analysis.Pitch
}

// next takes in the answer of a longer window. It never says Final: that is a
// matter of the sound's end.
func (c *course) next(a answer) verdict {
	before := c.last
	c.last = a
	if a.heard == nil {
		c.windows = 0
		c.unpitched++
		if c.told != nil && c.unpitched >= unpitchedEnough && a.seconds >= refuseSeconds {
			return verdict{tell: true, stage: analysis.Withdrawn}
		}
		return verdict{}
	}
	c.unpitched = 0
	c.windows++
	v := verdict{stage: analysis.Early, second: a.second}
	agree := before.heard != nil && apart(a.heard, before.heard) <= max(agreeCents, 3*both(a.heard, before.heard))
	if agree && c.windows > 1 {
		c.left = nil
	}
	if c.told != nil && apart(a.heard, c.told) > jumpCents {
		c.left = c.told
	}
	switch {
	case a.seconds >= soonSeconds:
		v.tell = true
		if !agree && v.second == nil && before.heard != nil {
			v.second = before.heard
		}
	case agree && a.explained >= mostExplained && a.heard.Sigma <= soonSigma:
		v.tell = true
	case c.told != nil && c.left != nil:
		v.tell = true
	case before.heard == nil && plainly(a):
		v.tell = true
	}
	if c.left != nil {
		v.second = c.left
	} else if agree && a.seconds >= settledSeconds && settled(a, before) {
		v.stage = analysis.Settled
	}
	if v.tell {
		c.told = a.heard
	}
	return v
}

// plainly reports whether an answer is good enough to be told before another
// window agrees. Over 237 strikes of nineteen kinds of things in six backgrounds
// the first telling was later left for another note 8 times, 7 times where two
// windows had to agree.
func plainly(a answer) bool {
	return a.explained >= aloneExplained && a.heard.Sigma <= aloneSigma && a.heard.Likelihood >= aloneLikelihood
}

func settled(now, before answer) bool {
	if apart(now.heard, before.heard) > 3*both(now.heard, before.heard)+clockworkCents {
		return false
	}
	return now.heard.Sigma <= settledSigma || now.t60 > 0 && now.seconds >= settledShare*now.t60
}

// apart is the distance of two pitches in cents.
func apart(a, b *analysis.Pitch) float64 {
	return math.Abs(float64(a.Frequency.Above(b.Frequency)))
}

// both is the standard deviation of the difference of two pitches in cents.
func both(a, b *analysis.Pitch) float64 { return math.Hypot(float64(a.Sigma), float64(b.Sigma)) }
