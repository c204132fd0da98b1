// Package spotunknown holds the rule spot-unknown: spot colour that this shop has no ink for.
package spotunknown

import (
	_ "embed"
	"fmt"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule spot-unknown.
var Rule = &preflight.Rule{
	ID:     "spot-unknown",
	Title:  "spot colour that this shop has no ink for",
	Group:  "documents",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Limit:  preflight.LimitSpec{},
	Remedy: "If it is white, add its name to white_names in the shop's settings; else ask for the design in ordinary colours.",
	Sources: []preflight.Source{
		{Title: "ISO 32000-1:2008, 8.6.6.4", Says: "a spot colour without a colorant of its own is painted in its alternate colour space"},
	},
	Run: run,
}

func run(s *preflight.Scene, _ float64) []preflight.Hit {
	var hits []preflight.Hit
	for _, name := range s.MixedSpots() {
		hits = append(hits, preflight.Hit{
			Where:   s.Everything(),
			Message: fmt.Sprintf("The spot colour %q is not one of this shop's; it prints as the mixture that the file gives for it.", name),
		})
	}
	return hits
}
