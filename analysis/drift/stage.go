package drift

import (
	"fmt"
	"math"
	"strings"

	"ringwell/analysis"
	"ringwell/analysis/physics/material"
)

// Moves is what is known of something's drift without having measured it.
type Moves struct {
	Slope analysis.Cents // a degree
	Sigma analysis.Cents // one standard deviation of that
}

// Of is what physics expects of a material.
func Of(m material.Material) Moves {
	// Its bounds hold nearly all pieces: four standard deviations.
	return Moves{m.PerDegree(), (m.High - m.Low) / 4}
}

// Instrument is the drift of an instrument by its name, from what its bars or
// strings are made of; ok is false where that is not known. Pianos drift with
// moisture more than with temperature, and not with one number for all keys.
func Instrument(name string) (m Moves, of material.Material, ok bool) {
	made := ""
	name = strings.ToLower(name)
	for _, row := range [][2]string{
		{"vibraphone", "aluminium"}, {"glockenspiel", "steel"}, {"celesta", "steel"}, {"crotales", "bronze"},
		{"tubular", "brass"}, {"marimba", "wood"}, {"xylophone", "wood"},
	} {
		if strings.Contains(name, row[0]) {
			made = row[1]
		}
	}
	of, ok = material.Named(made)
	if !ok {
		return m, of, false
	}
	return Of(of), of, true
}

// Change is how far a voice has moved at a temperature.
type Change struct {
	Cents     analysis.Cents // from what it is at the temperature it is held against
	Sigma     analysis.Cents
	Low, High analysis.Cents // 95 %
}

// Change is how far the line says a voice at rest moves from one temperature to
// another.
func (l *Line) Change(from, to float64) Change {
	d := to - from
	centre := func(r *rung) float64 { return r.slope * d }
	variance := func(r *rung) float64 { return max(r.varS*d*d, 1e-12) }
	return l.change(centre, variance)
}

func (l *Line) change(centre, variance func(*rung) float64) Change {
	q := func(p float64) analysis.Cents { return analysis.Cents(l.mixed(p, centre, variance)) }
	return Change{q(0.5), (q(0.8413447) - q(0.1586553)) / 2, q(0.025), q(0.975)}
}

// Sounds is where a voice at rest sounds at a temperature, in cents above what
// it is on the line at l.At, for one strike there: the scatter is in it.
func (l *Line) Sounds(at float64) Change {
	base := func(r *rung) float64 { return r.level + r.slope*(l.At-r.mid) }
	middle := l.mixed(0.5, base, func(r *rung) float64 { return r.varL })
	return l.change(
		func(r *rung) float64 { return r.level + r.slope*(at-r.mid) - middle },
		func(r *rung) float64 { return r.varL + r.varS*sq(at-r.mid) + r.s2 })
}

// Forecast is one voice on stage.
type Forecast struct {
	Away     Change         // against the bent aim on the instrument there, cents; negative is below
	Leaves   bool           // it will lie outside its tolerance, more likely than not
	Chance   float64        // that it lies within
	Bend     analysis.Cents // to bend it by now, at the temperature here, so that it lies right there
	ByObject analysis.Cents // of Away: what the voice itself moves
	ByOther  analysis.Cents // and what the instrument's moving does
}

// Stage forecasts a voice that lies now cents above its aim at temperature here,
// against an instrument that moves, at temperature there.
func Stage(l *Line, now, within analysis.Cents, in Moves, here, there float64) Forecast {
	d := there - here
	own := l.Change(here, there)
	theirs := in.Slope * analysis.Cents(d)
	sigma := float64(in.Sigma) * math.Abs(d)
	centre := func(r *rung) float64 { return float64(now-theirs) + r.slope*d }
	variance := func(r *rung) float64 { return max(r.varS*d*d+sigma*sigma, 1e-12) }
	f := Forecast{Away: l.change(centre, variance), ByObject: own.Cents, ByOther: -theirs}
	f.Bend = -f.Away.Cents
	s := max(float64(f.Away.Sigma), 1e-6)
	upper, lower := (float64(within)-float64(f.Away.Cents))/s, (-float64(within)-float64(f.Away.Cents))/s
	f.Chance = (math.Erfc(-upper/math.Sqrt2) - math.Erfc(-lower/math.Sqrt2)) / 2
	f.Leaves = f.Chance < 0.5
	return f
}

// Beside holds a line beside what physics expects and says what is worth
// saying; "" where there is nothing.
func (l *Line) Beside(m material.Material) string {
	switch {
	case m.Wood() && (l.High < m.Low || l.Low > m.High || l.High < 2*m.PerDegree()):
		return fmt.Sprintf("Wood moves %.1f to %.1f c a degree by temperature; this moved otherwise. Moisture is the likely cause: one per cent more lowers it by about %.0f c.",
			m.Low, m.High, -material.MoisturePerPercent())
	case l.High < m.Low || l.Low > m.High:
		return fmt.Sprintf("Of %s %.2f to %.2f c a degree are expected; this moves otherwise. Look at what holds it, and whether the thermometer is where it is.", m.Name, m.Low, m.High)
	}
	return ""
}
