package preflight

import (
	"fmt"
	"slices"
	"strings"
)

// MarginOfProcess as a sheet's margin means that the process's margin holds.
const MarginOfProcess Length = -1

// maxSheetMM bounds a sheet's sides: beyond five metres a slip of the unit is likelier than a sheet.
const maxSheetMM = 5000

// standardSheets are upright. A sizes: ISO 216:2007. Letter and tabloid: sizes A and B of ANSI/ASME Y14.1. Legal is a
// trade size of the United States, not in Y14.1 (from memory).
var standardSheets = []Sheet{
	{Name: "a3", Width: 297, Height: 420, Margin: MarginOfProcess},
	{Name: "a4", Width: 210, Height: 297, Margin: MarginOfProcess},
	{Name: "a5", Width: 148, Height: 210, Margin: MarginOfProcess},
	{Name: "letter", Width: 8.5 * Inch, Height: 11 * Inch, Margin: MarginOfProcess},
	{Name: "legal", Width: 8.5 * Inch, Height: 14 * Inch, Margin: MarginOfProcess},
	{Name: "tabloid", Width: 11 * Inch, Height: 17 * Inch, Margin: MarginOfProcess},
}

// SheetByName returns the shop's own sheet of that name, else a standard one (a3 a4 a5 letter legal tabloid), else one
// written as WxH ("210mmx297mm", "13x19in", bare numbers are millimetres). A margin not given is the process's.
func SheetByName(name string, p *Process, own []Sheet) (Sheet, error) {
	s, err := findSheet(name, own)
	if err != nil {
		return Sheet{}, err
	}
	if s.Margin < 0 {
		s.Margin = Length(p.MarginMM)
	}
	if 2*s.Margin >= min(s.Width, s.Height) {
		return Sheet{}, fmt.Errorf("sheet %q is too small: a margin of %g mm at each edge leaves nothing to print on", name, s.Margin.MM())
	}
	return s, nil
}

// SheetNames returns the names of the standard sheets.
func SheetNames() []string {
	names := make([]string, len(standardSheets))
	for i, s := range standardSheets {
		names[i] = s.Name
	}
	return names
}

func findSheet(name string, own []Sheet) (Sheet, error) {
	known := slices.Concat(own, standardSheets)
	names := make([]string, len(known))
	for i, s := range known {
		if strings.EqualFold(s.Name, strings.TrimSpace(name)) {
			return s, nil
		}
		names[i] = s.Name
	}
	w, h, ok := strings.Cut(strings.ReplaceAll(strings.ToLower(name), "×", "x"), "x")
	if !ok || !strings.ContainsAny(w, "0123456789") {
		return Sheet{}, fmt.Errorf("no sheet %q: use %s, or a size such as 210mmx297mm%s", name, strings.Join(names, ", "), didYouMean(name, names))
	}
	return sheetOfSize(name, w, h)
}

// sheetOfSize reads the two sides of a WxH. One unit after the second number serves both, as people write "13x19in".
func sheetOfSize(name, w, h string) (Sheet, error) {
	if strings.TrimRight(w, "0123456789. ") == "" {
		w += strings.TrimLeft(h, "0123456789. ")
	}
	width, err := ParseLength(w)
	if err != nil {
		return Sheet{}, fmt.Errorf("sheet %q: %w", name, err)
	}
	height, err := ParseLength(h)
	if err != nil {
		return Sheet{}, fmt.Errorf("sheet %q: %w", name, err)
	}
	if !(width > 0 && width <= maxSheetMM && height > 0 && height <= maxSheetMM) {
		return Sheet{}, fmt.Errorf("sheet %q: each side must be more than 0 and at most %d mm", name, maxSheetMM)
	}
	return Sheet{Name: name, Width: width, Height: height, Margin: MarginOfProcess}, nil
}

// Printable returns the size of the part of the sheet that the printer reaches, in millimetres.
func (s Sheet) Printable() SizeMM {
	return SizeMM{W: (s.Width - 2*s.Margin).MM(), H: (s.Height - 2*s.Margin).MM()}
}
