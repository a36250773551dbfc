// Package air gives the speed of sound in air, and what temperature and
// humidity do to the pitch of a column of it.
//
// Sources:
//   - Owen Cramer, The variation of the specific heat ratio and the speed of
//     sound in air with temperature, pressure, humidity, and CO2
//     concentration, J. Acoust. Soc. Am. 93, 2510 (1993), eq. 15 and the
//     constants of its appendix, as public university pages list them. One of
//     those pages counts the constants from 1 and leaves one out.
//   - ISO 9613-1:1993, the speed of sound of dry air as an ideal gas. From
//     memory, unchecked.
package air

import (
	"fmt"
	"math"

	"ringwell/analysis"
)

// Kelvin is 0 °C.
const Kelvin = 273.15

// Air is the air about an object.
type Air struct {
	Celsius  float64 // °C
	Humidity float64 // relative, 0..1
	Pascal   float64 // pressure; 0 means StandardPascal
	CO2      float64 // mole fraction; 0 means UsualCO2
}

const (
	// StandardPascal is one standard atmosphere.
	StandardPascal = 101325
	// UsualCO2 is the mole fraction outdoors. Rooms with people have two to
	// five times as much, which is worth less than 0.3 cents.
	UsualCO2 = 4e-4
)

// Check returns an error where the formula was not made for this air: 0 to
// 30 °C, 75 to 102 kPa, up to 6 % water vapour, 1 % CO2 (Cramer 1993,
// abstract). A little beyond (stages reach 45 °C) it is still smooth and is
// taken; the error begins at -20 and 50 °C.
func (a Air) Check() error {
	switch p := a.pascal(); {
	case !(a.Celsius >= -20 && a.Celsius <= 50):
		return fmt.Errorf("air: %g °C: give the air's temperature as -20 to 50 °C", a.Celsius)
	case !(a.Humidity >= 0 && a.Humidity <= 1):
		return fmt.Errorf("air: humidity %g: give it as 0 to 1 (50 %% is 0.5)", a.Humidity)
	case !(p >= 60e3 && p <= 110e3):
		return fmt.Errorf("air: pressure %g Pa: give 60000 to 110000 Pa", p)
	}
	return nil
}

func (a Air) pascal() float64 {
	if a.Pascal == 0 {
		return StandardPascal
	}
	return a.Pascal
}

// Saturation is the pressure of water vapour over water at t °C, in pascal
// (Cramer 1993, appendix, after Giacomo 1982).
func Saturation(t float64) float64 {
	k := t + Kelvin
	return math.Exp(1.2811805e-5*k*k - 1.9509874e-2*k + 34.04926034 - 6353.6311/k)
}

// Vapour is the mole fraction of water in the air (Cramer 1993, appendix).
func (a Air) Vapour() float64 {
	p := a.pascal()
	enhancement := 1.00062 + 3.14e-8*p + 5.6e-7*a.Celsius*a.Celsius
	return a.Humidity * enhancement * Saturation(a.Celsius) / p
}

// Speed is the speed of sound in m/s (Cramer 1993, eq. 15), to about 300 ppm,
// half a cent, by its author.
func (a Air) Speed() float64 {
	t, p, w, c := a.Celsius, a.pascal(), a.Vapour(), a.CO2
	if c == 0 {
		c = UsualCO2
	}
	return 331.5024 + 0.603055*t - 0.000528*t*t +
		(51.471935+0.1495874*t-0.000782*t*t)*w +
		(-1.82e-7+3.73e-8*t-2.93e-10*t*t)*p +
		(-85.20931-0.228525*t+5.91e-5*t*t)*c -
		2.835149*w*w - 2.15e-13*p*p + 29.179762*c*c + 0.000486*w*p*c
}

// DrySpeed is the speed of sound in dry air as an ideal gas at t °C, in m/s:
// 343.2·sqrt(T/293.15 K) (ISO 9613-1, from memory, unchecked).
func DrySpeed(t float64) float64 { return 343.2 * math.Sqrt((t+Kelvin)/293.15) }

// Above is how much higher a column of this air sounds than the same column of
// another, its walls unmoved.
func (a Air) Above(other Air) analysis.Cents {
	return analysis.Hz(a.Speed()).Above(analysis.Hz(other.Speed()))
}
