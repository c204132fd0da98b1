// Package turned holds the rule turned: fits the sheet only when turned.
package turned

import (
	_ "embed"
	"fmt"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule turned.
var Rule = &preflight.Rule{
	ID:     "turned",
	Title:  "fits the sheet only when turned",
	Group:  "size and orientation",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Limit:  preflight.LimitSpec{Quantity: "turn", Unit: "deg"},
	Needs:  []preflight.Need{preflight.NeedSize},
	Remedy: "Turn the artwork by 90 degrees before printing, and switch off any setting that turns or shrinks the page by itself.",
	Sources: []preflight.Source{
		{Title: "ISO 216:2007; ANSI/ASME Y14.1", Says: "sheet sizes"},
		{Title: "common practice, no source", Says: "a page that lies across the sheet is cut or shrunk by the driver"},
	},
	Run: run,
}

func run(s *preflight.Scene, _ float64) []preflight.Hit {
	p := s.Placement()
	if !p.Fits || p.TurnDeg == 0 || s.Printed.Empty() {
		return nil
	}
	box := s.BoxMM(s.Printed)
	return []preflight.Hit{{
		Where: s.Printed, Value: float64(p.TurnDeg),
		Message: fmt.Sprintf("The design is %.0f x %.0f mm and fits %s only when turned by 90 degrees.", box.W, box.H, s.Job.Sheet.Name),
	}}
}
