package preflight_test

import (
	"math"
	"testing"

	"peelcheck/preflight"
)

// Either a comma or a point is the decimal sign, and neither parts the thousands (22nd CGPM, 2003, Resolution 10; from memory); we refuse where it might.
func TestParseLength(t *testing.T) {
	for text, want := range map[string]float64{
		"95.9": 95.9, "95,9": 95.9, "95,9 mm": 95.9, "0,35mm": 0.35, "1,5in": 38.1, "0,3125cm": 3.125,
		"1,000": -1, "1.000,5": -1, "1,000.5": -1, "1,000,000": -1, "-9,5": -1, ",5": -1, "9,": -1, "9,5,5": -1,
	} {
		got, err := preflight.ParseLength(text)
		if refused := want < 0; (err != nil) != refused || !refused && math.Abs(got.MM()-want) > 1e-9 {
			t.Errorf("ParseLength(%q) = %v, %v; want %v", text, got.MM(), err, want)
		}
	}
}
