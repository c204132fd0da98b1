package preflight

import (
	"fmt"
	"strconv"
)

// Words are the measure's value with its unit, empty where nothing was measured.
func (m Measure) Words() string { return Amount(m.Value, m.Unit) }

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
		if v >= 10 {
			return fmt.Sprintf("%.1f mm", v)
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
