package trial

import (
	"math"
	"math/rand/v2"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/drift"
)

// Days sums up seeded days of temperature.
type Days struct {
	Count    int
	Held     int       // slope within its 95 % interval
	Stage    int       // a strike on stage within the interval forecast
	Width    []float64 // of the slope's interval, cents a degree
	Lagged   int       // days with a lag of ten minutes and more
	Noticed  int       // of those, how many were told of one
	Invented int       // lags told of where there was none
	NoLag    int
}

// Day has count days of a seed: a thermometer every few minutes, an object that
// lags behind it by up to an hour, strikes that scatter, and one in twelve that
// is off by ten or twenty cents.
func Day(seed uint64, count int) Days {
	d := Days{Count: count}
	for i := range count {
		d.one(rand.New(rand.NewPCG(seed, uint64(i)+1<<32)))
	}
	return d
}

func (d *Days) one(r *rand.Rand) {
	slope := uniform(r, -3, 3.2)
	tau := 0.0
	if r.IntN(3) > 0 {
		tau = math.Exp(uniform(r, math.Log(120), math.Log(3600)))
	}
	n := 8 + r.IntN(40)
	scatter, wrong := uniform(r, .3, 1.5), 0.0
	if r.IntN(2) == 0 {
		wrong = 1.0 / 12
	}
	low, swing, slow := uniform(r, 14, 22), uniform(r, 2, 9), uniform(r, 1.5, 6)
	air := func(hours float64) float64 {
		return low + swing*(1-math.Cos(2*math.Pi*hours/(2*slow)))/2 + .4*math.Sin(7*hours)
	}
	start := time.Date(2025, 5, 3, 9, 0, 0, 0, time.UTC)
	var readings []drift.Reading
	const step = 10.0 // s: the object's own temperature, by small steps
	own, clock := air(0), 0.0
	for range n {
		next := clock + uniform(r, 60, 1200)*slow/4
		for ; clock < next; clock += step {
			if tau > 0 {
				own += (air(clock/3600) - own) * (1 - math.Exp(-step/tau))
			} else {
				own = air(clock / 3600)
			}
		}
		off := slope*(own-20) + scatter*r.NormFloat64()
		if r.Float64() < wrong {
			off += uniform(r, 10, 20) * float64(2*r.IntN(2)-1)
		}
		readings = append(readings, drift.Reading{
			Time: start.Add(time.Duration(clock * float64(time.Second))), Celsius: air(clock/3600) + .05*r.NormFloat64(),
			Heard: analysis.Hz(440 * math.Exp2(off/1200)), Sigma: .1,
		})
	}
	line, err := drift.Fit(readings)
	if err != nil {
		d.Count--
		return
	}
	if s := float64(line.Low); s <= slope && slope <= float64(line.High) {
		d.Held++
	}
	d.Width = append(d.Width, float64(line.High-line.Low))
	there := uniform(r, 24, 32)
	truth := slope*(there-20) + scatter*r.NormFloat64()
	c := line.Sounds(there)
	// Sounds is counted from the line at its mean temperature.
	at := 1200 * math.Log2(float64(line.Pitch)/440)
	if x := truth - at; x >= float64(c.Low) && x <= float64(c.High) {
		d.Stage++
	}
	switch {
	case tau >= 600:
		d.Lagged++
		if line.Lag > 0 {
			d.Noticed++
		}
	case tau == 0:
		d.NoLag++
		if line.Lag > 0 {
			d.Invented++
		}
	}
}
