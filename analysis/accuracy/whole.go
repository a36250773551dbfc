package accuracy

import (
	"fmt"
	"math/rand/v2"
	"runtime"
	"sync"

	"ringwell/analysis"
)

// parallel does n things on all cores.
func parallel(n int, do func(i int)) {
	next := make(chan int)
	var all sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		all.Go(func() {
			for i := range next {
				do(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	all.Wait()
}

// takes has count takes heard by a whole ear each and judged.
func (b *bench) takes(name string, count int, one func(r *rand.Rand, label string) Take) *group {
	groups := make([]group, count)
	parallel(count, func(i int) {
		t := one(random(b.seed, name, i), fmt.Sprintf("%s #%d", name, i))
		groups[i].judge(t, hear(t, analysis.Unknown))
	})
	sum := &group{name: name}
	for i := range groups {
		sum.join(&groups[i])
	}
	return sum
}

// lead is the sound before the strike of a take that holds one, s.
const lead = 1.2

// lone is a take with one strike.
func lone(f family, t thing, bg string, snr, seconds float64, r *rand.Rand, label string) Take {
	s := newScene(label, f.name, bg, snr, lead+seconds, r)
	s.strike(t, f, lead+uniform(r, 0, .1), 1)
	if !t.blown {
		s.expect()
	}
	return s.Take
}

// surroundings draws a background and how far it lies below the strike, dB:
// hum, rumble and shop, whose loud parts stand over the noise that is counted,
// are kept from drowning it.
func surroundings(r *rand.Rand) (bg string, snr float64) {
	bg = backgrounds[r.IntN(len(backgrounds))]
	switch bg {
	case "white", "pink":
		return bg, uniform(r, 10, 50)
	case "babble":
		return bg, uniform(r, 20, 50)
	}
	return bg, uniform(r, 30, 50)
}

// kinds of things, each heard twice, the second time with the kind told; and
// the rival on the same sound.
func (b *bench) things() {
	all := families()
	n := b.count(20)
	outcomes := make([]Heard, n*len(all))
	parallel(len(outcomes), func(i int) {
		f := all[i/n]
		r := random(b.seed, "thing/"+f.name, i%n)
		bg, snr := surroundings(r)
		outcomes[i] = Hear(lone(f, f.make(r), bg, snr, 2.5, r, fmt.Sprintf("thing/%s #%d (%s %.0f dB)", f.name, i%n, bg, snr)))
	})
	t, row := b.pitches("Whole ear, one strike of each kind of thing a take, six backgrounds, 10-50 dB: the pitch heard")
	var sum, told, rival, special group
	for k, f := range all {
		var o Heard
		for i := range n {
			o.join(&outcomes[k*n+i])
		}
		row(f.name, &o.unknown, &o.told, &o.rival)
		sum.join(&o.unknown)
		told.join(&o.told)
		rival.join(&o.rival)
		if f.name == "church bell" || f.name == "tube" || f.name == "missing lowest" {
			special.join(&o.unknown)
		}
	}
	row("all", &sum, &told, &rival)
	t.end(nil)
	b.pitchNotes(&sum)
	b.failures(sum.failed)
	rest := sum.gross + sum.refused - special.gross - special.refused
	n1, n2 := sum.strikes-special.strikes, special.strikes
	b.aim("heard pitch, gross or none: all kinds but bells and missing fundamentals", "<= 0.5 %", "%.1f %% of %d", 100*ratio(rest, n1), n1)
	b.aim("heard pitch, gross or none: bells, tubes, missing fundamentals", "<= 3 %", "%.1f %% of %d", 100*ratio(special.gross+special.refused, n2), n2)
	b.aim("the same, kind told: all kinds together", "", "%.1f %% of %d", 100*ratio(told.gross+told.refused, told.strikes), told.strikes)
	b.aim("gross errors against a windowed FFT's strongest peak on the same strikes", "<= 1/20", "%d against %d (%.1f %%) of %d", sum.gross, rival.gross, 100*ratio(rival.gross, rival.strikes), sum.strikes)

	t, one := b.modes("Whole ear, the same strikes: partials")
	one("all", &sum)
	t.end(nil)
}

// finding: are strikes found, when, and nothing else?
func (b *bench) finding() {
	t, tell := b.finds("Whole ear: strikes found, and what is told where there is none")
	var failed []string
	row := func(g *group, name string) {
		tell(name, g)
		failed = append(failed, g.failed...)
	}
	for _, bg := range backgrounds {
		snr := 20.0
		if bg == "rumble" || bg == "hum" || bg == "shop" {
			snr = 40
		}
		minutes := b.count(3)
		if bg == "white" {
			minutes = b.count(10)
		}
		g := b.takes("minute/"+bg, minutes, func(r *rand.Rand, label string) Take { return minute(bg, snr, r, label) })
		row(g, fmt.Sprintf("20 events a minute, knocks among them, %s %.0f dB", bg, snr))
		if bg == "white" {
			found, wrong := g.found-g.refused, g.knocksTold+g.extra
			b.aim("minutes of 20 events, knocks among them, 20 dB: strikes found with a pitch", ">= 99 %", "%.1f %% of %d", 100*ratio(found, g.strikes), g.strikes)
			b.aim("the same: pitched where there is none, in ten minutes", "<= 1", "%.1f (%d in %.0f minutes)", float64(wrong)/g.seconds*600, wrong, g.seconds/60)
		}
	}
	for _, gap := range []float64{.12, .25} {
		for _, same := range []bool{true, false} {
			what := "another thing"
			if same {
				what = "the same thing"
			}
			name := fmt.Sprintf("%.0f ms apart, %s", 1000*gap, what)
			g := b.takes("apart/"+name, b.count(20), func(r *rand.Rand, label string) Take { return apart(gap, same, r, label).Take })
			row(g, name+", white 40 dB")
			if gap == .12 {
				b.aim("strikes 120 ms apart found, "+what, "all", "%.1f %% of %d", 100*ratio(g.found, g.strikes), g.strikes)
			}
		}
	}
	t.end(nil)
	b.findNotes()
	b.failures(failed)
}

// minute is twenty events in one minute: fifteen strikes on six things, five
// knocks, two to four seconds apart, some in the ring of the one before.
func minute(bg string, snr float64, r *rand.Rand, label string) Take {
	s := newScene(label, bg, bg, snr, 60, r)
	var hands []family
	for _, f := range families() {
		if f.hand != analysis.Blown {
			hands = append(hands, f)
		}
	}
	r.Shuffle(len(hands), func(i, j int) { hands[i], hands[j] = hands[j], hands[i] })
	hands = hands[:6]
	on := make([]thing, len(hands))
	for i, f := range hands {
		on[i] = f.make(r)
	}
	order := r.Perm(20)
	for i, what := range order {
		at := 1 + 2.9*float64(i) + uniform(r, 0, 2.4)
		if what < 5 {
			s.thud(at, uniform(r, .2, 1))
			continue
		}
		k := r.IntN(len(hands))
		s.strike(on[k], hands[k], at, 1)
	}
	return s.Take
}

// apart is six strikes one soon after the other.
func apart(gap float64, same bool, r *rand.Rand, label string) *scene {
	s := newScene(label, "apart", "white", 40, max(4, 2.2+5*gap), r)
	all := families()
	hands := []family{all[0], all[4], all[6], all[7]} // bar, glass, bottle, tile
	k := r.IntN(len(hands))
	on := hands[k].make(r)
	at := 1.2
	for range 6 {
		if !same {
			k = (k + 1 + r.IntN(len(hands)-1)) % len(hands)
			on = hands[k].make(r)
		}
		s.strike(on, hands[k], at, uniform(r, .6, 1))
		s.Truth.Strikes[len(s.Truth.Strikes)-1].Within = min(.03, gap/3)
		at += gap
	}
	return s
}

// failures lists what went wrong by name and number: the same seed gives each
// of them again.
func (b *bench) failures(all []string) {
	const most = 15
	for _, f := range all[:min(len(all), most)] {
		b.printf("  %s\n", f)
	}
	if n := len(all) - most; n > 0 {
		b.printf("  ... and %d more\n", n)
	}
}
