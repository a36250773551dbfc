package webview_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"ringwell/analysis"
	"ringwell/analysis/listen"
	"ringwell/analysis/trial"
	"ringwell/webview"
)

// strikeSounds has a whole ear hear a sound and tells the daemon every telling,
// under an id of its own a sound.
func (d *daemon) strikeSounds(sound []float64, n int) {
	const rate, block = 48000, 4800
	ids := 0
	ear := listen.New(rate, listen.Options{Source: "hall pair", Epoch: time.Date(2030, 5, 4, 9, n, 0, 0, time.UTC), NewID: func(time.Time) string {
		ids++
		return fmt.Sprintf("01BENCH%04d%04d", n, ids)
	}})
	tell := func(all []analysis.Strike) {
		for _, s := range all {
			d.Hear(s)
		}
	}
	for at := 0; at < len(sound); at += block {
		tell(ear.Step(analysis.Block{Start: int64(at), Samples: sound[at:min(at+block, len(sound))]}))
	}
	tell(ear.Flush())
}

// at the bench, the page is asked and told as a player would.
func (p *page) benchOpens() {
	p.t.Helper()
	p.key("3")
	p.until("Bench is open", `location.hash === "#bench" && document.querySelector("nav [aria-current=page]").hash === "#bench" && document.querySelector("#bench h2")`)
}

// fill types into the field of a name within a selector.
func (p *page) fill(within, name, value string) {
	p.t.Helper()
	p.until(within+" has "+name, fmt.Sprintf(`document.querySelector(%q)`, within+" [name="+name+"]"))
	p.js(fmt.Sprintf(`(() => { const f = document.querySelector(%q); f.value = %q; f.dispatchEvent(new Event("input", { bubbles: true })); f.dispatchEvent(new Event("change", { bubbles: true })); })()`, within+" [name="+name+"]", value))
}

// benched waits until the daemon's bench is so.
func (p *page) benched(what string, ok func(webview.Bench) bool) webview.Bench {
	p.t.Helper()
	return turns(p, what, p.d.Bench, ok)
}

var asked = regexp.MustCompile(`^(Add|Take out) ([\d.]+) ml`)

// noteOf spells a frequency as a note of equal temperament and a bend in whole
// cents.
func noteOf(hz float64) string {
	at := 69 + 12*math.Log2(hz/440)
	midi := int(math.Round(at))
	names := []string{"C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B"}
	return fmt.Sprintf("%s%d %+.0f", names[midi%12], midi/12-1, 100*(at-float64(midi)))
}

// A jar is walked from empty to its note: its sounds are those of another model
// than the one that is fitted (water by potential flow or by strips, near pairs
// of modes, a beater's noise), heard by the whole ear; what the page says is
// poured, as truly as a kitchen scale lets it.
func TestBrowserBenchJar(t *testing.T) {
	ctx := browser(t)
	r := rand.New(rand.NewPCG(11, 3))
	v := trial.Glass(r)
	for v.Sounds(0) > 2500 || v.Sounds(0) < 300 {
		v = trial.Glass(r)
	}
	sounds := r.Uint64()
	target := v.Sounds(0.72 * v.Capacity)
	aim := noteOf(target) + " +-5"
	d := newDaemon(t, "127.0.0.1:0")
	p := open(t, ctx, d, 1280, 800, "hall")
	p.benchOpens()
	p.says("What shall it become?")
	p.picture("bench-empty")
	p.fill("#bench", "vessel", "blue jar")
	p.fill("#bench", "holds", fmt.Sprintf("%.1f", v.Capacity))
	p.fill("#bench", "aim", "no note at all")
	p.press("#bench", "Begin")
	p.until("a refusal in words, and nothing typed is lost", `document.querySelector("#bench .fault") && document.querySelector("#bench [name=vessel]").value === "blue jar"`)
	p.fill("#bench", "aim", aim)
	p.press("#bench", "Begin")
	p.says("Strike it as it is")
	p.under("Struck is meant: water lowers it.")

	in, strikes := 0.0, 0
	strike := func() {
		strikes++
		d.strikeSounds(trial.StrikeSound(rand.New(rand.NewPCG(sounds, 1)), v, in/v.Capacity), strikes)
		p.benched("the strike counts", func(b webview.Bench) bool { return len(b.Advice.Sounds) == strikes && b.Pending == 0 })
		p.until("the page has it", fmt.Sprintf(`document.querySelectorAll("#bench .book tbody")[0]?.rows.length === %d`, strikes))
	}
	pour := func(ml float64) {
		word := "Poured in"
		if ml < 0 {
			word = "Taken out"
		}
		p.key("p")
		p.until("P has the field", `document.activeElement.id === "poured"`)
		p.fill("#bench", "amount", fmt.Sprintf("%.1f", math.Abs(ml)))
		p.press("#bench", word)
		bound := max(0.5, 0.03*math.Abs(ml))
		in = max(0, in+ml+bound*(2*r.Float64()-1))
		p.says("Strike it now")
		p.js(`document.activeElement.blur()`)
	}
	strike()
	overshot := false
	for range 9 {
		p.picture(fmt.Sprintf("bench-jar-%d", strikes))
		said := p.text("#answer")
		t.Logf("%.1f ml in it: %s | %s", in, said, p.text("#sub"))
		if strings.HasPrefix(said, "There: ") {
			break
		}
		m := asked.FindStringSubmatch(said)
		if m == nil {
			strike() // "Strike it again"
			continue
		}
		ml, _ := strconv.ParseFloat(m[2], 64)
		switch {
		case m[1] == "Take out":
			pour(-ml)
		case strikes == 2:
			before := in
			pour(ml + 4) // a wrong entry: taken back and typed anew
			p.key("u")
			p.benched("U takes the pour back", func(b webview.Bench) bool { return b.Pending == 0 })
			in = before
			pour(ml + 25) // and too much of it, as happens
			overshot = true
		default:
			pour(ml)
		}
		strike()
		if overshot && strings.HasPrefix(p.text("#answer"), "Take out") {
			p.under("Too much went in: that is usual.")
			overshot = false
		}
	}
	// The rim's near pair is heard a little above the lower of the two: by as much at any fill.
	pair := float64(d.Bench().Advice.Sounds[0].Heard) / v.Sounds(0)
	if off := 1200 * math.Log2(v.Sounds(in)*pair/target); !strings.HasPrefix(p.text("#answer"), "There: ") || math.Abs(off) > 6 {
		t.Errorf("after %d strikes the page says %q and the jar truly lies %.1f c from %s, wanted there within 5 c and half a cent of rounding", strikes, p.text("#answer"), off, aim)
	}
	p.picture("bench-there")
	p.until("every partial's landing", `document.querySelectorAll("#bench .book")[1]?.querySelectorAll("tbody tr").length >= 2`)
	p.js(`scrollTo(0, 600)`)
	p.picture("bench-there-tables")
	p.js(`scrollTo(0, 0)`)
	p.key("f")
	p.until("far", `document.querySelector("#answer").getBoundingClientRect().height > innerHeight * 0.8`)
	p.picture("bench-far")
	p.key("f")

	// Somebody blows it instead: it is asked, not taken.
	d.strikeSounds(trial.BreathSound(rand.New(rand.NewPCG(5, 5)), trial.Bottle(rand.New(rand.NewPCG(5, 6))), .3), strikes+1)
	p.says("Was it blown?")
	p.under("That sounds blown, and struck is meant")
	p.picture("bench-asks")
	p.press("#bench", "It was blown: leave it out")
	p.benched("left out", func(b webview.Bench) bool { return b.Asks == nil && len(b.Advice.Sounds) == strikes })
	p.press("#bench", "Put away")
	p.says("What shall it become?")
	p.faultless()
}

// An aim out of reach is refused in words, with where full lies.
func TestBrowserBenchRefusals(t *testing.T) {
	ctx := browser(t)
	d := newDaemon(t, "127.0.0.1:0")
	p := open(t, ctx, d, 1280, 800, "shop")
	p.benchOpens()
	jar := func(fill float64) string { return fmt.Sprintf("%.2f", 930/math.Sqrt(1+math.Pow(fill/300, 4))) }
	begin := func(aim string) {
		p.fill("#bench", "holds", "300")
		p.fill("#bench", "aim", aim)
		p.press("#bench", "Begin")
	}
	begin("C#6")
	p.says("Strike it as it is")
	p.fill("#bench", "hz", jar(0))
	p.press("#bench", "Enter")
	p.says("Out of reach")
	p.under("Water only lowers what is struck, and empty it lies")
	p.fill("#bench .work", "aim", "A3")
	p.press("#bench", "Change")
	p.until("another aim", `document.querySelector("#bench h2").textContent.includes("A3")`)
	for _, ml := range []float64{150, 150} {
		p.fill("#bench", "amount", fmt.Sprint(ml))
		p.press("#bench", "Poured in")
		p.says("Strike it now")
		b := d.Bench()
		p.fill("#bench", "hz", jar(b.Advice.Fill))
		p.press("#bench", "Enter")
		p.benched("entered", func(b webview.Bench) bool { return b.Pending == 0 })
	}
	p.says("Out of reach")
	p.under("Full is ")
	p.picture("bench-refusal")
	p.faultless()
}

// A bowl through a day: the thermometer posts, the bowl is struck as it warms,
// its sound synthesised at the pitch of its temperature and heard by the whole
// ear; the page says how it drifts and what to do for the stage.
func TestBrowserBenchDay(t *testing.T) {
	ctx := browser(t)
	d := newDaemon(t, "127.0.0.1:0")
	p := open(t, ctx, d, 1280, 800, "shop")
	p.benchOpens()
	p.key("d")
	p.says("How does it drift?")
	p.picture("drift-empty")
	p.press("#bench", "Note it") // nothing is named: the browser asks for it, and nothing is sent
	p.fill("#bench", "voice", "enamel bowl")
	p.press("#bench", "Note it")
	p.until("it is told what is missing", `document.querySelector("#bench .fault")?.textContent.startsWith("Strike it first")`)

	const slope = -3.0 // cents a degree
	post := func(celsius float64) {
		t.Helper()
		if got := ask[int](p, fmt.Sprintf(`fetch("/api/token").then((r) => r.json()).then((t) => fetch("/api/temperature", { method: "POST", headers: { "Content-Type": "application/json", "X-Ringwell-Token": t.token }, body: JSON.stringify({ celsius: %g }) })).then((r) => r.status)`, celsius)); got != 200 {
			t.Fatalf("the thermometer: got %d", got)
		}
	}
	noted := func(n int) {
		t.Helper()
		p.until(fmt.Sprintf("%d readings", n), fmt.Sprintf(`document.querySelectorAll("svg.drift circle").length === %d`, n))
	}
	for i, celsius := range []float64{15, 16.5, 18, 19, 20.5, 22, 23, 24} {
		post(celsius)
		bowl := trial.Vessel{Kind: "bowl", Capacity: 1, Sounds: func(float64) float64 { return 620 * math.Exp2(slope*(celsius-20)/1200) }}
		d.strikeSounds(trial.StrikeSound(rand.New(rand.NewPCG(7, 7)), bowl, 0), 1+45*i)
		if i == 0 {
			p.until("the strike is on the page", `document.querySelector("#numbers tbody tr") && document.querySelector("#bench [name=voice]").value === "enamel bowl"`)
			p.press("#bench", "Note it")
			noted(1)
			p.says("enamel bowl: no line yet")
			p.press("#bench", "Note its strikes")
			p.until("its strikes are noted", `[...document.querySelectorAll("#bench .choose button")].some((b) => b.textContent.startsWith("Note its strikes") && b.getAttribute("aria-pressed") === "true")`)
			continue
		}
		noted(i + 1)
	}
	p.until("the drift in words", `/^enamel bowl, (2\.9|3\.0|3\.1|3)\d? c lower a degree ±0?\.?\d/.test(document.querySelector("#answer").textContent.replace(/\s+/g, " ").trim())`)
	t.Log(p.text("#answer"), "|", p.text("#sub"))
	p.picture("drift-line")
	p.js(`document.activeElement.blur()`)
	p.key("u")
	noted(7)

	// On stage at 29 degrees; the vibraphone falls as well: -3·5 c against -0.449·5 c.
	p.fill("#bench", "there", "29")
	p.fill("#bench", "within", "10")
	p.press("#bench", "Forecast")
	p.says("It leaves ±10 c at 29 °C")
	p.until("by how much to bend now", `/^enamel bowl: bend it 1[23] c higher now\./.test(document.querySelector("#sub").textContent.replace(/\u00a0/g, " "))`)
	p.until("the table says so", `/1[23] c high/.test(document.querySelector("#bench .book tbody td:last-child").textContent)`)
	p.picture("drift-stage")
	p.fill("#bench", "within", "30")
	p.press("#bench", "Forecast")
	p.says("It stays within ±30 c at 29 °C")
	p.faultless()
}

// A row of bottles is placed, followed and ticked off.
func TestBrowserBenchRow(t *testing.T) {
	ctx := browser(t)
	d := newDaemon(t, "127.0.0.1:0")
	p := open(t, ctx, d, 1280, 800, "hall")
	p.benchOpens()
	p.key("r")
	p.says("Which vessel for which note?")
	p.js(`document.querySelector("#bench [value=blown]").click()`)
	p.fill("#bench", "vessels", "cider 500: 0=146")
	p.fill("#bench", "aims", "D3\n")
	p.press("#bench", "Place them")
	p.until("the line that cannot be read", `document.querySelector("#bench .fault")?.textContent.startsWith("Line 1 ")`)
	p.fill("#bench", "vessels", "cider, 750: 0=110.2, 250=131.5\nmilk, 500: 0=146, 150=172.5\nmilk two, 500: 0=147")
	p.fill("#bench", "aims", "D3\nA2 +10\nC2\n")
	p.press("#bench", "Place them")
	p.until("the table", `document.querySelectorAll("#bench .paper tbody tr").length >= 1`)
	p.until("what nothing reaches", `/No vessel reaches C2/.test(document.querySelector("#bench .paper").textContent)`)
	t.Log(p.text("#answer"), "|", p.text("#sub"), "|", p.text("#bench .paper"))
	p.js(`document.querySelector("#bench .paper").scrollIntoView()`)
	p.picture("row-placed")
	p.press("#bench .paper", "Done")
	p.until("one is done", `/^1 of \d done\./.test(document.querySelector("#bench .paper h2").textContent)`)
	p.press("#bench .paper", "Follow me")
	p.benched("the first is followed, with what was heard of it", func(b webview.Bench) bool { return b.Job != nil && b.Job.Way == "blown" && len(b.Advice.Sounds) >= 1 })
	p.until("on the tab of water", `document.querySelector("#bench .pour")`)
	p.faultless()
}

// axe finds nothing, all fits the width of a phone, and what is to be touched
// can be.
func TestBrowserBenchLooks(t *testing.T) {
	inEveryLook(t, func(t *testing.T, d *daemon, p *page, named string) {
		p.benchOpens()
		p.until("the form", `document.querySelector("#bench [name=holds]")`)
		p.picture("bench-form-" + named)
		p.fits("beginning")
		p.fill("#bench", "holds", "300")
		p.fill("#bench", "aim", "F#5 +30")
		p.fill("#bench", "vessel", `<b>"blue" jar</b>`)
		p.js(`document.querySelector("#bench [value=eye]").click()`)
		p.js(`document.querySelector("#bench form button[type=submit]").click()`)
		p.benched("begun", func(b webview.Bench) bool { return b.Job != nil && b.Job.Pour == "eye" })
		enter := func(hz float64) {
			n := 0
			if a := d.Bench().Advice; a != nil {
				n = len(a.Sounds)
			}
			p.fill("#bench .fields.work", "hz", fmt.Sprintf("%.1f", hz))
			p.js(`document.querySelector("#bench .fields.work form button").click()`)
			p.benched("entered", func(b webview.Bench) bool { return len(b.Advice.Sounds) == n+1 })
		}
		enter(931.2)
		p.until("an amount", `/\d/.test(document.querySelector("#answer").textContent)`)
		p.picture("bench-" + named)
		p.fits("one sound")
		p.fill("#bench", "amount", "200")
		p.js(`document.querySelector("#bench .pour [value=in]").click()`)
		p.benched("poured", func(b webview.Bench) bool { return b.Pending == 200 })
		enter(878.6)
		p.js(`scrollTo(0, 400)`)
		p.until("two sounds", `document.querySelectorAll("#bench .book tbody tr").length >= 2`)
		p.picture("bench-two-" + named)
		p.js(`scrollTo(0, 0)`)
		p.fits("two sounds")
		p.key("r")
		p.until("the row", `document.querySelector("#bench [name=vessels]")`)
		p.fill("#bench", "vessels", "milk, 500: 0=146, 150=172.5\nsecond, 500: 0=147")
		p.fill("#bench", "aims", "D3\nC2")
		p.js(`document.querySelector("#bench .typing [type=submit]").click()`)
		p.until("a table", `document.querySelector("#bench .paper tbody")`)
		p.js(`document.querySelector("#bench .paper").scrollIntoView()`)
		p.picture("row-" + named)
		p.js(`scrollTo(0, 0)`)
		p.fits("row")
		p.key("d")
		for i, c := range []float64{15, 18, 21, 24, 26} {
			p.fill("#bench", "voice", `<b>bowl</b>`)
			p.fill("#bench", "celsius", fmt.Sprint(c))
			p.fill("#bench", "hz", fmt.Sprintf("%.2f", 440*math.Exp2((-2*c+float64(i%2))/1200)))
			p.js(`document.querySelector("#bench form.work [type=submit]").click()`)
			p.until("noted", fmt.Sprintf(`document.querySelectorAll("svg.drift circle").length === %d`, i+1))
		}
		p.fill("#bench", "there", "29")
		p.js(`document.querySelectorAll("#bench form.work [type=submit]")[1].click()`)
		p.until("a forecast", `/29/.test(document.querySelector("#answer").textContent)`)
		p.picture("drift-" + named)
		p.js(`scrollTo(0, 500)`)
		p.picture("drift-b-" + named)
		p.js(`scrollTo(0, 0)`)
		p.fits("drift")
		p.shows(map[string]int{"#bench b": 0})
		p.faultless()
	})
}
