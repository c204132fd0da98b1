package preflight

import (
	"math"
	"strings"
	"testing"
)

// A sizes: ISO 216:2007 (read second-hand). Letter and tabloid: sizes A and B of ANSI/ASME Y14.1 (second-hand). Legal:
// trade size. Points are exact by 1/72 inch (ISO 32000-1, 8.3.2.3); pixels at 600 ppi are rounded.
func TestStandardSheets(t *testing.T) {
	tests := []struct {
		name               string
		wMM, hMM, wPt, hPt float64
		wPx600, hPx600     float64
	}{
		{"a3", 297, 420, 841.8898, 1190.5512, 7016, 9921},
		{"a4", 210, 297, 595.2756, 841.8898, 4961, 7016},
		{"a5", 148, 210, 419.5276, 595.2756, 3496, 4961},
		{"letter", 215.9, 279.4, 612, 792, 5100, 6600},
		{"legal", 215.9, 355.6, 612, 1008, 5100, 8400},
		{"tabloid", 279.4, 431.8, 792, 1224, 6600, 10200},
	}
	if len(tests) != len(standardSheets) {
		t.Errorf("%d sheets checked of %d", len(tests), len(standardSheets))
	}
	near := func(what string, got, want, tol float64) {
		t.Helper()
		if math.Abs(got-want) > tol {
			t.Errorf("%s = %.5f, want %.5f", what, got, want)
		}
	}
	p := &Process{MarginMM: 4.2}
	for _, tt := range tests {
		s, err := SheetByName(strings.ToUpper(tt.name), p, nil)
		if err != nil {
			t.Fatal(err)
		}
		near(tt.name+" width", s.Width.MM(), tt.wMM, 1e-9)
		near(tt.name+" height", s.Height.MM(), tt.hMM, 1e-9)
		near(tt.name+" width pt", float64(s.Width/Point), tt.wPt, 5e-5)
		near(tt.name+" height pt", float64(s.Height/Point), tt.hPt, 5e-5)
		near(tt.name+" width px", math.Round(float64(s.Width/Inch)*600), tt.wPx600, 0)
		near(tt.name+" height px", math.Round(float64(s.Height/Inch)*600), tt.hPx600, 0)
		near(tt.name+" margin", s.Margin.MM(), 4.2, 0)
	}
}

func TestSheetByNameSizes(t *testing.T) {
	p := &Process{MarginMM: 3}
	for name, want := range map[string][2]float64{
		"210mmx297mm": {210, 297}, "200x300": {200, 300}, "200x300mm": {200, 300}, "13x19in": {330.2, 482.6},
		"13in x 19in": {330.2, 482.6}, "20cmX30cm": {200, 300}, "100×150": {100, 150}, "612ptx792pt": {215.9, 279.4},
	} {
		s, err := SheetByName(name, p, nil)
		if err != nil {
			t.Errorf("%q: %v", name, err)
			continue
		}
		if math.Abs(s.Width.MM()-want[0]) > 1e-9 || math.Abs(s.Height.MM()-want[1]) > 1e-9 || s.Margin != 3 || s.Name != name {
			t.Errorf("%q = %+v, want %v", name, s, want)
		}
	}
}

func TestSheetByNameOwn(t *testing.T) {
	p := &Process{MarginMM: 3}
	own := []Sheet{{Name: "lantern", Width: 300, Height: 500, Margin: 0}, {Name: "a4", Width: 210, Height: 297, Margin: 10}, {Name: "walk", Width: 90, Height: 90, Margin: MarginOfProcess}}
	for name, margin := range map[string]Length{"lantern": 0, "a4": 10, "walk": 3, "a3": 3} {
		s, err := SheetByName(name, p, own)
		if err != nil || s.Margin != margin {
			t.Errorf("%s = %+v, %v, want a margin of %g", name, s, err, margin.MM())
		}
	}
}

func TestSheetByNameRefuses(t *testing.T) {
	p := &Process{MarginMM: 4.2}
	for name, want := range map[string]string{
		"leter": `did you mean "letter"?`, "": "no sheet", "x": "no sheet", "8x8": "too small", "0x100": "more than 0", "100x": "not a length",
		"100xten": "not a length", "-5x100": "not a length", "100x6000": "at most 5000", "1e9inx5mm": "not a length",
	} {
		if s, err := SheetByName(name, p, nil); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q = %+v, %v, want an error with %q", name, s, err, want)
		}
	}
}
