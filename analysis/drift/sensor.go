package drift

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// milli is from where on a whole number is taken for thousandths of a degree:
// no room has 200 °C, and none where anybody plays has 0.2.
const milli = 200

// ParseSensor reads what a sensor's driver writes into a file, in °C: whole
// thousandths of a degree as Linux hwmon (temp1_input, "21437") and 1-wire do
// ("21437", or the two lines of w1_slave that end in "t=21437" and of which the
// first ends in YES), or plain degrees ("21.4", "21,4 °C").
// Kernel documentation, hwmon/sysfs-interface and w1/slaves/w1_therm, from
// memory, unchecked.
func ParseSensor(text string) (celsius float64, err error) {
	text = strings.TrimSpace(text)
	if before, after, two := strings.Cut(text, "t="); two {
		if !strings.Contains(before, "YES") {
			return 0, fmt.Errorf("drift: the 1-wire sensor's checksum is wrong; it was read at a bad moment, or its cable is too long")
		}
		text = after
	} else {
		for _, unit := range []string{"°C", "°", "C"} {
			text = strings.TrimSpace(strings.TrimSuffix(text, unit))
		}
	}
	x, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil {
		if len(text) > 24 {
			text = text[:24] + "..."
		}
		return 0, fmt.Errorf("drift: %q is no temperature: a sensor's file holds thousandths of a degree (21437) or degrees (21.4)", text)
	}
	if math.Abs(x) >= milli && !strings.ContainsAny(text, ".,") {
		x /= 1000
	}
	if !(x >= -40 && x <= 80) {
		return 0, fmt.Errorf("drift: %g °C: no sensor in a room says that", x)
	}
	return x, nil
}
