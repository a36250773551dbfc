package webview

import (
	"math"

	"ringwell/analysis/listen"
)

// Level is what came in during the last tenth of a second.
type Level struct {
	Peak    float64 `json:"peak"` // largest |sample|, full scale 1
	RMS     float64 `json:"rms"`
	Clipped bool    `json:"clipped"`
	Lost    int64   `json:"lost"` // samples lost since the source was opened
	Muted   bool    `json:"muted"`
	Ringing bool    `json:"ringing"` // a strike is being listened to
}

func levelForm(l listen.Level) Level {
	return Level{
		Peak: round(l.Peak, placesSeconds), RMS: round(l.RMS, placesSeconds),
		Clipped: l.Clipped, Lost: l.Lost, Muted: l.Muted, Ringing: l.Ringing,
	}
}

// State says what the ear is doing. Code is one of listen's; Words are one
// sentence for people.
type State struct {
	Code       string   `json:"code"`
	Source     string   `json:"source"`
	SampleRate *float64 `json:"sample_rate_hz"` // null before a source is open
	Words      string   `json:"words"`
}

func stateForm(s listen.State) State {
	return State{s.Code, s.Source, known(s.Rate, placesHz, s.Rate > 0), s.Words}
}

// Room is the background while nothing rings, in third-octave bands.
type Room struct {
	Seconds float64 `json:"seconds"` // of background it rests on
	Bands   []Band  `json:"bands"`   // by frequency; [] where nothing is known
}

// Band is one band of the room: its exact mid-band frequency and the power in
// it, in dB where a full-scale square wave is 0.
type Band struct {
	Frequency float64 `json:"frequency_hz"`
	Level     float64 `json:"level_db"`
}

// quietest is the level of a band without any power, in dB: below the last bit
// of 32-bit sound.
const quietest = -200

// roomForm sums the spectrum into third-octave bands. Mid-band frequencies are
// 1000·G^(x/3) Hz and band edges lie a factor G^(1/6) away, with G = 10^(3/10):
// IEC 61260-1:2014, clauses 5.2 to 5.5 (from memory, unchecked). Bands run from
// 25 Hz (x = -16) up to the last that ends below half the sample rate.
func roomForm(r listen.Room) Room {
	out := Room{Seconds: round(r.Seconds, placesSeconds), Bands: []Band{}}
	if len(r.PSD) < 2 || !(r.Rate > 0) || !finite(r.Rate) {
		return out
	}
	octave := math.Pow(10, 0.3)
	for x := -16; x <= 26; x++ {
		mid := 1000 * math.Pow(octave, float64(x)/3)
		low, high := mid*math.Pow(octave, -1./6), mid*math.Pow(octave, 1./6)
		if high > float64(r.Rate)/2 {
			break
		}
		level := math.Max(quietest, 10*math.Log10(power(r, low, high)))
		out.Bands = append(out.Bands, Band{round(mid, placesDB), round(level, placesDB)})
	}
	return out
}

// power is the power between two frequencies, taking each bin as flat over its
// width, so that bands narrower than a bin get their share of it.
func power(r listen.Room, low, high float64) float64 {
	n := float64(len(r.PSD) - 1)
	width := float64(r.Rate) / 2 / n
	sum := 0.0
	for k := max(0, int(math.Floor(low/width-0.5))); k < len(r.PSD); k++ {
		from, to := (float64(k)-0.5)*width, (float64(k)+0.5)*width
		if from >= high {
			break
		}
		if p := r.PSD[k]; p > 0 && finite(p) {
			sum += p * math.Max(0, math.Min(to, high)-math.Max(from, low)) / width
		}
	}
	return sum / n
}
