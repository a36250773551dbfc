package accuracy

import (
	"fmt"
	"io"
	"math/rand/v2"
	"runtime"
	"sync"
	"text/tabwriter"
	"time"

	"ringwell/analysis/partial"
)

// wholeTable is what the table at scale 1 (150 strikes a cell of one partial)
// is taken to cost on one core when a budget is turned into numbers of
// strikes: fixed, so that the same budget gives the same table on any machine.
const wholeTable = 480 * time.Second

// bench runs the cells of one table.
type bench struct {
	w     io.Writer
	seed  uint64
	scale float64 // of the number of strikes; 1 is the full table
	aims  []aim
	err   error
}

// Run measures the estimator and the whole ear and writes one table to w. The same seed and
// budget give the same table anywhere; budget is the time the table may take
// on two cores, roughly: it only sets how many strikes each cell gets. The
// error is the first of w's.
func Run(w io.Writer, seed uint64, budget time.Duration) error {
	b := &bench{w: w, seed: seed, scale: budget.Seconds() * 2 / wholeTable.Seconds()}
	b.printf("accuracy: seed %d, strikes at %g of 300 a cell, 48 kHz, sound made from formulas\n", seed, round2(b.scale/2))
	b.printf("SNR: power of the strongest partial at the onset over the background's, whole band\n")
	b.printf("CRB: the least deviation any unbiased estimator reaches from 6 ms after the onset on (Rife & Boorstyn 1974)\n")
	b.single()
	b.objects()
	b.pairs()
	b.haste()
	b.stopped()
	b.clipped()
	b.knocks()
	b.things()
	b.finding()
	b.again()
	b.together()
	b.rolled()
	b.moved()
	b.soon()
	b.overloaded()
	b.reached()
	return b.err
}

func round2(v float64) float64 { return float64(int(v*100+0.5)) / 100 }

func (b *bench) printf(format string, a ...any) {
	if _, err := fmt.Fprintf(b.w, format, a...); err != nil && b.err == nil {
		b.err = err
	}
}

// count returns how many strikes a cell of full strikes gets, at least one.
func (b *bench) count(full int) int { return max(1, int(float64(full)*b.scale+0.5)) }

// cell has count strikes scored, on all cores. one gets the random source of
// its strike alone, so that cells and strikes do not depend on each other.
func (b *bench) cell(name string, count int, one func(e *partial.Estimator, r *rand.Rand, label string, s *score)) *score {
	scores := make([]score, count)
	next := make(chan int)
	var all sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		all.Go(func() {
			e := partial.New(rate)
			for i := range next {
				one(e, random(b.seed, name, i), fmt.Sprintf("%s #%d", name, i), &scores[i])
			}
		})
	}
	for i := range count {
		next <- i
	}
	close(next)
	all.Wait()
	sum := &score{}
	for i := range scores {
		sum.join(&scores[i])
	}
	return sum
}

// table writes rows in columns.
type table struct {
	b *bench
	t *tabwriter.Writer
}

func (b *bench) table(title string, head ...string) *table {
	b.printf("\n%s\n", title)
	t := &table{b, tabwriter.NewWriter(b.w, 0, 0, 2, ' ', tabwriter.AlignRight)}
	t.row(head...)
	return t
}

func (t *table) row(cells ...string) {
	for _, c := range cells {
		if _, err := fmt.Fprintf(t.t, "%s\t", c); err != nil && t.b.err == nil {
			t.b.err = err
		}
	}
	fmt.Fprintln(t.t)
}

// end writes the table and the strikes that failed, by name and number: the
// same seed gives each of them again.
func (t *table) end(failed []string) {
	if err := t.t.Flush(); err != nil && t.b.err == nil {
		t.b.err = err
	}
	const most = 12
	if n := len(failed); n > 0 {
		t.b.printf("  missed or invented something: %d strikes", n)
		for _, f := range failed[:min(n, most)] {
			t.b.printf("; %s", f)
		}
		if n > most {
			t.b.printf("; ...")
		}
		t.b.printf("\n")
	}
}
