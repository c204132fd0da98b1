// Package edgeclearance holds the rule edge-clearance: too close to the edge of the sheet.
package edgeclearance

import (
	_ "embed"
	"fmt"
	"math"
	"strconv"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule edge-clearance.
var Rule = &preflight.Rule{
	ID:     "edge-clearance",
	Title:  "too close to the edge of the sheet",
	Group:  "size and orientation",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Limit:  preflight.LimitSpec{Name: "clearance", Quantity: "clearance", Sense: preflight.AtLeast},
	Needs:  []preflight.Need{preflight.NeedSize},
	Remedy: "Move the design in from the edge, or print it smaller or on a larger sheet.",
	Sources: []preflight.Source{
		{Title: "common practice, no source", Says: "printers cannot print to the edge; trimming loosely round the design needs a few millimetres, or the sheet's edge marks the cloth"},
	},
	Run: run,
}

// samePageMM is how near a page must be to the sheet's size to be taken as laid out on it.
const samePageMM = 3

func run(s *preflight.Scene, limit float64) []preflight.Hit {
	p := s.Placement()
	if !p.Fits || s.Printed.Empty() {
		return nil // what does not fit at all is off-sheet's
	}
	gap, laidOut := clearance(s, p)
	if gap >= limit {
		return nil
	}
	h := preflight.Hit{Where: s.Printed, Value: max(0, gap),
		Message: fmt.Sprintf("The design leaves only %s mm at the edge of %s.", tenths(max(0, gap)), s.Job.Sheet.Name)}
	if laidOut && gap < s.Job.Sheet.Margin.MM() {
		h.Level = preflight.LevelError
		h.Message = fmt.Sprintf("The design comes within %s mm of the edge of %s; the printer cannot print the outer %s mm and will cut it off.",
			tenths(max(0, gap)), s.Job.Sheet.Name, tenths(s.Job.Sheet.Margin.MM()))
	}
	h.Remedy = remedy(s, p, laidOut)
	return []preflight.Hit{h}
}

// remedy tells whether moving or turning is enough, else the size that leaves room.
func remedy(s *preflight.Scene, p preflight.Placement, laidOut bool) string {
	switch {
	case len(p.FittingSizes) > 0 && p.FittingSizes[0].Scale == 1:
		return "Turn it by 90 degrees, or print it on a larger sheet. " + s.SizesThatFit()
	case len(p.FittingSizes) > 0:
		how := "smaller"
		if size := s.SizeForAll(); size != "" {
			how = "at " + size + ","
		}
		return "Print it " + how + " or on a larger sheet. " + s.SizesThatFit()
	case laidOut:
		return "Move the design in from the edge: the sheet has room for it at this size."
	}
	return ""
}

// tenths writes a length in full tenths of a millimetre, so that what falls short never reads as enough; whole millimetres have none.
func tenths(mm float64) string { return strconv.FormatFloat(math.Floor(10*mm+1e-6)/10, 'f', -1, 64) }

// clearance is the least distance from the design to the sheet's edge: as laid out where the page is the sheet, else centred.
func clearance(s *preflight.Scene, p preflight.Placement) (mm float64, laidOut bool) {
	w, h := s.Job.Sheet.Width.MM(), s.Job.Sheet.Height.MM()
	pageW, pageH := s.MM(float64(s.W)), s.MM(float64(s.H))
	same := func(a, b float64) bool { return math.Abs(a-b) <= samePageMM }
	if same(pageW, w) && same(pageH, h) || same(pageW, h) && same(pageH, w) {
		b := s.BoxMM(s.Printed)
		return min(b.X, b.Y, pageW-b.X-b.W, pageH-b.Y-b.H), true
	}
	return min(p.SpareMM.W, p.SpareMM.H)/2 + s.Job.Sheet.Margin.MM(), false
}
