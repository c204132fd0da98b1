package preflight

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// TestTintLimit checks against a table worked out from the round dot's area, pi D^2 / (4 s^2), s = 25400/lpi micrometres:
// plain geometry; the halftone cell is that of Ulichney, Digital Halftoning, 1987, and Kipphan, Handbook of Print Media,
// 2001 (both from memory). The table is to 0.005 %.
func TestTintLimit(t *testing.T) {
	tests := []struct {
		lpi               float64
		d30, d50, d100    float64 // percent
		cellUM, d20, d10p float64 // cell side and the dot's width at 20 % and 10 %, micrometres
	}{
		{85, .79, 2.20, 8.80, 298.82, 150.8, 106.6},
		{106, 1.23, 3.42, 13.68, 239.62, 120.9, 85.5},
		{133, 1.94, 5.38, 21.53, 190.98, 96.4, 68.1},
		{141, 2.18, 6.05, 24.20, 180.14, 90.9, 64.3},
		{150, 2.47, 6.85, 27.39, 169.33, 85.5, 60.4},
		{175, 3.36, 9.32, 37.28, 145.14, 73.2, 51.8},
	}
	for _, tt := range tests {
		for dot, want := range map[float64]float64{0.03: tt.d30, 0.05: tt.d50, 0.1: tt.d100} {
			if got := 100 * TintLimit(tt.lpi, dot); math.Abs(got-want) > 0.0051 {
				t.Errorf("TintLimit(%g lpi, %g mm) = %.4f %%, want %.2f %%", tt.lpi, dot, got, want)
			}
		}
		for dotUM, want := range map[float64]float64{tt.d20: 0.20, tt.d10p: 0.10} { // the way back
			if got := TintLimit(tt.lpi, dotUM/1000); math.Abs(got-want) > 0.0003 {
				t.Errorf("TintLimit(%g lpi, %g um) = %.4f, want %.2f", tt.lpi, dotUM, got, want)
			}
		}
		// Dots touch at a tint of pi/4, where they are as wide as the cell.
		if got := TintLimit(tt.lpi, 25.4/tt.lpi); math.Abs(got-math.Pi/4) > 1e-9 {
			t.Errorf("TintLimit(%g lpi, cell) = %g, want pi/4", tt.lpi, got)
		}
	}
	if got := TintLimit(133, 0.3); got != 1 {
		t.Errorf("a dot wider than its cell gives %g, want 1", got)
	}
	if TintLimit(0, 0.1) != 0 || TintLimit(133, 0) != 0 {
		t.Error("an unknown screen must give no limit")
	}
}

func TestCurveAt(t *testing.T) {
	c := Curve{{0.2, 0}, {0.6, 0.8}, {1, 1}}
	for x, want := range map[float64]float64{0: 0, 0.2: 0, 0.4: 0.4, 0.6: 0.8, 0.8: 0.9, 1: 1, 2: 1} {
		if got := c.At(x); math.Abs(got-want) > 1e-12 {
			t.Errorf("At(%g) = %g, want %g", x, got, want)
		}
	}
	for _, x := range []float64{0, 0.3, 1} {
		if got := Curve(nil).At(x); got != x {
			t.Errorf("a curve without points gives At(%g) = %g, want the identity", x, got)
		}
	}
}

func TestLimitNamesUnitsAndKeysAgree(t *testing.T) {
	if len(LimitUnits) != len(LimitNames) {
		t.Errorf("%d units for %d limits", len(LimitUnits), len(LimitNames))
	}
	typ := reflect.TypeFor[LimitValues]()
	if typ.NumField() != len(LimitNames) {
		t.Errorf("LimitValues has %d fields, there are %d limits", typ.NumField(), len(LimitNames))
	}
	var v LimitValues
	for i, name := range LimitNames {
		if LimitUnits[name] == "" {
			t.Errorf("limit %q has no unit", name)
		}
		if tag, _, _ := strings.Cut(typ.Field(i).Tag.Get("yaml"), ","); tag != name {
			t.Errorf("field %d of LimitValues is written %q, want %q", i, tag, name)
		}
		if v.field(name) != reflect.ValueOf(&v).Elem().Field(i).Addr().Interface().(*float64) {
			t.Errorf("field(%q) is another field", name)
		}
	}
}

func TestResolveLimitsPrecedence(t *testing.T) {
	p, err := ProcessByID("toner-white-for-black")
	if err != nil {
		t.Fatal(err)
	}
	got, err := p.ResolveLimits(map[string]float64{"line": 0.4, "gap": 0.45}, "peelcheck.yaml", map[string]float64{"line": 0.5})
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]Limit{
		"line": {0.5, "mm", "the flag --min-line"},
		"gap":  {0.45, "mm", "the file peelcheck.yaml"},
		"dot":  {0.6, "mm", "built in"},
		"ppi":  {150, "ppi", "built in"},
	}
	for name, w := range want {
		if got[name] != w {
			t.Errorf("%s = %+v, want %+v", name, got[name], w)
		}
	}
	if len(got) != len(LimitNames) {
		t.Errorf("%d limits resolved, want %d", len(got), len(LimitNames))
	}
	if p.Limits["line"].Value != 0.35 {
		t.Error("resolving changed the process")
	}
	tint := got["tint"]
	if math.Abs(tint.Value-0.2153) > 5e-5 || !strings.HasPrefix(tint.From, "built in") || !strings.Contains(tint.From, "one every 0.19 mm (133 to the inch)") || strings.Contains(tint.From, "lines an inch") {
		t.Errorf("tint = %+v, want 0.2153, built in, by its screen", tint)
	}
}

func TestResolveLimitsOfProcessMadeInCode(t *testing.T) {
	p := &Process{LimitValues: LimitValues{Line: 0.2, Tint: 0.1}, TrimClearanceMM: 7, Screen: Screen{RulingLPI: 133, SmallestDotM: 0.1}}
	got, err := p.ResolveLimits(nil, "", nil)
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]float64{"line": 0.2, "tint": 0.1, "clearance": 7} {
		if got[name].Value != want {
			t.Errorf("%s = %+v, want %g", name, got[name], want)
		}
	}
}

func TestResolveLimitsRefuses(t *testing.T) {
	p := Processes()[0]
	for _, tt := range []struct {
		name  string
		value float64
		want  string
	}{
		{"line", 0, "more than 0"}, {"line", -1, "more than 0"}, {"gap", 1000, "less than 1000"}, {"dot", math.NaN(), "more than 0"},
		{"tint", 1.5, "at most 1"}, {"stray", 0, "more than 0"}, {"ppi", 0, "from 1"}, {"lime", 1, `did you mean "line"?`},
	} {
		_, err := p.ResolveLimits(nil, "", map[string]float64{tt.name: tt.value})
		if err == nil || !strings.Contains(err.Error(), tt.want) || !strings.Contains(err.Error(), "--min-"+tt.name) {
			t.Errorf("%s = %g: %v, want it to name the flag and %q", tt.name, tt.value, err, tt.want)
		}
		if _, err := p.ResolveLimits(map[string]float64{tt.name: tt.value}, "shop.yaml", nil); err == nil || !strings.Contains(err.Error(), "shop.yaml") {
			t.Errorf("%s = %g in the file: %v", tt.name, tt.value, err)
		}
	}
	if !slices.IsSorted(sortedKeys(map[string]int{"b": 1, "a": 1, "c": 1})) {
		t.Error("sortedKeys does not sort")
	}
}
