package bench

import (
	"fmt"
	"math"

	"ringwell/analysis"
	"ringwell/analysis/physics/air"
	"ringwell/analysis/physics/cavity"
	"ringwell/analysis/physics/water"
)

// Way says how the vessel is made to sound, and with that which of the two
// waters is meant.
type Way string

const (
	// Struck: the wall sounds. Water lowers it.
	Struck Way = "struck"
	// Blown: the air sounds. Water raises it.
	Blown Way = "blown"
)

// Pouring is how water is measured.
type Pouring string

const (
	Scale   Pouring = "scale"   // weighed, 1 g a millilitre or nearly
	Syringe Pouring = "syringe" // drawn up
	Eye     Pouring = "eye"     // by a mark, a spoon or a guess
	Known   Pouring = "known"   // the fills are given and exact, as in a published table
)

// Bound is how far an amount may be off that was meant to be ml, in
// millilitres: the larger of 0.5 ml and 3 % by scale and syringe, 3 ml by eye.
// Common practice, no source.
func (p Pouring) Bound(ml float64) float64 {
	if p == Eye {
		return 3
	}
	return max(0.5, 0.03*math.Abs(ml))
}

// sigma is one standard deviation of that, any place within the bound being as
// likely as any other.
func (p Pouring) sigma(ml float64) float64 {
	if ml == 0 || p == Known {
		return 0
	}
	return p.Bound(ml) / math.Sqrt(3)
}

// step is the finest amount that is asked for, in millilitres.
func (p Pouring) step() float64 {
	if p == Eye {
		return 1
	}
	return 0.5
}

// Aim is where the vessel shall sound.
type Aim struct {
	Name      string         // what it is called in a sentence: "F#5 bent +30"
	Target    analysis.Hz    // bend included
	Tolerance analysis.Cents // near enough, either way; 0 means 5
}

func (a Aim) within() float64 {
	if a.Tolerance == 0 {
		return 5
	}
	return float64(a.Tolerance)
}

// Job is one vessel to be brought to one aim with water.
type Job struct {
	Way      Way
	Capacity float64 // ml: to the brim where it is struck, to the foot of the neck where it is blown
	Aim      Aim
	Pouring  Pouring

	// Scatter is one standard deviation from one strike of the same fill to the
	// next, in cents; 0 means a guess: 1 c struck, 3 c blown.
	Scatter analysis.Cents
	// Rounding is the step frequencies were rounded to, in Hz; 0: they were not.
	Rounding analysis.Hz
	// Bottle, where the measures of a blown one are known, sharpens the first
	// guess; nil: they are not.
	Bottle *cavity.Bottle
	// Water is the water's temperature in °C for weighing; 0 means 20.
	Water float64
	// Stage is the air the blown aim is for; nil: as it is now.
	Stage *air.Air
}

// Entry is one fill and what was heard there.
type Entry struct {
	Added    float64 // ml since the entry before, negative where it was taken out; of the first: what was in it already
	Heard    analysis.Hz
	Sigma    analysis.Cents // of hearing it, one standard deviation; the scatter from strike to strike comes on top
	Air      *air.Air       // at the time; nil: as at the other entries
	Partials []analysis.Partial
	Strike   string // ID of the strike it rests on; "" where it was typed
}

const (
	usualScatterStruck = 1.0 // cents, a guess from strikes on one place with one beater
	usualScatterBlown  = 3.0 // cents, a guess: lips do not come back to the same place
	usualWater         = 20  // °C
	largest            = 100e3
)

func (j Job) scatter() float64 {
	switch {
	case j.Scatter > 0:
		return float64(j.Scatter)
	case j.Way == Blown:
		return usualScatterBlown
	}
	return usualScatterStruck
}

// WaterDensity is the density of the job's water in g/ml.
func (j Job) WaterDensity() float64 {
	if j.Water == 0 {
		return water.Density(usualWater)
	}
	return water.Density(j.Water)
}

// Fault is what is wrong with a job, in words for its maker.
type Fault struct {
	Of  string // way, capacity, pouring, aim, tolerance, scatter, rounding, water or stage
	Err error
}

func (f *Fault) Error() string { return "bench: " + f.Err.Error() }
func (f *Fault) Unwrap() error { return f.Err }

// Check returns what is wrong with a job, a *Fault, or nil.
func (j Job) Check() error {
	fault := func(of, format string, args ...any) error { return &Fault{of, fmt.Errorf(of+" "+format, args...)} }
	switch {
	case j.Way != Struck && j.Way != Blown:
		return fault("way", "%q: say %s (the wall sounds, water lowers it) or %s (the air sounds, water raises it)", j.Way, Struck, Blown)
	case !(j.Capacity >= 5 && j.Capacity <= largest):
		return fault("capacity", "%g ml: say how much the vessel holds, 5 to %g ml; fill it and weigh it, a gram is a millilitre", j.Capacity, float64(largest))
	case j.Pouring != Scale && j.Pouring != Syringe && j.Pouring != Eye && j.Pouring != Known:
		return fault("pouring", "%q: say %s, %s, %s or %s", j.Pouring, Scale, Syringe, Eye, Known)
	case !(j.Aim.Target >= 10 && j.Aim.Target <= 20000):
		return fault("aim", "of %g Hz: give a note or a frequency of 10 to 20000 Hz", float64(j.Aim.Target))
	case !(j.Aim.Tolerance >= 0 && j.Aim.Tolerance <= 100):
		return fault("tolerance", "%g c: give 0.5 to 100 cents", float64(j.Aim.Tolerance))
	case !(j.Scatter >= 0 && j.Scatter <= 100):
		return fault("scatter", "%g c: give 0 to 100 cents", float64(j.Scatter))
	case !(j.Rounding >= 0 && j.Rounding <= 100):
		return fault("rounding", "%g Hz: give the step frequencies were rounded to, 0 to 100 Hz", float64(j.Rounding))
	}
	if j.Water != 0 {
		if err := water.Check(j.Water); err != nil {
			return &Fault{"water", err}
		}
	}
	if j.Stage != nil {
		if err := j.Stage.Check(); err != nil {
			return &Fault{"stage", err}
		}
	}
	return nil
}

// CheckEntries returns what is wrong with entries, naming the first that is,
// counted from 1.
func (j Job) CheckEntries(entries []Entry) error {
	fill := 0.0
	for i, e := range entries {
		fill += e.Added
		bad := func(format string, args ...any) error {
			return fmt.Errorf("bench: entry %d: "+format, append([]any{i + 1}, args...)...)
		}
		switch {
		case !(e.Heard >= 10 && e.Heard <= 20000):
			return bad("heard %g Hz: give 10 to 20000 Hz", float64(e.Heard))
		case !(e.Sigma >= 0 && e.Sigma <= 200):
			return bad("uncertainty %g c: give 0 to 200 cents", float64(e.Sigma))
		case math.IsNaN(e.Added) || fill < -0.01-j.Pouring.Bound(e.Added):
			return bad("%.4g ml in all: there cannot be less than nothing in it", fill)
		case fill > j.Capacity*1.1+1:
			return bad("%.4g ml in all, but it holds %.4g ml", fill, j.Capacity)
		}
		if e.Air != nil {
			if err := e.Air.Check(); err != nil {
				return bad("%v", err)
			}
		}
	}
	return nil
}
