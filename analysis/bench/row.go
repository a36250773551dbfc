package bench

import (
	"fmt"
	"math"
)

// Vessel is one of a set: a job without its aim, and what was heard of it.
type Vessel struct {
	Name    string
	Job     Job // its Aim is not looked at
	Entries []Entry
}

// Placed is a vessel with the aim it is for.
type Placed struct {
	Vessel, Aim int // indices of what Row was given
	Advice      Advice
	Fill        Interval // ml in it at the aim
	Change      float64  // ml to be added, negative to be taken out
	Grams       float64  // of Fill.Value, at the job's water temperature
	Chance      float64  // that it reaches the aim at all
}

// Row is how a set of vessels is brought to a list of aims.
type Row struct {
	Placed []Placed // in the order of the aims
	Bare   []int    // aims that no vessel is likely to reach
	Spare  []int    // vessels that are left over
}

const (
	likely  = 0.5 // chance from which a vessel is taken to reach an aim
	mostRow = 64
)

// Assign says which vessel is for which aim: as many aims as can be reached, and
// of all such ways the one that moves least water. Every vessel needs one entry
// at least.
func Assign(vessels []Vessel, aims []Aim) (Row, error) {
	if len(vessels) == 0 || len(aims) == 0 || len(vessels) > mostRow || len(aims) > mostRow {
		return Row{}, fmt.Errorf("bench: %d vessels and %d aims: give 1 to %d of each", len(vessels), len(aims), mostRow)
	}
	// A way that leaves an aim bare costs more than all the water there is.
	const bare = 1e9
	n := max(len(vessels), len(aims))
	cost := make([][]float64, n)
	all := make([][]Placed, len(vessels))
	for v := range n {
		cost[v] = make([]float64, n)
		for a := range n {
			cost[v][a] = bare
		}
		if v >= len(vessels) {
			continue
		}
		one := vessels[v]
		if len(one.Entries) == 0 {
			return Row{}, fmt.Errorf("bench: %s was not heard yet: sound it once as it is", one.Name)
		}
		job := one.Job
		job.Aim = aims[0]
		if err := job.Check(); err != nil {
			return Row{}, fmt.Errorf("%s: %w", one.Name, err)
		}
		if err := job.CheckEntries(one.Entries); err != nil {
			return Row{}, fmt.Errorf("%s: %w", one.Name, err)
		}
		c := NewCurve(job, one.Entries)
		all[v] = make([]Placed, len(aims))
		for a, aim := range aims {
			if aim.Target < 10 || aim.Target > 20000 {
				return Row{}, fmt.Errorf("bench: aim %d of %g Hz: give 10 to 20000 Hz", a+1, float64(aim.Target))
			}
			c.aim(aim, one.Entries)
			p := Placed{Vessel: v, Aim: a, Fill: c.Fill(), Chance: c.reaches(aim.within())}
			p.Change = p.Fill.Value - c.fill
			p.Grams = p.Fill.Value * job.WaterDensity()
			all[v][a] = p
			if p.Chance >= likely {
				cost[v][a] = math.Abs(p.Change)
			}
		}
	}
	of := cheapest(cost)
	row := Row{Bare: []int{}, Spare: []int{}}
	used := make([]bool, len(vessels))
	for a := range aims {
		v := of[a]
		if v >= len(vessels) || cost[v][a] >= bare {
			row.Bare = append(row.Bare, a)
			continue
		}
		used[v] = true
		p := all[v][a]
		job := vessels[v].Job
		job.Aim = aims[a]
		p.Advice = Quick(job, vessels[v].Entries)
		row.Placed = append(row.Placed, p)
	}
	for v, u := range used {
		if !u {
			row.Spare = append(row.Spare, v)
		}
	}
	return row, nil
}

// aim turns the curve to another aim.
func (c *Curve) aim(a Aim, entries []Entry) {
	c.job.Aim = a
	f := inAir(a.Target, c.job.Stage, entries[len(entries)-1].Air, c.job)
	c.target = float64(c.first/f) * float64(c.first/f)
}

// reaches is the chance that the aim lies between empty and full, give or take
// the tolerance.
func (c *Curve) reaches(within float64) float64 {
	top := c.job.Capacity - c.job.least()
	low, high := c.target*math.Exp(-within*shareNeper), c.target*math.Exp(within*shareNeper)
	if c.job.Way == Blown {
		return max(0, c.below(high, top, 0, 0)-c.below(low, 0, 0, 0))
	}
	return max(0, c.below(high, 0, 0, 0)-c.below(low, top, 0, 0))
}

// cheapest returns, for each column of a square table of costs, the row that
// is given to it, each once, at the least sum: the shortest augmenting path
// method (Jonker and Volgenant, Computing 38, 325 (1987), from memory,
// unchecked), in time n³.
func cheapest(cost [][]float64) []int {
	n := len(cost)
	u, v := make([]float64, n+1), make([]float64, n+1)
	row, way := make([]int, n+1), make([]int, n+1)
	for i := 1; i <= n; i++ {
		row[0] = i
		at := 0
		least, seen := make([]float64, n+1), make([]bool, n+1)
		for j := range least {
			least[j] = math.Inf(1)
		}
		for row[at] != 0 {
			seen[at] = true
			from, delta, to := row[at], math.Inf(1), 0
			for j := 1; j <= n; j++ {
				if seen[j] {
					continue
				}
				if d := cost[from-1][j-1] - u[from] - v[j]; d < least[j] {
					least[j], way[j] = d, at
				}
				if least[j] < delta {
					delta, to = least[j], j
				}
			}
			for j := range n + 1 {
				if seen[j] {
					u[row[j]] += delta
					v[j] -= delta
				} else {
					least[j] -= delta
				}
			}
			at = to
		}
		for at != 0 {
			row[at] = row[way[at]]
			at = way[at]
		}
	}
	of := make([]int, n)
	for j := 1; j <= n; j++ {
		of[j-1] = row[j] - 1
	}
	return of
}
