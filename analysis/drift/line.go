package drift

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"ringwell/analysis"
)

// Reading is one strike at a temperature.
type Reading struct {
	Time    time.Time // zero: not known, and then no lag can be
	Celsius float64   // of the air
	Heard   analysis.Hz
	Sigma   analysis.Cents // of hearing it, one standard deviation
}

// Line is a voice's pitch against temperature.
type Line struct {
	Readings  int
	Slope     analysis.Cents // a degree
	Sigma     analysis.Cents // of the slope, one standard deviation
	Low, High analysis.Cents // of the slope, 95 %
	At        float64        // °C: the mean of the readings
	Pitch     analysis.Hz    // at that temperature
	Scatter   analysis.Cents // one standard deviation of a reading about the line
	Lag       time.Duration  // how far it is behind the thermometer; 0: no lag to speak of
	Outliers  []int          // indices of readings that lie off by more than four scatters

	ladder []rung
}

// rung is the line of one lag.
type rung struct {
	tau          float64 // seconds
	weight       float64
	mid          float64 // °C of the object, weighted mean
	level, slope float64 // cents above the first reading at mid; cents a degree
	varL, varS   float64
	s2           float64
	freedom      float64
	own          []float64 // the object's temperatures
}

const (
	errorDegrees = 4.0 // of freedom of the errors' tails, as usual for this model
	guessScatter = 0.7 // cents between strikes of one place, counted as priorCount readings
	priorCount   = 2.0 // (a guess, so that two readings have an interval)
	enough       = 0.3 // °C the readings must span
	// likelySlope is one standard deviation of what voices drift, cents a degree,
	// before anything was read: air rises by 3, wood falls by up to 2.6, and by
	// more where it takes up moisture as well (a guess). Without it a lag of hours
	// explains any five readings taken within minutes by a slope of hundreds.
	likelySlope = 5.0
	outlier     = 4.0  // scatters
	maxReadings = 5000 // a day of one every 17 s
)

// lags are those that are tried, in seconds: none to four hours.
func lags() []float64 {
	return []float64{0, 60, 180, 360, 600, 900, 1350, 2000, 3000, 4500, 7000, 10000, 14400}
}

// What is missing, and how to get it.
var (
	errFew  = errors.New("drift: two readings at least, at different temperatures")
	errSpan = fmt.Errorf("drift: the readings span less than %g °C: wait for a warmer or a cooler hour", enough)
)

// Fit puts a line through readings; their order in time is found by itself.
// Readings without a time are taken to be at rest with the thermometer.
func Fit(readings []Reading) (Line, error) {
	if len(readings) < 2 {
		return Line{}, errFew
	}
	if len(readings) > maxReadings {
		return Line{}, fmt.Errorf("drift: %d readings: take at most %d", len(readings), maxReadings)
	}
	for i, r := range readings {
		switch {
		case !(r.Celsius >= -40 && r.Celsius <= 80):
			return Line{}, fmt.Errorf("drift: reading %d: %g °C: give -40 to 80 °C", i+1, r.Celsius)
		case !(r.Heard >= 10 && r.Heard <= 20000):
			return Line{}, fmt.Errorf("drift: reading %d: %g Hz: give 10 to 20000 Hz", i+1, float64(r.Heard))
		case !(r.Sigma >= 0 && r.Sigma <= 200):
			return Line{}, fmt.Errorf("drift: reading %d: uncertainty %g c: give 0 to 200 cents", i+1, float64(r.Sigma))
		}
	}
	order := make([]int, len(readings))
	timed := true
	for i, r := range readings {
		order[i] = i
		timed = timed && !r.Time.IsZero()
	}
	if timed {
		slices.SortStableFunc(order, func(a, b int) int { return readings[a].Time.Compare(readings[b].Time) })
	}
	sorted := make([]Reading, len(readings))
	low, high := math.Inf(1), math.Inf(-1)
	for i, at := range order {
		sorted[i] = readings[at]
		low, high = min(low, sorted[i].Celsius), max(high, sorted[i].Celsius)
	}
	if high-low < enough {
		return Line{}, errSpan
	}
	l := Line{Readings: len(readings)}
	taus := lags()
	if !timed || len(readings) < 5 { // too few to tell a lag from a slope
		taus = taus[:1]
	}
	best := math.Inf(-1)
	logs := make([]float64, 0, len(taus))
	for _, tau := range taus {
		r, evidence := fitRung(sorted, tau)
		if math.IsNaN(evidence) {
			continue
		}
		l.ladder, logs = append(l.ladder, r), append(logs, evidence)
		best = max(best, evidence)
	}
	if len(l.ladder) == 0 {
		return Line{}, errSpan
	}
	sum := 0.0
	for i := range l.ladder {
		l.ladder[i].weight = math.Exp(logs[i] - best)
		sum += l.ladder[i].weight
	}
	for i := range l.ladder {
		l.ladder[i].weight /= sum
	}
	l.summarise(sorted, order)
	return l, nil
}

// warmed is the temperature of the object itself: at rest with the air at the
// first reading, and between two readings the air goes in a straight line.
func warmed(rs []Reading, tau float64) []float64 {
	own := make([]float64, len(rs))
	for i, r := range rs {
		if i == 0 || tau == 0 {
			own[i] = r.Celsius
			continue
		}
		dt := r.Time.Sub(rs[i-1].Time).Seconds()
		if dt <= 0 {
			own[i] = own[i-1]
			continue
		}
		rate := (r.Celsius - rs[i-1].Celsius) / dt
		// The ramp's own lag is rate·tau; what was there before dies away.
		away := own[i-1] - (rs[i-1].Celsius - rate*tau)
		own[i] = r.Celsius - rate*tau + away*math.Exp(-dt/tau)
	}
	return own
}

// fitRung fits one lag by iterated weights and returns how well it explains the
// readings, as a log likelihood.
func fitRung(rs []Reading, tau float64) (rung, float64) {
	n := float64(len(rs))
	r := rung{tau: tau, own: warmed(rs, tau)}
	y := make([]float64, len(rs))
	w := make([]float64, len(rs))
	for i := range rs {
		y[i] = float64(rs[i].Heard.Above(rs[0].Heard))
		w[i] = 1
	}
	r.s2 = sq(guessScatter)
	r.level, r.slope = startLine(r.own, y)
	for pass := range 60 {
		if pass > 0 {
			for i := range rs {
				v := r.s2 + sq(float64(rs[i].Sigma))
				e := y[i] - r.level - r.slope*(r.own[i]-r.mid)
				w[i] = (errorDegrees + 1) / (errorDegrees + e*e/v)
			}
		}
		var sw, sx, sy, sxx, sxy float64
		for i := range rs {
			g := w[i] / (r.s2 + sq(float64(rs[i].Sigma)))
			sw, sx, sy = sw+g, sx+g*r.own[i], sy+g*y[i]
		}
		mid := sx / sw
		for i := range rs {
			g := w[i] / (r.s2 + sq(float64(rs[i].Sigma)))
			sxx, sxy = sxx+g*sq(r.own[i]-mid), sxy+g*(r.own[i]-mid)*y[i]
		}
		if !(sxx > 1e-9) {
			return r, math.NaN()
		}
		if pass > 0 || len(rs) < 4 {
			r.level, r.slope, r.mid = sy/sw, sxy/sxx, mid
		} else {
			r.level, r.mid = r.level+r.slope*mid, mid
		}
		// Scatter beyond hearing, with what was guessed counted as readings.
		ss := priorCount * sq(guessScatter)
		for i := range rs {
			e := y[i] - r.level - r.slope*(r.own[i]-r.mid)
			ss += w[i] * max(0, e*e-sq(float64(rs[i].Sigma)))
		}
		s2 := ss / (max(n-2, 0) + priorCount)
		r.varL, r.varS = 1/sw, 1/sxx
		if pass > 1 && math.Abs(s2-r.s2) < 1e-9*r.s2 {
			break
		}
		r.s2 = max(s2, 1e-6)
	}
	// The information of Student's errors is (ν+1)/(ν+3) of a normal's; the
	// iterated weights carry the rest.
	r.freedom = max(n-2, 0) + priorCount
	like := 0.0
	for i := range rs {
		v := r.s2 + sq(float64(rs[i].Sigma))
		e := y[i] - r.level - r.slope*(r.own[i]-r.mid)
		like -= math.Log(v)/2 + (errorDegrees+1)/2*math.Log1p(e*e/(v*errorDegrees))
	}
	inflate := (errorDegrees + 3) / (errorDegrees + 1)
	r.varL *= inflate
	r.varS *= inflate
	// The likelihood of the lag, over all slopes as likely as they are beforehand,
	// and the slope with both.
	both := r.varS + sq(likelySlope)
	like += (math.Log(r.varS/both) - sq(r.slope)/both) / 2
	r.slope *= sq(likelySlope) / both
	r.varS *= sq(likelySlope) / both
	return r, like
}

// startLine is a line that half the readings may be wrong without moving far:
// the median of the slopes between all pairs (Theil 1950, Sen 1968, from memory,
// unchecked), thinned where there are many.
func startLine(x, y []float64) (at0, slope float64) {
	stride := 1 + len(x)/120
	var slopes []float64
	for i := 0; i < len(x); i += stride {
		for j := i + stride; j < len(x); j += stride {
			if d := x[j] - x[i]; math.Abs(d) > 0.05 {
				slopes = append(slopes, (y[j]-y[i])/d)
			}
		}
	}
	if len(slopes) == 0 {
		return median(y), 0
	}
	slope = median(slopes)
	rest := make([]float64, len(x))
	for i := range x {
		rest[i] = y[i] - slope*x[i]
	}
	return median(rest), slope
}

func median(v []float64) float64 {
	v = slices.Clone(v)
	slices.Sort(v)
	n := len(v)
	if n == 0 {
		return 0
	}
	return (v[(n-1)/2] + v[n/2]) / 2
}

func sq(x float64) float64 { return x * x }

// mixed is the quantile q of a sum of Student's t distributions over the rungs.
func (l *Line) mixed(q float64, centre, variance func(*rung) float64) float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for i := range l.ladder {
		r := &l.ladder[i]
		if r.weight < 1e-4 {
			continue
		}
		far := 60 * math.Sqrt(variance(r))
		low, high = min(low, centre(r)-far), max(high, centre(r)+far)
	}
	for range 60 {
		x, p := (low+high)/2, 0.0
		for i := range l.ladder {
			r := &l.ladder[i]
			if r.weight < 1e-4 {
				continue
			}
			t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: r.freedom}
			p += r.weight * t.CDF((x-centre(r))/math.Sqrt(variance(r)))
		}
		if p < q {
			low = x
		} else {
			high = x
		}
	}
	return (low + high) / 2
}

func (l *Line) summarise(rs []Reading, order []int) {
	slope := func(r *rung) float64 { return r.slope }
	spread := func(r *rung) float64 { return r.varS }
	l.Low, l.High = analysis.Cents(l.mixed(0.025, slope, spread)), analysis.Cents(l.mixed(0.975, slope, spread))
	l.Slope = analysis.Cents(l.mixed(0.5, slope, spread))
	l.Sigma = analysis.Cents(l.mixed(0.8413447, slope, spread)-l.mixed(0.1586553, slope, spread)) / 2
	best := &l.ladder[0]
	for i := range l.ladder {
		if l.ladder[i].weight > best.weight {
			best = &l.ladder[i]
		}
	}
	for _, r := range rs {
		l.At += r.Celsius / float64(len(rs))
	}
	l.Pitch = rs[0].Heard.Shift(analysis.Cents(l.mixed(0.5, func(r *rung) float64 { return r.level + r.slope*(l.At-r.mid) }, func(r *rung) float64 { return r.varL + r.varS*sq(l.At-r.mid) })))
	l.Scatter = analysis.Cents(math.Sqrt(best.s2))
	// A lag is told of where no lag is twenty times less likely.
	if best.tau > 0 && l.ladder[0].tau == 0 && l.ladder[0].weight < best.weight/20 {
		l.Lag = time.Duration(best.tau) * time.Second
	}
	for i, r := range rs {
		e := float64(r.Heard.Above(rs[0].Heard)) - best.level - best.slope*(best.own[i]-best.mid)
		if math.Abs(e) > outlier*math.Sqrt(best.s2+sq(float64(r.Sigma))) {
			l.Outliers = append(l.Outliers, order[i])
		}
	}
	slices.Sort(l.Outliers)
}
