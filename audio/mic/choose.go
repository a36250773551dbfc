package mic

import (
	"fmt"
	"regexp"
	"strings"
	"time"

	"ringwell/audio"
)

// fault is an error whose text is for a player: what happened and what to do.
type fault struct {
	code string // audio.WordNoInput or audio.WordFault
	text string
}

func (f fault) Error() string { return f.text }

func faultf(format string, args ...any) error {
	return fault{audio.WordFault, fmt.Sprintf(format, args...)}
}

var errNoInput = fault{audio.WordNoInput, "no microphone found"}

// cardAddress is what PortAudio adds to the names of ALSA cards. The numbers
// change when a card is plugged in again, the name before them does not.
var cardAddress = regexp.MustCompile(` \(hw:\d+,\d+\)$`)

// pick returns the index of the input that want names: by its whole name, by
// its name without the card's address, or by a part of it, in this order and in
// any case. "" is the default input.
func pick(inputs []audio.Input, want string) (int, error) {
	if len(inputs) == 0 {
		return 0, errNoInput
	}
	if want == "" {
		return preferred(inputs, func(audio.Input) bool { return true }), nil
	}
	want = strings.ToLower(want)
	bare := cardAddress.ReplaceAllString(want, "")
	for _, fits := range []func(name string) bool{
		func(name string) bool { return name == want },
		func(name string) bool { return cardAddress.ReplaceAllString(name, "") == bare },
		func(name string) bool { return strings.Contains(name, want) },
	} {
		names := map[string]bool{}
		named := func(in audio.Input) bool { return fits(strings.ToLower(in.Name)) }
		for _, in := range inputs {
			if named(in) {
				names[in.Name] = true
			}
		}
		switch len(names) {
		case 0:
		case 1: // one name may stand in several host APIs
			return preferred(inputs, named), nil
		default:
			return 0, faultf("%q fits more than one input: %s; give more of the name", want, list(inputs, named))
		}
	}
	return 0, faultf("there is no input called %q; there is %s", want, list(inputs, func(audio.Input) bool { return true }))
}

// preferred returns the default input if it is ok, else the first that is.
func preferred(inputs []audio.Input, ok func(audio.Input) bool) int {
	first := -1
	for i, in := range inputs {
		if ok(in) && in.Default {
			return i
		}
		if ok(in) && first < 0 {
			first = i
		}
	}
	return first
}

func list(inputs []audio.Input, ok func(audio.Input) bool) string {
	var names []string
	for _, in := range inputs {
		if ok(in) {
			names = append(names, fmt.Sprintf("%q", in.Name))
		}
	}
	return strings.Join(names, ", ")
}

// rates returns the rates to try, best first. 48 kHz comes before the device's
// own default because that default is only what ALSA finds nearest to 44.1 kHz.
func rates(asked, preferred float64) []float64 {
	if asked != 0 {
		return []float64{asked}
	}
	all := []float64{48000}
	for _, r := range []float64{preferred, 44100} {
		if r >= 8000 && r != all[len(all)-1] && r != all[0] {
			all = append(all, r)
		}
	}
	return all
}

// buffering returns the latency to ask a host for.
//
// The buffer it makes is all that stands between a busy computer and lost
// sound, unless a sound server keeps a queue of its own. Behind PulseAudio
// 20 ms lose nothing and give an even beat of one callback every 10 ms, so
// that sound reaches the ear soonest. A card that is opened by itself gets
// 100 ms: callbacks were seen 46 to 49 ms late on two busy cores, and a strike
// is heard over longer than that anyway. Servers are told by their ALSA plugin
// taking more channels than any card they may stand for: 32 or more.
func buffering(in audio.Input) time.Duration {
	if in.Host == "ALSA" && in.Channels >= 32 && !cardAddress.MatchString(in.Name) {
		return 20 * time.Millisecond
	}
	return 100 * time.Millisecond
}

// watch returns how old the newest callback may be before the device counts as
// stopped. On two cores with ten programs wanting them, callbacks came 0.2 s
// late again and again and once in fifty openings over 0.5 s, behind a sound
// server that lost nothing meanwhile: a second is patience enough.
func watch(latency time.Duration) time.Duration {
	return max(time.Second, 10*latency)
}
