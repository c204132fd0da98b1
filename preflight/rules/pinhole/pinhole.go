// Package pinhole holds the rule pinhole: hole so small that it fills in.
package pinhole

import (
	_ "embed"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule pinhole.
var Rule = &preflight.Rule{
	ID:     "pinhole",
	Title:  "hole so small that it fills in",
	Group:  "detail",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Limit:  preflight.LimitSpec{Name: "hole", Quantity: "diameter", Sense: preflight.AtLeast},
	Needs:  []preflight.Need{preflight.NeedPixels},
	Remedy: "Fill the hole, or open it to at least the limit.",
	Sources: []preflight.Source{
		{Title: "plane geometry", Says: "the diameter is that of the disc of the same area, 2 sqrt(A / pi), with A summed from edge coverage"},
		{Title: "common practice, no source", Says: "holes under about 0.5 mm close with toner and adhesive and leave a dull spot"},
	},
	Run: run,
}

func run(s *preflight.Scene, limit float64) []preflight.Hit {
	return s.SpotHits(s.Holes(), "hole")
}
