// Package offsheet holds the rule off-sheet: larger than the sheet can print.
package offsheet

import (
	_ "embed"
	"fmt"
	"strings"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule off-sheet.
var Rule = &preflight.Rule{
	ID:     "off-sheet",
	Title:  "larger than the sheet can print",
	Group:  "size and orientation",
	Doc:    doc,
	Level:  preflight.LevelError,
	Limit:  preflight.LimitSpec{Quantity: "excess", Unit: "mm"},
	Needs:  []preflight.Need{preflight.NeedSize},
	Remedy: "Print it smaller, choose a larger sheet, or split the design.",
	Sources: []preflight.Source{
		{Title: "ISO 216:2007; ANSI/ASME Y14.1", Says: "sheet sizes"},
		{Title: "common practice, no source", Says: "printers leave a margin of a few millimetres at each edge"},
	},
	Run: run,
}

func run(s *preflight.Scene, _ float64) []preflight.Hit {
	p := s.Placement()
	if p.Fits || s.Printed.Empty() {
		return nil
	}
	over := max(0, -p.SpareMM.W, -p.SpareMM.H)
	box := s.BoxMM(s.Printed)
	message := fmt.Sprintf("The design is %.0f x %.0f mm, but %s can print only %.0f x %.0f mm; it is %.1f mm too large.",
		box.W, box.H, s.Job.Sheet.Name, p.PrintableMM.W, p.PrintableMM.H, over)
	if sizes := s.SizesThatFit(); sizes != "" {
		message += " " + sizes
	}
	return []preflight.Hit{{Where: s.Printed, Value: over, Message: message, Remedy: remedy(s, &p)}}
}

// remedy names what can be chosen: the scale that place and pixels allow as well, a sheet that holds the design, the number of parts.
func remedy(s *preflight.Scene, p *preflight.Placement) string {
	size := s.SizeForAll()
	if size == "" {
		return ""
	}
	text := "Print it at " + size
	if len(p.LargerSheets) > 0 {
		text += ", choose " + strings.Join(p.LargerSheets, " or ")
	} else {
		text += ", choose a larger sheet"
	}
	if p.Tiled != nil {
		return text + ", or split the design: " + p.Tiled.Words() + "."
	}
	return text + ", or split the design."
}
