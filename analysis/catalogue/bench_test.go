package catalogue

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"runtime"
	"slices"
	"strconv"
	"testing"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/match"
)

// crowd makes a shelf of objects with one voice each and strikes in all, of
// eight partials each. They share one recording.
func crowd(b *testing.B, objects, strikes int) (*Shelf, []string) {
	b.Helper()
	s := openShelf(b, b.TempDir())
	rnd := rand.New(rand.NewPCG(1, 1))
	ids := make([]string, objects)
	must := func(err error) {
		if err != nil {
			b.Fatal(err)
		}
	}
	name, err := s.files.add(soundOf(0))
	must(err)
	must(s.change(context.Background(), func(tx *sql.Tx) error { return insertRecording(tx, name, len(soundOf(0)), morning) }))
	per := strikes / objects
	for from := 0; from < objects; from += 100 {
		must(s.change(context.Background(), func(tx *sql.Tx) error {
			for i := from; i < min(from+100, objects); i++ {
				o := Object{ID: fmt.Sprintf("OBJECT%08d", i), Name: fmt.Sprint("jar ", i), Kind: analysis.Glass, Created: morning, Changed: morning}
				v := Voice{ID: fmt.Sprintf("VOICE%08d", i), Object: o.ID, Place: "rim", Created: morning}
				ids[i] = v.ID
				if err := insertObject(tx, o); err != nil {
					return err
				}
				if err := insertVoice(tx, v); err != nil {
					return err
				}
				f := 150 * math.Exp2(4*rnd.Float64())
				var ratio [8]float64
				for j := range ratio {
					ratio[j] = 1 + 1.7*float64(j)*(0.8+0.4*rnd.Float64())
				}
				slices.Sort(ratio[:])
				for n := range per {
					k := strikeOf(v.ID, n)
					k.ID, k.Recording = fmt.Sprintf("S%08d-%06d", i, n), name
					k.Partials = nil
					for j, r := range ratio {
						p := analysis.Partial{Frequency: analysis.Hz(f * r).Shift(analysis.Cents(rnd.NormFloat64())), Sigma: 0.3, Level: -3 * float64(j), T60: 1}
						p.Cov[0][0] = 1e-6
						k.Partials = append(k.Partials, p)
					}
					k.Heard.Frequency = k.Partials[0].Frequency
					if err := insertStrike(tx, k); err != nil {
						return err
					}
				}
				if err := refigure(tx, v.ID); err != nil {
					return err
				}
			}
			return nil
		}))
	}
	return s, ids
}

// crowded is how many strikes BenchmarkCrowd has behind it.
func crowded(b *testing.B) int {
	if n, err := strconv.Atoi(os.Getenv("RINGWELL_STRIKES")); err == nil {
		return n
	}
	return 1_000_000
}

// What a player waits for, with ten thousand objects and a million strikes (or
// RINGWELL_STRIKES) on the shelf.
func BenchmarkCrowd(b *testing.B) {
	strikes := crowded(b)
	begin := time.Now()
	s, ids := crowd(b, 10_000, strikes)
	ctx := context.Background()
	info, err := os.Stat(s.dir + "/" + databaseFile)
	if err != nil {
		b.Fatal(err)
	}
	fmt.Printf("BenchmarkCrowd: %d objects, %d strikes, database of %d MB made in %v; aims: near, recognise and alike below 50 ms\n",
		len(ids), strikes, info.Size()>>20, time.Since(begin).Round(time.Second))
	sound := make([]byte, 3*48000*2)
	n := 0
	b.Run("keep", func(b *testing.B) {
		var took []time.Duration
		for b.Loop() {
			n++
			k := strikeOf(ids[n*7919%len(ids)], n)
			k.ID = fmt.Sprintf("KEPT%08d", n)
			for i := range 8 {
				sound[i] = byte(n >> i)
			}
			from := time.Now()
			if err := s.Keep(ctx, k, sound); err != nil {
				b.Fatal(err)
			}
			took = append(took, time.Since(from))
		}
		slices.Sort(took)
		b.ReportMetric(float64(took[len(took)/2].Microseconds())/1000, "p50-ms")
		b.ReportMetric(float64(took[len(took)*95/100].Microseconds())/1000, "p95-ms")
	})
	b.Run("near", func(b *testing.B) {
		for b.Loop() {
			if found, err := s.Find(ctx, Query{Near: 740, Within: 20}); err != nil || len(found) == 0 {
				b.Fatal(len(found), err)
			}
		}
	})
	var prints []match.Voice
	b.Run("voiceprints", func(b *testing.B) {
		var before, after runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		for b.Loop() {
			if prints, err = s.Voiceprints(ctx); err != nil || len(prints) != len(ids) {
				b.Fatal(len(prints), err)
			}
		}
		runtime.GC()
		runtime.ReadMemStats(&after)
		b.ReportMetric(float64(after.HeapAlloc-before.HeapAlloc)/1e6, "MB-held")
	})
	one, err := s.Strike(ctx, "S00000077-000000")
	if err != nil {
		b.Fatal(err)
	}
	b.Run("recognise", func(b *testing.B) {
		r := match.NewRecogniser(prints)
		for b.Loop() {
			if v := r.Recognise(one.Partials); len(v.Candidates) == 0 || v.Candidates[0].ID != ids[77] {
				b.Fatalf("%+v", v)
			}
		}
	})
	b.Run("alike", func(b *testing.B) {
		for b.Loop() {
			if got := match.Alike(prints[77].Modes, prints, "", 10); len(got) != 10 {
				b.Fatal(len(got))
			}
		}
	})
}
