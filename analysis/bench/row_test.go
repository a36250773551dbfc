package bench

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"ringwell/analysis"
)

// slowCheapest tries every way.
func slowCheapest(cost [][]float64) float64 {
	best := math.Inf(1)
	order := make([]int, len(cost))
	for i := range order {
		order[i] = i
	}
	var try func(int, float64)
	try = func(k int, sum float64) {
		if k == len(order) {
			best = min(best, sum)
			return
		}
		for i := k; i < len(order); i++ {
			order[k], order[i] = order[i], order[k]
			try(k+1, sum+cost[order[k]][k])
			order[k], order[i] = order[i], order[k]
		}
	}
	try(0, 0)
	return best
}

func TestCheapestAgainstAllWays(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 300 {
		n := 1 + r.IntN(6)
		cost := make([][]float64, n)
		for i := range cost {
			for range n {
				cost[i] = append(cost[i], float64(r.IntN(50)))
			}
		}
		of, sum := cheapest(cost), 0.0
		for j, i := range of {
			sum += cost[i][j]
		}
		given := slices.Clone(of)
		slices.Sort(given)
		if len(slices.Compact(given)) != n || sum != slowCheapest(cost) {
			t.Fatalf("%v: got %v at %g, wanted %g", cost, of, sum, slowCheapest(cost))
		}
	}
}

// Three bottles of different size and three notes: each note lies above one
// more of them, so there is one way only.
func TestAssign(t *testing.T) {
	bottle := func(name string, ml float64, hz analysis.Hz) Vessel {
		return Vessel{name, Job{Way: Blown, Capacity: ml, Pouring: Scale}, []Entry{{Heard: hz, Sigma: .5}}}
	}
	vessels := []Vessel{bottle("small", 330, 180), bottle("large", 1000, 105), bottle("middle", 500, 145)}
	aims := []Aim{{"A2", 110, 0}, {"D3", 146.83, 0}, {"F#3", 185, 0}}
	row, err := Assign(vessels, aims)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, p := range row.Placed {
		got = append(got, vessels[p.Vessel].Name)
	}
	if want := []string{"large", "middle", "small"}; !slices.Equal(got, want) || len(row.Bare) != 0 || len(row.Spare) != 0 {
		t.Errorf("got %v, bare %v, spare %v; wanted %v", got, row.Bare, row.Spare, want)
	}
	// A note below them all stays bare, and one bottle is left over.
	row, err = Assign(vessels, []Aim{{"C2", 65.4, 0}, {"D3", 146.83, 0}})
	if err != nil {
		t.Fatal(err)
	}
	if len(row.Placed) != 1 || !slices.Equal(row.Bare, []int{0}) || len(row.Spare) != 2 {
		t.Errorf("C2 and D3: got %d placed, bare %v, spare %v; wanted 1, [0] and two", len(row.Placed), row.Bare, row.Spare)
	}
	if _, err := Assign(vessels, nil); err == nil {
		t.Error("no aims: got no error")
	}
	vessels[0].Entries = nil
	if _, err := Assign(vessels, aims); err == nil {
		t.Error("a vessel that was not heard: got no error")
	}
}
