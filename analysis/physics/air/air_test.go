package air

import (
	"math"
	"testing"
)

// The table was computed from the published constants by another program
// (Python), p 101325 Pa, CO2 4e-4, to the digits printed.
func TestSpeed(t *testing.T) {
	for _, row := range []struct{ t, dry, half, wet, ideal float64 }{
		{0, 331.4477, 331.6035, 331.7594, 331.2859},
		{10, 337.4593, 337.7811, 338.1026, 337.2956},
		{20, 343.3595, 343.9867, 344.6132, 343.2000},
		{25, 346.2677, 347.1265, 347.9840, 346.1145},
		{30, 349.1481, 350.3097, 351.4689, 349.0046},
	} {
		for h, want := range map[float64]float64{0: row.dry, 0.5: row.half, 1: row.wet} {
			near(t, "speed of sound, m/s", row.t, Air{Celsius: row.t, Humidity: h}.Speed(), want, 0.5e-4)
		}
		near(t, "ideal speed, m/s", row.t, DrySpeed(row.t), row.ideal, 0.5e-4)
	}
}

// Computed by the same program: 2338.572 Pa and 0.011586; +6.31 and +11.47
// cents from dry to saturated.
func TestVapour(t *testing.T) {
	near(t, "saturation, Pa", 20, Saturation(20), 2338.572, 0.5e-3)
	near(t, "mole fraction", 20, Air{Celsius: 20, Humidity: .5}.Vapour(), 0.011586, 0.5e-6)
	for c, want := range map[float64]float64{20: 6.31, 30: 11.47} {
		near(t, "dry to saturated, cents", c, float64(Air{Celsius: c, Humidity: 1}.Above(Air{Celsius: c})), want, 0.005)
	}
}

// Davis, Equation for the determination of the density of moist air, Metrologia
// 29, 67 (1992), gives newer constants for the saturation pressure; as public
// text has them. They move the speed of sound by 0.0002 m/s at 20 °C.
func TestNewerSaturationIsTheSameSpeed(t *testing.T) {
	davis := func(c float64) float64 {
		k := c + Kelvin
		return math.Exp(1.2378847e-5*k*k - 1.9121316e-2*k + 33.93711047 - 6343.1645/k)
	}
	wet := Air{Celsius: 20, Humidity: .5}
	other := wet
	other.Humidity = .5 * davis(20) / Saturation(20)
	near(t, "difference, m/s", 20, math.Abs(wet.Speed()-other.Speed()), 0.0002, 0.5e-4)
}

// An ideal column rises by 600/ln 2/T a degree: +2.953 c at 20 °C as a
// derivative, +2.948 from 20 to 21; +30.044, +29.531 and +29.036 over ten
// degrees (closed form).
func TestIdealColumn(t *testing.T) {
	rise := func(from, to float64) float64 { return 1200 * math.Log2(DrySpeed(to)/DrySpeed(from)) }
	near(t, "cents a degree", 20, rise(19.999, 20.001)/0.002, 2.953, 0.001)
	near(t, "cents 20 to 21", 20, rise(20, 21), 2.948, 0.0005)
	near(t, "cents 10 to 20", 10, rise(10, 20), 30.044, 0.0005)
	near(t, "cents 15 to 25", 15, rise(15, 25), 29.531, 0.0005)
	near(t, "cents 20 to 30", 20, rise(20, 30), 29.036, 0.0005)
	// Cramer at 50 % relative humidity, which takes up more water as it warms.
	near(t, "cents 20 to 21, 50 %", 20, float64(Air{Celsius: 21, Humidity: .5}.Above(Air{Celsius: 20, Humidity: .5})), 3.144, 0.0005)
}

func TestCheck(t *testing.T) {
	for why, a := range map[string]Air{
		"a number of Fahrenheit": {Celsius: 68},
		"per cent as such":       {Celsius: 20, Humidity: 50},
		"not a number":           {Celsius: math.NaN()},
		"hectopascal":            {Celsius: 20, Pascal: 1013},
	} {
		if a.Check() == nil {
			t.Errorf("%s: %+v: got no error, wanted one", why, a)
		}
	}
	if err := (Air{Celsius: 29, Humidity: .6}).Check(); err != nil {
		t.Errorf("29 °C, 60 %%: got %v, wanted no error", err)
	}
}

func near(t *testing.T, what string, at, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s at %g °C: got %v, wanted %v within %g", what, at, got, want, within)
	}
}
