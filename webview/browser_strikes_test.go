package webview_test

import (
	"fmt"
	"math"
	"time"

	"ringwell/analysis"
)

// strikes makes the strikes the browser tests show. Each has a later ID than
// the one before.
type strikes struct{ n int }

// strike is a settled strike whose heard partial, the first, lies cents from A4
// on 440 Hz, just struck.
func (m *strikes) strike(cents, sigma float64, others ...analysis.Partial) analysis.Strike {
	m.n++
	f := analysis.Hz(440 * math.Exp2(cents/1200))
	first := analysis.Partial{Frequency: f, Sigma: analysis.Cents(sigma), T60: 2.6, SigmaT60: 0.02}
	return analysis.Strike{
		ID: fmt.Sprintf("01JDHZ8Q2R%016d", m.n), Revision: 1, Stage: analysis.Settled,
		Source: "hall pair", Rate: 48000, Onset: 24576, Time: time.Now().Add(-300 * time.Millisecond), Used: 0.3,
		Heard:    &analysis.Pitch{Frequency: f, Sigma: analysis.Cents(sigma), Basis: analysis.OnPartial, Partial: 0, Likelihood: 1},
		Partials: append([]analysis.Partial{first}, others...),
		ClockPPM: 29, Peak: 0.3,
	}
}

// flowerpot is a strike of four partials, 12 c above A4.
func (m *strikes) flowerpot() analysis.Strike {
	return m.strike(12.04, 0.29,
		analysis.Partial{Frequency: 421.9, Sigma: 2, Level: -17, T60: 0.4, SigmaT60: 0.05},
		analysis.Partial{Frequency: 665.1, Sigma: 1, Level: -8, T60: 0.9, SigmaT60: 0.05},
		analysis.Partial{Frequency: 1003.2, Sigma: 1, Level: -9, T60: 1.1, SigmaT60: 0.05},
	)
}

func (m *strikes) early() analysis.Strike {
	s := m.strike(11, 26)
	s.Stage, s.Used = analysis.Early, 0.04
	return s
}

// pair beats: its heard mode is two, 4 c apart.
func (m *strikes) pair() analysis.Strike {
	s := m.strike(-7, 0.19, analysis.Partial{Frequency: 439.3, Sigma: 0.4, Level: -2, T60: 2.2, SigmaT60: 0.05, Beat: 1.08, SigmaBeat: 0.02, Pair: 1})
	s.Partials[0].Pair, s.Partials[0].Beat, s.Partials[0].SigmaBeat = 1, 1.08, 0.02
	return s
}

// second is a strike some listeners will name E5.
func (m *strikes) second() analysis.Strike {
	s := m.flowerpot()
	s.Partials[2].Frequency = 651.7
	s.Second = &analysis.Pitch{Frequency: 651.7, Sigma: 1, Basis: analysis.OnPartial, Partial: 2, Likelihood: 0.3}
	return s
}

func (m *strikes) knock() analysis.Strike {
	s := m.strike(0, 0)
	s.Heard, s.Stage = nil, analysis.Final
	s.Partials = []analysis.Partial{{Frequency: 430, Sigma: 90, T60: 0.06, SigmaT60: 0.02}}
	return s
}

// beyond lies at D7, above the vibraphone.
func (m *strikes) beyond() analysis.Strike { return m.strike(2892, 0.4) }

// ringing has eight partials that ring for a long time.
func (m *strikes) ringing() analysis.Strike {
	var others []analysis.Partial
	for i := 1; i < 8; i++ {
		others = append(others, analysis.Partial{Frequency: analysis.Hz(440 + 4*float64(i)), Sigma: 1, Level: -3 * float64(i), T60: 60, SigmaT60: 1})
	}
	s := m.strike(12.04, 0.29, others...)
	s.Partials[0].T60 = 60
	return s
}
