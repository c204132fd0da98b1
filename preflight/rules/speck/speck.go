// Package speck holds the rule speck: dot too small to hold.
package speck

import (
	_ "embed"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule speck.
var Rule = &preflight.Rule{
	ID:     "speck",
	Title:  "dot too small to hold",
	Group:  "detail",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Limit:  preflight.LimitSpec{Name: "dot", Quantity: "diameter", Sense: preflight.AtLeast},
	Needs:  []preflight.Need{preflight.NeedPixels},
	Remedy: "Take the dot out, or make it at least as large as the limit.",
	Sources: []preflight.Source{
		{Title: "plane geometry", Says: "the diameter is that of the disc of the same area, 2 sqrt(A / pi), with A summed from edge coverage"},
		{Title: "common practice, no source", Says: "single dots under about 0.6 mm peel off with the sheet or fall off in the wash"},
	},
	Run: run,
}

func run(s *preflight.Scene, limit float64) []preflight.Hit {
	return s.SpotHits(s.Pieces(), "dot")
}
