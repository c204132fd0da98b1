package preflight

import (
	"fmt"
	"strconv"
)

// Words are the measure's value with its unit, empty where nothing was measured.
func (m Measure) Words() string {
	if m.Widthless() {
		return "no width given"
	}
	return Amount(m.Value, m.Unit)
}

// Widthless reports whether the measure is the width of a stroke of width 0, the thinnest line a device can draw (ISO 32000-1, 8.4.3.2).
func (m Measure) Widthless() bool { return m.Quantity == "width" && m.Unit == "mm" && m.Value == 0 }

// LimitWords are what the limit asks for, empty where there is none.
func (m Measure) LimitWords() string {
	if m.Limit <= 0 {
		return ""
	}
	if m.Value < m.Limit {
		return "needs " + Amount(m.Limit, m.Unit)
	}
	return "at most " + Amount(m.Limit, m.Unit)
}

// Amount is a value in the unit of a measure, in words.
func Amount(v float64, unit string) string {
	switch unit {
	case "mm":
		switch {
		case v >= 10:
			return fmt.Sprintf("%.1f mm", v)
		case v > 0 && v < 0.005:
			return "under 0.01 mm"
		}
		return fmt.Sprintf("%.2f mm", v)
	case "mm2":
		return fmt.Sprintf("%.1f mm²", v)
	case "share":
		if v >= 0.1 {
			return fmt.Sprintf("%.0f %%", 100*v)
		}
		return fmt.Sprintf("%.1f %%", 100*v)
	case "ppi":
		return fmt.Sprintf("%.0f pixels an inch", v)
	case "dE00":
		return fmt.Sprintf("%.0f of 100", v)
	case "deg":
		return fmt.Sprintf("%.0f°", v)
	case "":
		return ""
	}
	return strconv.FormatFloat(v, 'g', 4, 64) + " " + unit
}
