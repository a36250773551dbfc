package accuracy

import (
	"fmt"
	"math"
	"math/rand/v2"

	"ringwell/analysis/partial"
)

func num(format string, v float64) string {
	if math.IsNaN(v) {
		return "-"
	}
	return fmt.Sprintf(format, v)
}

func ratio(a, b int) float64 { return float64(a) / float64(b) }

// single: one partial in white noise, against the bound.
func (b *bench) single() {
	t := b.table("One partial, white noise, 200-6000 Hz, window min(T60, 2 s): root mean square error over CRB",
		"T60 s", "SNR dB", "frequency", "T60", "±2σ f", "±2σ T60", "lost", "invented")
	var failed []string
	var worstF, worstT, short float64
	for _, t60 := range []float64{.05, .3, 1, 4} {
		for _, snr := range []float64{0, 20, 40, 60} {
			name := fmt.Sprintf("single/%g/%g", t60, snr)
			s := b.cell(name, b.count(150), func(e *partial.Estimator, r *rand.Rand, label string, s *score) {
				f := logUniform(r, 200, 6000)
				if t60 < 0.1 {
					f = logUniform(r, 400, 6000) // below, it dies within two periods
				}
				o := object{"one", []mode{{f, t60, 1}}}
				k := strike(o, "white", snr, min(t60, 2), r)
				s.judge(k, read(e, k), label)
			})
			t.row(num("%.2f", t60), num("%.0f", snr), num("%.2f", rms(s.freq)), num("%.2f", rms(s.ring)),
				num("%.2f", ratio(s.insideF, s.countF)), num("%.2f", ratio(s.insideT, s.countT)),
				num("%.2f", ratio(s.missed, s.strikes)), num("%.2f", ratio(s.spurious, s.strikes)))
			failed = append(failed, s.failed...)
			switch {
			case t60 >= .3:
				worstF, worstT = max(worstF, rms(s.freq)), max(worstT, rms(s.ring))
			case snr >= 20:
				short = max(short, rms(s.freq))
			}
		}
	}
	t.end(failed)
	b.printf("  chance alone moves the root mean square of %d strikes by %.0f %%, one standard deviation, and the worst of 12 cells by about twice that\n", b.count(150), 100/math.Sqrt(2*float64(b.count(150))))
	b.aim("RMSE/CRB of one partial's frequency, SNR 0-60 dB, T60 0.3-4 s, worst cell", "<= 1.10", "%.2f", worstF)
	b.aim("RMSE/CRB of its T60, worst cell", "<= 1.15", "%.2f", worstT)
	b.aim("RMSE/CRB of its frequency, T60 0.05 s, SNR >= 20 dB, worst cell", "<= 1.3", "%.2f", short)
}

// objects: whole things with a click in six backgrounds.
func (b *bench) objects() {
	t := b.table("Whole objects with a click, 2 s: partials missed (detectable) and invented a strike; trimmed rms error over CRB",
		"object", "background", "SNR dB", "true", "missed", "invented", "cents med", "95 %", "f/CRB", "T60/CRB", "±2σ f", "±2σ T60", "pitched")
	var failed []string
	row := func(kind, bg string, snr float64, s *score) {
		n := s.strikes
		t.row(kind, bg, num("%.0f", snr), num("%.1f", ratio(s.detectable, n)), num("%.3f", ratio(s.missed, n)), num("%.3f", ratio(s.spurious, n)),
			num("%.4f", quantile(s.cents, .5)), num("%.3f", quantile(s.cents, .95)), num("%.2f", trimmed(s.freq)), num("%.2f", trimmed(s.ring)),
			num("%.3f", ratio(s.insideF, s.countF)), num("%.3f", ratio(s.insideT, s.countT)), num("%.3f", ratio(s.pitched, n)))
	}
	type place struct {
		bg  string
		snr float64
	}
	least, most := 1.0, 0.0
	places := []place{{"white", 20}, {"white", 60}}
	for _, bg := range backgrounds {
		places = append(places, place{bg, 40})
	}
	for _, at := range places {
		var whole score
		for _, kind := range kinds {
			name := fmt.Sprintf("%s/%s/%g", kind, at.bg, at.snr)
			s := b.cell(name, b.count(60), func(e *partial.Estimator, r *rand.Rand, label string, s *score) {
				k := strike(draw(kind, r), at.bg, at.snr, 2, r)
				s.judge(k, read(e, k), label)
			})
			if kind == "any" {
				row(kind, at.bg, at.snr, s)
				continue
			}
			if at.bg == "white" && at.snr == 40 {
				row(kind, at.bg, at.snr, s)
			}
			whole.join(s)
		}
		row("five kinds", at.bg, at.snr, &whole)
		if at.snr == 40 {
			wanted := map[string]string{"white": "0.01", "pink": "0.02", "rumble": "0.03", "babble": "0.10"}[at.bg]
			if wanted != "" {
				b.aim("whole objects at 40 dB in "+at.bg+", a strike: detectable partials missed; invented", "<= 0.05; "+wanted, "%.3f; %.3f", ratio(whole.missed, whole.strikes), ratio(whole.spurious, whole.strikes))
			}
			for _, v := range []float64{ratio(whole.insideF, whole.countF), ratio(whole.insideT, whole.countT)} {
				least, most = min(least, v), max(most, v)
			}
		}
		failed = append(failed, whole.failed...)
	}
	t.end(failed)
	b.aim("±2σ holds the truth, frequency and T60, six backgrounds at 40 dB, lowest and highest", "0.93-0.98", "%.3f-%.3f", least, most)
	b.printf("  detectable: within 40 dB of the strongest, likelihood ratio above 1.3 times the threshold, level bound under 3 dB, Q above 7\n")
	b.printf("  any: 1-20 partials anywhere in 100-6000 Hz, 0.05-4 s, pairs among them; low ones lie thick, and masks meant for real sounds hide some\n")
}

// pairs: two near modes told apart.
func (b *bench) pairs() {
	t := b.table("Near pairs, 150-4000 Hz, T60 0.5-4 s, white, window min(1.2 T60, 2.5 s): share told apart with the split right within 25 %",
		"SNR dB", "unequal dB", "split x T60", "told", "limit", "as one", "beat error", "±2σ beat", "a third")
	worst := map[float64]float64{.5: 1, .7: 1, 1: 1, 1.5: 1, 3: 1}
	limit := map[float64]float64{.5: 1, .7: 1, 1: 1, 1.5: 1, 3: 1}
	for _, snr := range []float64{20, 40, 60} {
		for _, dl := range []float64{0, 10, 15} {
			for _, st := range []float64{.5, .7, 1, 1.5, 3} {
				name := fmt.Sprintf("pair/%g/%g/%g", snr, dl, st)
				s := b.cell(name, b.count(40), func(e *partial.Estimator, r *rand.Rand, label string, s *score) {
					t60, f := logUniform(r, .5, 4), logUniform(r, 150, 4000)
					split := st / t60
					o := object{"pair", []mode{{f, t60, 1}, {f + split, t60, fromDB(-dl)}}}
					if r.IntN(2) == 0 {
						o.modes[0].f, o.modes[1].f = o.modes[1].f, o.modes[0].f
					}
					k := strike(o, "white", snr, min(1.2*t60, 2.5), r)
					skip := int(contact * float64(rate))
					told, right := pairLimit(k.ring, skip, len(k.sound)-skip, k.noise[0], pairAlarm, pairRight)
					s.could = append(s.could, told*right)
					got := read(e, k).Partials
					s.strikes++
					switch len(got) {
					case 0:
					case 1:
						s.asOne++
					case 2:
						beat := float64(got[1].Frequency - got[0].Frequency)
						if math.Abs(beat-split) < pairRight*split {
							s.told++
							s.freq = append(s.freq, (beat-split)/split)
							if math.Abs(beat-split) < 2*got[0].SigmaBeat {
								s.insideF++
							}
						}
					default:
						s.third++
					}
				})
				could := mean(s.could)
				if dl <= 10 {
					worst[st] = min(worst[st], ratio(s.told, s.strikes))
					limit[st] = min(limit[st], could)
				}
				t.row(num("%.0f", snr), num("%.0f", dl), num("%.1f", st), num("%.2f", ratio(s.told, s.strikes)), num("%.2f", could), num("%.2f", ratio(s.asOne, s.strikes)),
					num("%.2f %%", 100*rms(s.freq)), num("%.2f", ratio(s.insideF, s.told)), num("%.2f", ratio(s.third, s.strikes)))
			}
		}
	}
	t.end(nil)
	b.printf("  limit: what the sound allows: the chance that two waves win over the best one at a false alarm of %g, times that of a split within %.0f %% by its Cramér-Rao bound\n", pairAlarm, 100*pairRight)
	alone := b.alone()
	b.aim("pairs up to 10 dB unequal told apart, worst cell at split x T60 of 0.7; 1; 1.5", ">= 95 % from 0.7", "%.0f %%; %.0f %%; %.0f %% (the sound allows %.0f %%; %.0f %%; %.0f %%)",
		100*worst[.7], 100*worst[1], 100*worst[1.5], 100*limit[.7], 100*limit[1], 100*limit[1.5])
	b.aim("single partials made a pair of, 0-60 dB", "", "%d of %d", alone.third, alone.strikes)
}

// alone: how often one mode, in the cells of the pairs, is made two or more.
func (b *bench) alone() *score {
	var sum score
	for _, snr := range []float64{0, 20, 40, 60} {
		sum.join(b.cell(fmt.Sprintf("alone/%g", snr), b.count(150), func(e *partial.Estimator, r *rand.Rand, _ string, s *score) {
			t60, f := logUniform(r, .5, 4), logUniform(r, 150, 4000)
			k := strike(object{"one", []mode{{f, t60, 1}}}, "white", snr, min(1.2*t60, 2.5), r)
			s.strikes++
			if len(read(e, k).Partials) > 1 {
				s.third++
			}
		}))
	}
	return &sum
}

// haste: how much sound is needed until the lowest partial is known.
func (b *bench) haste() {
	t := b.table("Free bar 1 : 2.757 : 5.404 : 8.933 with a click, T60 1 s, 40 dB: sound after the onset, ms, until the lowest partial stays within (median / 90 %)",
		"Hz", "±10 c", "±5 c", "±1 c", "bound ±1 c")
	steps := []float64{16.5, 19, 22, 26, 31, 36, 43, 51, 61, 72, 86, 120, 170, 250}
	for _, f := range []float64{220, 440, 880, 1760} {
		within := []float64{10, 5, 1}
		s := b.cell(fmt.Sprintf("haste/%g", f), b.count(60), func(e *partial.Estimator, r *rand.Rand, _ string, s *score) {
			o := object{kind: "bar"}
			for k, q := range []float64{1, 2.757, 5.404, 8.933} {
				if f*q < 16000 {
					o.modes = append(o.modes, mode{f * q, math.Pow(q, -.6), fromDB(-uniform(r, 0, 12) * float64(min(k, 1)))})
				}
			}
			k := strike(o, "white", 40, .3, r)
			e.Begin(partial.Take{Rate: rate, Before: k.before})
			since := [3]float64{}
			for _, ms := range steps {
				got := e.Grow(k.sound[:int(ms*float64(rate)/1000)])
				away := math.Inf(1)
				for _, p := range got.Partials {
					away = min(away, math.Abs(1200*math.Log2(float64(p.Frequency)/f)))
				}
				for q, c := range within {
					if away > c {
						since[q] = math.Inf(1)
					} else if since[q] == 0 || math.IsInf(since[q], 1) {
						since[q] = ms
					}
				}
			}
			s.since = append(s.since, since)
			bound := math.Inf(1)
			for ms := 7.0; ms < 300; ms++ {
				skip := int(contact * float64(rate))
				b := partial.Bounds(k.ring, skip, int(ms*float64(rate)/1000)-skip, k.noise)
				if 2*1200/math.Ln2*b[0].Omega/k.ring[0].Omega < 1 {
					bound = ms
					break
				}
			}
			s.bound = append(s.bound, bound)
		})
		cells := []string{num("%.0f", f)}
		for q := range within {
			var v []float64
			for _, x := range s.since {
				v = append(v, x[q])
			}
			cells = append(cells, fmt.Sprintf("%.0f / %.0f", quantile(v, .5), quantile(v, .9)))
		}
		t.row(append(cells, num("%.0f", quantile(s.bound, .5)))...)
	}
	t.end(nil)
	b.printf("  read at %v ms; bound: two standard deviations of the whole chord\n", steps)
}

// stopped: a hand on the object.
func (b *bench) stopped() {
	t := b.table("A hand stops the object 0.35 to 1.2 s after the onset, 40 dB white, longest T60 3 s",
		"object", "T60 after", "noticed", "late ms med", "95 %", "T60 of the free part within 2 %")
	var noticed, hands, known, frees int
	for _, kind := range []string{"metal bar", "bowl", "bell"} {
		for _, after := range []float64{.1, .25, 1, 0} {
			s := b.cell(fmt.Sprintf("stopped/%s/%g", kind, after), b.count(40), func(e *partial.Estimator, r *rand.Rand, _ string, s *score) {
				o := draw(kind, r)
				top := o.modes[0]
				for _, m := range o.modes {
					if m.amp*m.amp*m.t60 > top.amp*top.amp*top.t60 {
						top = m
					}
				}
				for k := range o.modes {
					o.modes[k].t60 *= 3 / top.t60
				}
				at := uniform(r, .35, 1.2)
				k := strike(o, "white", 40, 2, r)
				if after > 0 {
					k.stop(at, after)
				}
				got := read(e, k)
				s.strikes++
				if got.Broke > 0 {
					s.told++
					s.cents = append(s.cents, 1000*(float64(got.Broke)/float64(rate)-at))
				}
				for _, p := range got.Partials {
					if math.Abs(float64(p.Frequency)-top.f) < 0.4 {
						s.countT++
						if math.Abs(p.T60-3) < 0.06 {
							s.insideT++
						}
						break
					}
				}
			})
			if after > 0 {
				noticed, hands, known, frees = noticed+s.told, hands+s.strikes, known+s.insideT, frees+s.countT
			}
			label := num("%g s", after)
			if after == 0 {
				label = "no hand"
			}
			t.row(kind, label, num("%.2f", ratio(s.told, s.strikes)), num("%.1f", quantile(s.cents, .5)), num("%.1f", quantile(s.cents, .95)), num("%.2f", ratio(s.insideT, s.countT)))
		}
	}
	t.end(nil)
	b.aim("hand damping noticed", ">= 95 %", "%.1f %% of %d", 100*ratio(noticed, hands), hands)
	b.aim("T60 of the free part within 2 %", "all", "%.1f %% of %d", 100*ratio(known, frees), frees)
}

// clipped: the input was too loud.
func (b *bench) clipped() {
	t := b.table("Clipped by so much, metal bars, 40 dB white, 1 s",
		"dB", "noticed", "invented", "missed", "strongest: cents rms", "T60 rms %")
	var failed []string
	for _, over := range []float64{3, 6, 9} {
		s := b.cell(fmt.Sprintf("clipped/%g", over), b.count(60), func(e *partial.Estimator, r *rand.Rand, label string, s *score) {
			k := strike(draw("metal bar", r), "white", 40, 1, r)
			k.clip(over)
			got := read(e, k)
			var one score
			one.judge(k, got, label)
			s.strikes++
			s.spurious += one.spurious
			s.missed += one.missed
			s.failed = append(s.failed, one.failed...)
			if got.Clipped > 0 {
				s.told++
			}
			for _, m := range k.object.modes {
				if m.amp < 1 {
					continue
				}
				for _, p := range got.Partials {
					if c := 1200 * math.Log2(float64(p.Frequency)/m.f); math.Abs(c) < 20 {
						s.freq = append(s.freq, c)
						s.ring = append(s.ring, 100*(p.T60/m.t60-1))
					}
				}
			}
		})
		t.row(num("%.0f", over), num("%.2f", ratio(s.told, s.strikes)), num("%.2f", ratio(s.spurious, s.strikes)), num("%.2f", ratio(s.missed, s.strikes)),
			num("%.4f", rms(s.freq)), num("%.2f", rms(s.ring)))
		failed = append(failed, s.failed...)
	}
	t.end(failed)
}

// knocks: what has no ring must not get a pitch.
func (b *bench) knocks() {
	t := b.table("No ring: taken for a pitched strike, and partials reported a strike", "what", "background", "pitched", "partials")
	for _, what := range []string{"click", "thud"} {
		for _, bg := range []string{"white", "pink", "babble"} {
			s := b.cell(fmt.Sprintf("knock/%s/%s", what, bg), b.count(60), func(e *partial.Estimator, r *rand.Rand, _ string, s *score) {
				k := strike(object{}, bg, 40, 1, r)
				if what == "thud" {
					knock(k.sound, full, r)
				}
				got := read(e, k)
				s.strikes++
				s.spurious += len(got.Partials)
				if got.Pitched {
					s.pitched++
				}
			})
			t.row(what, bg, num("%.3f", ratio(s.pitched, s.strikes)), num("%.2f", ratio(s.spurious, s.strikes)))
		}
	}
	t.end(nil)
}
