package listen

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
	"time"

	"ringwell/analysis"
)

// numbered makes IDs that are the same in every run.
func numbered() func(time.Time) string {
	n := 0
	return func(t time.Time) string {
		n++
		return fmt.Sprintf("%s-%03d", t.Format("150405.000"), n)
	}
}

// TestBlocksDoNotMatter: the same sound cut into blocks of any length gives the
// same tellings, to the last bit.
func TestBlocksDoNotMatter(t *testing.T) {
	sounds := map[string]recording{
		"three-objects":   openRecording(t, "strikes-exact", "three-objects.wav"),
		"knocks-and-tile": openRecording(t, "strikes-exact", "knocks-and-tile.wav"),
		"blown-bottle":    openRecording(t, "strikes-exact", "blown-bottle.wav"),
		"glock_c6":        openRecording(t, "strikes", "glock_c6.wav"),
	}
	for name, r := range sounds {
		t.Run(name, func(t *testing.T) {
			want := hearAll(r.rate, r.x, 480, Options{NewID: numbered(), LSB: lsb16})
			if len(want) == 0 {
				t.Fatal("nothing heard")
			}
			for _, block := range []int{1, 64, 4096, len(r.x)} {
				got := hearAll(r.rate, r.x, block, Options{NewID: numbered(), LSB: lsb16})
				if len(got) != len(want) {
					t.Errorf("blocks of %d: got %d tellings, wanted %d as with blocks of 480", block, len(got), len(want))
					continue
				}
				for i := range got {
					if !reflect.DeepEqual(got[i], want[i]) {
						t.Errorf("blocks of %d, telling %d:\n got %+v\nwanted %+v", block, i, got[i], want[i])
						break
					}
				}
			}
		})
	}
}

// TestTellingsKeepTheRules holds every telling of every recording against what
// the types and the package promise.
func TestTellingsKeepTheRules(t *testing.T) {
	for _, name := range recordingNames(t) {
		t.Run(name[1], func(t *testing.T) {
			r := openRecording(t, name[0], name[1])
			last := map[string]analysis.Strike{}
			for _, s := range hearAll(r.rate, r.x, 480, Options{LSB: lsb16, ClockPPM: 29, Source: "x"}) {
				at := fmt.Sprintf("strike at %.3f s, revision %d (%s)", r.rate.Seconds(s.Onset), s.Revision, s.Stage)
				before, known := last[s.ID]
				if known && (before.Stage == analysis.Final || before.Stage == analysis.Withdrawn) {
					t.Errorf("%s: told after it was %s", at, before.Stage)
				}
				if s.Revision != before.Revision+1 {
					t.Errorf("%s: wanted revision %d", at, before.Revision+1)
				}
				if known && (s.Onset != before.Onset || s.From != before.From || !s.Time.Equal(before.Time)) {
					t.Errorf("%s: onset, beginning or time moved", at)
				}
				if s.Source != "x" || s.Rate != r.rate || s.ClockPPM != 29 {
					t.Errorf("%s: got source %q, rate %v, clock %v ppm", at, s.Source, s.Rate, s.ClockPPM)
				}
				if s.From < 0 || s.From > s.Onset || s.To < s.Onset || s.To > int64(len(r.x)) {
					t.Errorf("%s: got onset %d in sound %d..%d of %d", at, s.Onset, s.From, s.To, len(r.x))
				}
				if s.Stage == analysis.Withdrawn && s.Heard != nil {
					t.Errorf("%s: withdrawn with a pitch", at)
				}
				if (s.Stage == analysis.Early || s.Stage == analysis.Settled) && s.Heard == nil {
					t.Errorf("%s: no pitch", at)
				}
				if h := s.Heard; h != nil && h.Partial >= len(s.Partials) {
					t.Errorf("%s: rests on partial %d of %d", at, h.Partial, len(s.Partials))
				}
				if h := s.Heard; h != nil && before.Heard != nil && apart(h, before.Heard) > jumpCents {
					if s.Second == nil {
						t.Errorf("%s: jumped from %.1f to %.1f Hz with no second", at, before.Heard.Frequency, h.Frequency)
					}
					if s.Stage == analysis.Settled {
						t.Errorf("%s: settled while jumping from %.1f to %.1f Hz", at, before.Heard.Frequency, h.Frequency)
					}
				}
				last[s.ID] = s
			}
			for id, s := range last {
				if s.Stage != analysis.Final && s.Stage != analysis.Withdrawn {
					t.Errorf("strike %s at %.3f s: last told as %s, wanted final or withdrawn", id, r.rate.Seconds(s.Onset), s.Stage)
				}
			}
		})
	}
}

func TestIDsRise(t *testing.T) {
	newID := ulids()
	before := ""
	for i := range 2000 {
		id := newID(epoch.Add(time.Duration(i/10) * time.Millisecond)) // ten in each millisecond
		if id <= before {
			t.Fatalf("ID %d: got %s after %s, wanted it to sort later", i, id, before)
		}
		before = id
	}
	if id := newID(time.Time{}); len(id) != 26 {
		t.Errorf("a time before 1970: got ID %q, wanted 26 characters", id)
	}
}

func TestIdleStepDoesNotAllocate(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	e := New(48000, Options{Epoch: epoch})
	block := make([]float64, 480)
	start := int64(0)
	step := func() {
		for i := range block {
			block[i] = 1e-3 * rng.NormFloat64()
		}
		e.Step(analysis.Block{Start: start, Samples: block})
		start += int64(len(block))
	}
	for range 200 {
		step()
	}
	e.Room() // what is due is learned here and not in Step
	if n := testing.AllocsPerRun(300, step); n != 0 {
		t.Errorf("3 s of a quiet room: got %v allocations a block of 10 ms, wanted 0", n)
	}
	if r := e.Room(); r.Seconds < 2 {
		t.Errorf("5 s of a quiet room: got a background of %v s, wanted at least 2", r.Seconds)
	}
}

func TestRoomIsTheBackground(t *testing.T) {
	const sigma = 0.01
	rng := rand.New(rand.NewPCG(6, 6))
	x := make([]float64, 48000*6)
	for i := range x {
		x[i] = 0.2 + sigma*rng.NormFloat64() // an offset is no sound
	}
	strike(x, 48000, 3, 0.5, 440, 0.5, rng) // nor is a strike background
	e := New(48000, Options{Epoch: epoch})
	for at := 0; at < len(x); at += 480 {
		e.Step(analysis.Block{Start: int64(at), Samples: x[at : at+480]})
	}
	r := e.Room()
	if r.Seconds < 2 || r.Rate != 48000 {
		t.Fatalf("6 s with a strike in it: got %v s of background at rate %v", r.Seconds, r.Rate)
	}
	// Averages over 46 half-overlapping segments a second: 10 % a bin after
	// three seconds, and the mean over all bins to 1 %.
	for k, v := range r.PSD[2 : len(r.PSD)-1] {
		if v < 0.4*sigma*sigma || v > 1.8*sigma*sigma {
			t.Errorf("bin %d: got %v, wanted about %v", k+2, v, sigma*sigma)
		}
	}
	if m := mean(r.PSD[2:]); math.Abs(m/(sigma*sigma)-1) > 0.05 {
		t.Errorf("mean of the bins: got %v, wanted %v within 5 %%", m, sigma*sigma)
	}
	r.PSD[5] = 99
	if e.Room().PSD[5] == 99 {
		t.Error("Room: gave out its own memory")
	}
}

// TestWelchAgreesWithTheSum pins the library's Welch against the method written
// out: P. D. Welch, IEEE Trans. Audio Electroacoust. 15 (1967) 70.
func TestWelchAgreesWithTheSum(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	const n = 64
	x := make([]float64, 1000)
	for i := range x {
		x[i] = rng.NormFloat64() + math.Sin(0.7*float64(i))
	}
	m := mean(x)
	want := make([]float64, n/2+1)
	segments := 0
	for at := 0; at+n <= len(x); at += n / 2 {
		segments++
		for k := range want {
			re, im, energy := 0.0, 0.0, 0.0
			for i := range n {
				w := 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(n-1)) // the library's Hann is symmetric
				s, c := math.Sincos(2 * math.Pi * float64(k*i) / n)
				re += w * (x[at+i] - m) * c
				im += w * (x[at+i] - m) * s
				energy += w * w
			}
			want[k] += (re*re + im*im) / energy
		}
	}
	got := welch(x, n)
	for k := range want {
		want[k] /= float64(segments)
		if math.Abs(got[k]-want[k]) > 1e-9*want[k] {
			t.Errorf("bin %d: got %v, wanted %v", k, got[k], want[k])
		}
	}
}

func TestMutedEar(t *testing.T) {
	x := bars(48000, 4, 0.5, 1.5, 2.5, 3.3)
	e := New(48000, Options{Epoch: epoch})
	var all []analysis.Strike
	for at := 0; at < len(x); at += 480 {
		switch at {
		case 1.4 * 48000:
			e.Mute(true) // in the ring of the first, before the second
		case 2.0 * 48000:
			e.Mute(false) // in the ring of the second
		}
		all = append(all, e.Step(analysis.Block{Start: int64(at), Samples: x[at : at+480]})...)
	}
	all = append(all, e.Flush()...)
	var got []float64
	for _, s := range lastOnes(all) {
		got = append(got, math.Round(100*s.Rate.Seconds(s.Onset))/100)
	}
	if want := []float64{0.5, 2.5, 3.3}; !reflect.DeepEqual(got, want) {
		t.Errorf("strikes at 0.5, 1.5, 2.5 and 3.3 s, muted from 1.4 to 2.0 s: got strikes at %v s, wanted %v", got, want)
	}
}

func TestLostSoundEndsAStrike(t *testing.T) {
	x := bars(48000, 3, 0.5, 1.5)
	e := New(48000, Options{Epoch: epoch})
	var all []analysis.Strike
	const gapAt, gap = 31200, 4800 // 0.15 s after the first strike, 0.1 s long
	for at := 0; at < len(x); at += 480 {
		b := analysis.Block{Start: int64(at), Samples: x[at : at+480]}
		if at >= gapAt {
			b.Start += gap
		}
		if at == gapAt {
			b.Lost = gap
		}
		all = append(all, e.Step(b)...)
	}
	all = append(all, e.Flush()...)
	last := lastOnes(all)
	if len(last) != 2 {
		t.Fatalf("two strikes, sound lost in the first: got %d strikes", len(last))
	}
	first, second := last[0], last[1]
	if first.To != gapAt || first.Heard == nil || len(first.Remarks) == 0 || first.Remarks[len(first.Remarks)-1].Code != analysis.RemarkLost {
		t.Errorf("first: got sound to %d, heard %v, remarks %v; wanted sound to %d, a pitch, remark %q", first.To, first.Heard, first.Remarks, gapAt, analysis.RemarkLost)
	}
	if want := int64(1.5*48000 + gap); math.Abs(float64(second.Onset-want)) > 144 {
		t.Errorf("second: got onset %d, wanted %d within 3 ms, the lost samples counted", second.Onset, want)
	}
}

// FuzzEar: whatever comes, in whatever blocks, the ear neither panics nor says
// anything that is not a number.
func FuzzEar(f *testing.F) {
	f.Add([]byte{0, 1, 2, 3, 255, 254, 253, 128, 127}, uint16(7), uint8(0))
	f.Add([]byte("struck at the rim and held"), uint16(64), uint8(1))
	f.Add([]byte{200, 200, 200, 0, 0, 0, 17, 33}, uint16(1), uint8(2))
	f.Add([]byte{127, 129, 0, 64}, uint16(4096), uint8(3))
	f.Fuzz(func(t *testing.T, seed []byte, block uint16, kind uint8) {
		rate := []analysis.Rate{48000, 8000, 44100, 192000}[kind%4]
		x := wild(seed, int(float64(rate)*0.7))
		e := New(rate, Options{Epoch: epoch, Source: "fuzz"})
		start, n := int64(len(seed)), 1+int(block)%8192
		check := func(told []analysis.Strike) {
			for _, s := range told {
				sound(t, s)
			}
		}
		for at, k := 0, 0; at < len(x); k++ {
			end := min(at+n, len(x))
			b := analysis.Block{Start: start, Samples: x[at:end]}
			if k%97 == 96 {
				b.Lost = int64(kind)
				b.Start += b.Lost
			}
			if k%31 == 30 {
				e.Mute(k%2 == 0)
			}
			check(e.Step(b))
			start = b.Start + int64(len(b.Samples))
			at = end
		}
		check(e.Flush())
		for _, v := range e.Room().PSD {
			if math.IsNaN(v) || v < 0 {
				t.Fatalf("room: got power %v", v)
			}
		}
	})
}

// wild makes samples from bytes: runs of noise, tones, steps, silence, and
// numbers no converter gives.
func wild(seed []byte, n int) []float64 {
	x := make([]float64, 0, n)
	if len(seed) == 0 {
		return make([]float64, n)
	}
	rng := rand.New(rand.NewPCG(uint64(seed[0]), uint64(len(seed))))
	for i := 0; len(x) < n; i++ {
		b := seed[i%len(seed)]
		run := 1 + int(b)*37
		a := math.Pow(10, float64(int(b>>3))/5-6)
		for k := 0; k < run && len(x) < n; k++ {
			var v float64
			switch b % 8 {
			case 0:
				v = 0
			case 1:
				v = a * rng.NormFloat64()
			case 2, 3:
				v = a * math.Exp(-float64(k)/1000) * math.Sin(float64(k)*float64(b)/300)
			case 4:
				v = math.Copysign(a, math.Sin(float64(k)))
			case 5:
				v = a
			case 6:
				v = []float64{math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, math.SmallestNonzeroFloat64}[k%5]
			case 7:
				v = a * math.Sin(float64(k)*0.1) * float64(k) / float64(run)
			}
			x = append(x, v)
		}
	}
	return x
}

// sound fails if anything in a telling is not a finite number in range.
func sound(t *testing.T, s analysis.Strike) {
	t.Helper()
	finite := func(what string, v, least float64) {
		if math.IsNaN(v) || math.IsInf(v, 0) || v < least {
			t.Fatalf("%s: got %v, wanted a number of at least %v; strike %+v", what, v, least, s)
		}
	}
	finite("peak", s.Peak, 0)
	finite("sound used", s.Used, 0)
	for _, p := range []*analysis.Pitch{s.Heard, s.Second} {
		if p == nil {
			continue
		}
		finite("pitch", float64(p.Frequency), 1)
		finite("its sigma", float64(p.Sigma), 0)
		finite("its likelihood", p.Likelihood, 0)
	}
	for _, p := range s.Partials {
		finite("partial", float64(p.Frequency), 1)
		finite("its sigma", float64(p.Sigma), 0)
		finite("its level", p.Level, -1000)
		finite("its T60", p.T60, 0)
		finite("sigma of its T60", p.SigmaT60, 0)
		finite("sigma of its level", p.SigmaLevel, 0)
		finite("its beat", p.Beat, 0)
		finite("sigma of its beat", p.SigmaBeat, 0)
		for i := range p.Cov {
			for k := range p.Cov[i] {
				finite("covariance", p.Cov[i][k], -math.MaxFloat64)
				finite("cross covariance", p.Cross[i][k], -math.MaxFloat64)
			}
		}
	}
}

func BenchmarkIdleStep(b *testing.B) {
	rng := rand.New(rand.NewPCG(5, 5))
	e := New(48000, Options{Epoch: epoch})
	noise := make([]float64, 480*128)
	for i := range noise {
		noise[i] = 1e-3 * rng.NormFloat64()
	}
	start := int64(0)
	b.ReportAllocs()
	for b.Loop() {
		k := int(start/480) % 128
		e.Step(analysis.Block{Start: start, Samples: noise[480*k : 480*(k+1)]})
		start += 480
		if start%48000 == 0 {
			b.StopTimer()
			e.Room() // Attend asks once a second
			b.StartTimer()
		}
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/0.010*100, "%core")
}

func BenchmarkFourStrikesASecond(b *testing.B) {
	const seconds = 10
	x := manyStrikes(48000, seconds, 4, 20)
	b.ReportAllocs()
	strikes := 0
	for b.Loop() {
		strikes = len(lastOnes(hearAll(48000, x, 480, Options{Epoch: epoch})))
	}
	b.ReportMetric(seconds*float64(b.N)/b.Elapsed().Seconds(), "x_real_time")
	b.ReportMetric(float64(strikes), "strikes")
}

// manyStrikes is sound with so many strikes a second on things of so many
// partials each, at 40 dB over white noise.
func manyStrikes(rate analysis.Rate, seconds, each, partials int) []float64 {
	rng := rand.New(rand.NewPCG(8, 8))
	x := make([]float64, int(rate)*seconds)
	for i := range x {
		x[i] = 1e-3 * rng.NormFloat64()
	}
	for k := 1; k < seconds*each; k++ {
		at := (float64(k) + 0.1*rng.Float64()) / float64(each)
		f := 200 * math.Pow(8, rng.Float64())
		for p := range partials {
			g := f * math.Pow(1+float64(p), 0.9+0.3*rng.Float64())
			if g > 16000 {
				continue
			}
			a, d, phase := 0.1*math.Pow(0.85, float64(p)), analysis.LnThousand/(0.2+0.8*rng.Float64()), 2*math.Pi*rng.Float64()
			first := int(at * float64(rate))
			for i := first; i < min(len(x), first+int(rate)); i++ {
				t := float64(i)/float64(rate) - at
				x[i] += a * math.Exp(-d*t) * math.Sin(2*math.Pi*g*t+phase)
			}
		}
	}
	return x
}

// TestRates: the rates of telephones, discs and studios, and an input whose
// silence does not read 0.
func TestRates(t *testing.T) {
	for _, rate := range []analysis.Rate{8000, 22050, 44100, 96000, 192000} {
		for _, offset := range []float64{0, 0.05} {
			x := bars(rate, 2, 0.5, 1.1)
			for i := range x {
				x[i] += offset
			}
			got := lastOnes(hearAll(rate, x, 1000, Options{LSB: 1.0 / (1 << 23)}))
			if len(got) != 2 {
				t.Errorf("%v samples a second, offset %v: got %d strikes, wanted 2", rate, offset, len(got))
				continue
			}
			for i, at := range []float64{0.5, 1.1} {
				s := got[i]
				if s.Heard == nil || math.Abs(float64(s.Heard.Frequency.Above(440))) > 1 || math.Abs(rate.Seconds(s.Onset)-at) > 0.003 {
					t.Errorf("%v samples a second, offset %v: got %v heard at %.4f s, wanted 440 Hz within a cent at %v s within 3 ms", rate, offset, s.Heard, rate.Seconds(s.Onset), at)
				}
			}
		}
	}
}
