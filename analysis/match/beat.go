package match

import (
	"cmp"
	"math"
	"slices"

	"ringwell/analysis"
)

// Pitched is a voice by its pitch.
type Pitched struct {
	ID, Object string
	Pitch      analysis.Hz
	Spread     analysis.Cents // 0: not known
}

// Beating are two voices of different objects that beat when struck together.
type Beating struct {
	A, B  int     // indices, A the lower
	Beat  float64 // Hz
	Sigma float64 // Hz; 0: not known
}

// Pairs returns which voices of different objects lie within atMost Hz of each
// other in pitch, the slowest beat first, at most n of them.
func Pairs(voices []Pitched, atMost float64, n int) []Beating {
	order := make([]int, 0, len(voices))
	for i, v := range voices {
		if v.Pitch > 0 {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(voices[a].Pitch, voices[b].Pitch) })
	found := []Beating{}
	for k, i := range order {
		for _, j := range order[k+1:] {
			beat := float64(voices[j].Pitch - voices[i].Pitch)
			if beat > atMost {
				break
			}
			if voices[i].Object == voices[j].Object {
				continue
			}
			b := Beating{A: i, B: j, Beat: beat}
			if voices[i].Spread > 0 && voices[j].Spread > 0 {
				b.Sigma = math.Hypot(hertz(&voices[i]), hertz(&voices[j]))
			}
			found = append(found, b)
		}
		// A crowd of equals would grow with its square.
		if len(found) > 8*n+64 {
			found = slowest(found, n)
		}
	}
	return slowest(found, n)
}

func hertz(v *Pitched) float64 {
	return float64(v.Pitch) * float64(v.Spread) / float64(analysis.CentsPerNeper)
}

func slowest(all []Beating, n int) []Beating {
	slices.SortStableFunc(all, func(a, b Beating) int { return cmp.Compare(a.Beat, b.Beat) })
	return all[:min(n, len(all))]
}
