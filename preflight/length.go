package preflight

import (
	"cmp"
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// Length is a distance on the printed sheet, in millimetres.
type Length float64

// Units of Length. An inch is 25.4 mm exactly (international inch, 1959); a point is 1/72 inch (ISO 32000-1, 8.3.2.3).
const (
	Millimetre Length = 1
	Inch       Length = 25.4
	Point      Length = Inch / 72
)

// MM returns the length in millimetres.
func (l Length) MM() float64 { return float64(l) }

// decimalComma is a number whose comma stands for the decimal point. With three digits behind it, it may as well part the thousands.
var decimalComma = regexp.MustCompile(`^[0-9]+,([0-9]{1,2}|[0-9]{4,})$`)

// ParseLength reads "0.35mm", "1.2cm", "0.014in", "1pt" or a bare number of millimetres, with a decimal point or comma. Negative lengths
// are refused, and "1,000", which may be one or a thousand.
func ParseLength(s string) (Length, error) {
	text, unit := strings.TrimSpace(s), Millimetre
	for _, u := range []struct {
		suffix string
		unit   Length
	}{{"mm", Millimetre}, {"cm", 10 * Millimetre}, {"in", Inch}, {"pt", Point}} {
		if rest, ok := strings.CutSuffix(text, u.suffix); ok {
			text, unit = strings.TrimSpace(rest), u.unit
			break
		}
	}
	number := text
	if decimalComma.MatchString(text) {
		number = strings.Replace(text, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(number, 64)
	if err != nil || v != v || v < 0 || v > 1e6 {
		return 0, fmt.Errorf("%q is not a length%s", s, cmp.Or(pointHint(text), ": write it as 0.35mm, 0.014in or 1pt"))
	}
	return Length(v) * unit, nil
}

// pointHint says what to do about a number with a comma, and nothing about others.
func pointHint(s string) string {
	pointed := strings.Replace(s, ",", ".", 1)
	if _, err := strconv.ParseFloat(pointed, 64); err != nil || pointed == s {
		return ""
	}
	return fmt.Sprintf(": write decimals with a point, as %s", pointed)
}
