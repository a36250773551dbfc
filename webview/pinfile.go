package webview

import (
	"ringwell/analysis"
	"ringwell/analysis/hearing"
)

// savedPin is a pin as it is kept beside the session.
type savedPin struct {
	Strike    string        `json:"strike"`
	Frequency float64       `json:"frequency_hz"`
	Beside    []savedBeside `json:"beside"`
}

type savedBeside struct {
	Ratio float64 `json:"ratio"`
	Level float64 `json:"level_db"`
}

func savePins(pins []pin) []savedPin {
	out := []savedPin{}
	for _, p := range pins {
		to := savedPin{p.strike, float64(p.Frequency), []savedBeside{}}
		for _, b := range p.Beside {
			to.Beside = append(to.Beside, savedBeside{b.Ratio, b.Level})
		}
		out = append(out, to)
	}
	return out
}

// loadPins takes what can be a pin and leaves out the rest.
func loadPins(saved []savedPin) (pins []pin) {
	for _, s := range saved {
		if !sounds(analysis.Hz(s.Frequency)) {
			continue
		}
		p := pin{s.Strike, hearing.Pin{Frequency: analysis.Hz(s.Frequency)}}
		for _, b := range s.Beside {
			if b.Ratio > 0 && b.Level <= 0 {
				p.Beside = append(p.Beside, hearing.Beside{Ratio: b.Ratio, Level: b.Level})
			}
		}
		pins = append(pins, p)
	}
	return pins[max(0, len(pins)-pinsKept):]
}
