package listen

const (
	// What ends by itself must be known to within clearCents, unless it rings for
	// clearT60 or is explained almost whole for refuseSeconds, as dull wood is (0.93
	// to 0.96). Thuds tried: 20 to 40 c, T60 0.04 to 0.21 s, explained to 0.4 to 0.8.
	clearCents    = 15.0
	clearT60      = 0.3   // seconds
	firmCents     = 10.0  // at most, of what was cut off
	firmExplained = 0.9   // at least
	firmSeconds   = 0.112 // at least: strikes 120 ms apart leave 116
	firmSwellDB   = 2.0   // at most, in bad company
	firmEnough    = 0.3   // seconds that need no proof even there

	companySize    = 8
	companySeconds = 5.0
	companyLeast   = 3 // events
)

// company remembers what the last events were. Amid talk or rattling, where
// most events have no pitch, an answer that rests on little sound deserves less
// belief than amid strikes.
type company struct {
	at      [companySize]int64
	pitched [companySize]bool
	n       int
}

func (c *company) note(at int64, pitched bool) {
	c.at[c.n%companySize], c.pitched[c.n%companySize] = at, pitched
	c.n++
}

// bad reports whether most of the events since a moment had no pitch.
func (c *company) bad(since int64) bool {
	all, without := 0, 0
	for i := range min(c.n, companySize) {
		if c.at[i] >= since {
			all++
			if !c.pitched[i] {
				without++
			}
		}
	}
	return all >= companyLeast && 2*without > all
}

// firm reports whether an answer that rests on little sound may be believed.
// Where things follow each other within a fraction of a second they are as often
// syllables or rattling as strikes; but what is struck is loudest at once, and
// its ring is seen to fall. What ended by itself is a knock if its pitch is not
// clear.
func (e *Ear) firm(a answer, cut bool) bool {
	t := &e.take
	if !cut {
		return a.heard.Sigma <= clearCents || a.t60 >= clearT60 || a.seconds >= refuseSeconds && a.explained >= firmExplained
	}
	enough, swell := refuseSeconds, slowAttackDB
	if e.company.bad(t.strike.Onset - e.samples(companySeconds)) {
		enough, swell = firmEnough, firmSwellDB
	}
	return a.seconds >= enough || a.seconds >= firmSeconds && a.t60 > 0 && a.heard.Sigma <= firmCents &&
		a.explained >= firmExplained && t.reading.FirstDB >= -swell
}
