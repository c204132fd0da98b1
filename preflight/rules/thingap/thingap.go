// Package thingap holds the rule thin-gap: gap so narrow that it fills in.
package thingap

import (
	_ "embed"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule thin-gap.
var Rule = &preflight.Rule{
	ID:     "thin-gap",
	Title:  "gap so narrow that it fills in",
	Group:  "detail",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Limit:  preflight.LimitSpec{Name: "gap", Quantity: "width", Sense: preflight.AtLeast},
	Needs:  []preflight.Need{preflight.NeedPixels},
	Remedy: "Open the gap to at least the limit, or close it for good.",
	Sources: []preflight.Source{
		{Title: "Hildebrand and Rüegsegger, Journal of Microscopy 185 (1997) 67-75 (cited from memory)", Says: "local thickness: the diameter of the largest disc inside the shape that covers the point"},
		{Title: "common practice, no source", Says: "toner and molten adhesive spread; gaps under about 0.35 mm tend to close"},
	},
	Run: run,
}

func run(s *preflight.Scene, limit float64) []preflight.Hit {
	return s.ThinHits(s.ThinGaps(), "", "gap", limit, 0)
}
