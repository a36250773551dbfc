package listen

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"ringwell/analysis"
)

// modeTable is one object of a table that others published.
type modeTable struct {
	name   string
	modes  []float64 // ratios to the first, or Hz
	lowest bool      // its lowest mode is what is heard
	t60    float64   // seconds, of the first mode; the tables have none that is usable
}

// TestModeTables strikes objects whose modes others measured or computed, and
// wants every mode back: tables that Debian packages carry, read where they are
// installed, because their licences keep them out of this repository.
//
//   - csound-doc: The Canonical Csound Reference Manual, Appendix E, Modal
//     Frequency Ratios, compiled by J. Bower (GNU FDL).
//   - faust-common: bells computed by finite elements (physmodels.lib, which
//     names Rossing & Perrin, Vibrations of Bells, Applied Acoustics 20, 1987),
//     and bars, glass and bowl of the Synthesis Toolkit (faust-stk).
//
// Levels, ring times and backgrounds are of our own making. The sound is made
// here, sine by sine, with nothing of the ear's. Which pitch is heard is held
// only where the lowest mode is (bars, glasses, bowls: Rossing, Science of
// Percussion Instruments, from memory, unchecked); of an untuned bell, a plate
// or a lid nobody published an answer.
func TestModeTables(t *testing.T) {
	const (
		manual = "/usr/share/doc/csound-doc/html/MiscModalFreq.html"
		faust  = "/usr/share/faust/"
		stk    = faust + "examples/physicalModeling/faust-stk/"
	)
	for _, source := range []struct {
		pack, path string
		parse      func(text string) ([]modeTable, error)
		least      int // objects it must give, so that a file in another form is noticed
	}{
		{"csound-doc", manual, appendixE, 15},
		{"faust-common", faust + "physmodels.lib", feBells, 6},
		{"faust-common", stk + "modalBar.h", modalBars, 5},
		{"faust-common", stk + "uniBar.dsp", waveguide("uniform bar"), 1},
		{"faust-common", stk + "tunedBar.dsp", waveguide("tuned bar"), 1},
		{"faust-common", stk + "glassHarmonica.dsp", waveguide("wine glass"), 1},
		{"faust-common", stk + "tibetanBowl.dsp", waveguide("singing bowl"), 1},
	} {
		name := source.pack + source.path[strings.LastIndex(source.path, "/"):]
		t.Run(name, func(t *testing.T) {
			text, err := os.ReadFile(source.path)
			if errors.Is(err, fs.ErrNotExist) {
				t.Skipf("not installed: %s (%s)", source.pack, source.path)
			}
			if err != nil {
				t.Fatal(err)
			}
			tables, err := source.parse(string(text))
			if err != nil || len(tables) < source.least {
				t.Fatalf("%s: got %d objects (%v), wanted %d at least", source.path, len(tables), err, source.least)
			}
			for i, m := range tables {
				t.Run(m.name, func(t *testing.T) { m.strike(t, uint64(i)) })
			}
		})
	}
}

// strike makes the object sound once in a quiet room, has the ear listen, and
// wants the modes back.
func (m modeTable) strike(t *testing.T, seed uint64) {
	const rate = 48000
	rng := rand.New(rand.NewPCG(seed, 0x7ab1e5))
	modes := m.inHz()
	x := make([]float64, 5*rate)
	for i := range x {
		x[i] = 1e-5 * rng.NormFloat64()
	}
	const onset = rate
	for k, f := range modes {
		a := 0.15 * math.Pow(10, -float64(k)/20)
		decay := analysis.LnThousand / (m.t60 / math.Sqrt(f/modes[0]))
		phase := 2 * math.Pi * rng.Float64()
		for i := onset; i < len(x); i++ {
			s := float64(i-onset) / rate
			x[i] += a * math.Exp(-decay*s) * math.Sin(2*math.Pi*f*s+phase)
		}
	}
	struck := lastOnes(hearAll(rate, x, 480, Options{LSB: lsb16}))
	struck = slices.DeleteFunc(struck, func(s analysis.Strike) bool { return s.Stage == analysis.Withdrawn })
	if len(struck) != 1 {
		t.Fatalf("modes %.2f Hz: got %d strikes, wanted 1", modes, len(struck))
	}
	got := struck[0]
	used := make([]bool, len(got.Partials))
	for k, f := range modes {
		best := -1
		for i, p := range got.Partials {
			if !used[i] && (best < 0 || math.Abs(float64(p.Frequency)-f) < math.Abs(float64(got.Partials[best].Frequency)-f)) {
				best = i
			}
		}
		if best < 0 {
			t.Errorf("mode %d of %.2f Hz: no partial is left for it", k+1, f)
			continue
		}
		used[best] = true
		p := got.Partials[best]
		// A tenth of a cent: the finest digit that is ever shown.
		off := p.Frequency.Above(analysis.Hz(f))
		if math.Abs(float64(off)) > max(0.1, 5*float64(p.Sigma)) {
			t.Errorf("mode %d of %.3f Hz: got %.3f Hz ± %.3f cents, which is %+.3f cents off", k+1, f, p.Frequency, p.Sigma, off)
		}
		if k > 0 && p.Sigma < 1 {
			if ratio, want := float64(p.Frequency/got.Partials[0].Frequency), f/modes[0]; math.Abs(ratio/want-1) > 5e-4 {
				t.Errorf("mode %d: got ratio %.4f, the table has %.4f", k+1, ratio, want)
			}
		}
	}
	for i, p := range got.Partials {
		if !used[i] {
			t.Errorf("got a partial of %.2f Hz, %.1f dB: modes are %.2f Hz", p.Frequency, p.Level, modes)
		}
	}
	if m.lowest {
		if got.Heard == nil || math.Abs(float64(got.Heard.Frequency.Above(analysis.Hz(modes[0])))) > 10 { // twin modes lie up to 7 cents from their middle
			t.Errorf("heard: got %+v, wanted the lowest mode, %.2f Hz", got.Heard, modes[0])
		}
	}
}

// inHz returns the modes in Hz, lowest first. Ratios are set on a lowest mode
// of 330 Hz, or lower where the highest would leave what is listened to. Modes
// that nothing tells apart before they are silent (less than one and a half
// beats in the ring) count as one.
func (m modeTable) inHz() []float64 {
	f := slices.Clone(m.modes)
	slices.Sort(f)
	if f[0] < 20 {
		first := min(330, 15000/(f[len(f)-1]/f[0])) / f[0]
		for i := range f {
			f[i] *= first
		}
	}
	apart := f[:1]
	for _, v := range f[1:] {
		if ring := m.t60 / math.Sqrt(v/f[0]); (v-apart[len(apart)-1])*ring >= 1.5 {
			apart = append(apart, v)
		}
	}
	return apart
}

// appendixE reads the manual's table: a name, then a list of ratios, or one in
// Hz first, each between brackets.
func appendixE(text string) ([]modeTable, error) {
	plain := regexp.MustCompile(`<[^>]*>`)
	space := regexp.MustCompile(`\s+`)
	list := regexp.MustCompile(`\[([^\]]*)\]|\[([^\[]*?) ratios`)
	comment := regexp.MustCompile(`/\*.*?\*/`)
	var all []modeTable
	for _, row := range strings.Split(text, "<tr")[1:] {
		cells := strings.Split(row, "<td")
		if len(cells) != 3 {
			continue
		}
		name := strings.TrimSpace(space.ReplaceAllString(plain.ReplaceAllString("<"+cells[1], " "), " "))
		found := list.FindStringSubmatch(comment.ReplaceAllString(plain.ReplaceAllString("<"+cells[2], " "), ""))
		if found == nil {
			continue
		}
		modes, err := numbers(found[1])
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		m := modeTable{name: name, modes: modes, t60: 1.5}
		for _, kind := range []string{"bar", "Xylophone", "Vibraphone", "bowl", "Glass"} {
			m.lowest = m.lowest || strings.Contains(name, kind)
		}
		all = append(all, m)
	}
	return all, nil
}

// feBells reads the first twelve mode frequencies of each bell.
func feBells(text string) ([]modeTable, error) {
	var all []modeTable
	for _, found := range regexp.MustCompile(`(?s)\n(\w+BellModel)\([^)]*\) = .*?modesFreqs\(n\) = ba\.take\(n\+1,\(([^)]*)\)\)`).FindAllStringSubmatch(text, -1) {
		modes, err := numbers(found[2])
		if err != nil {
			return nil, fmt.Errorf("%s: %w", found[1], err)
		}
		if len(modes) < 12 {
			return nil, fmt.Errorf("%s: %d modes, wanted 12 at least", found[1], len(modes))
		}
		all = append(all, modeTable{name: found[1], modes: modes[:12], t60: 4})
	}
	return all, nil
}

// modalBars reads the first row of each preset; what is below zero there is a
// fixed frequency and no mode of the bar. "Beats" is no body and is left out:
// three sines within 4 Hz, whose swelling the ear can take for a second strike.
func modalBars(text string) ([]modeTable, error) {
	var all []modeTable
	for _, found := range regexp.MustCompile(`\{\{([^}]*)\},\s*//\s*(\w+)`).FindAllStringSubmatch(text, -1) {
		if found[2] == "Beats" {
			continue
		}
		modes, err := numbers(found[1])
		if err != nil {
			return nil, fmt.Errorf("%s: %w", found[2], err)
		}
		modes = slices.DeleteFunc(modes, func(v float64) bool { return v < 0 })
		lowest := found[2] == "Marimba" || found[2] == "Vibraphone"
		all = append(all, modeTable{name: found[2], modes: modes, lowest: lowest, t60: 1.5})
	}
	return all, nil
}

// waveguide reads the modes of one instrument, where the last of a glass is
// given no level and is left out.
func waveguide(name string) func(string) ([]modeTable, error) {
	return func(text string) ([]modeTable, error) {
		m := modeTable{name: name, lowest: true, t60: 3}
		silent := map[string]bool{}
		for _, found := range regexp.MustCompile(`basegains\(\d,(\d+)\) = 0`).FindAllStringSubmatch(text, -1) {
			silent[found[1]] = true
		}
		for _, found := range regexp.MustCompile(`(?m)^modes\(\d,(\d+)\) = ([0-9.]+)`).FindAllStringSubmatch(text, -1) {
			v, err := strconv.ParseFloat(found[2], 64)
			if err != nil {
				return nil, err
			}
			if !silent[found[1]] {
				m.modes = append(m.modes, v)
			}
		}
		if len(m.modes) < 4 {
			return nil, fmt.Errorf("%s: %d modes, wanted 4 at least", name, len(m.modes))
		}
		return []modeTable{m}, nil
	}
}

// numbers reads what stands between commas. A mode given as 0 is unknown.
func numbers(list string) ([]float64, error) {
	var all []float64
	for _, field := range strings.Split(list, ",") {
		v, err := strconv.ParseFloat(strings.TrimSpace(field), 64)
		if err != nil {
			return nil, err
		}
		if v != 0 {
			all = append(all, v)
		}
	}
	return all, nil
}
