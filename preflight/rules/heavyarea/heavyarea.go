// Package heavyarea holds the rule heavy-area: large solid that will be stiff and may crack.
package heavyarea

import (
	_ "embed"
	"fmt"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule heavy-area.
var Rule = &preflight.Rule{
	ID:     "heavy-area",
	Title:  "large solid that will be stiff and may crack",
	Group:  "look and feel",
	Doc:    doc,
	Level:  preflight.LevelNote,
	Limit:  preflight.LimitSpec{Name: "solid", Quantity: "widest disc", Sense: preflight.AtMost},
	Needs:  []preflight.Need{preflight.NeedSize},
	Remedy: "Break the area with gaps or a pattern, make it smaller, or tell the customer how it will feel.",
	Sources: []preflight.Source{
		{Title: "common practice, no source", Says: "an unbroken film of toner or ink wider than about a hand is stiff, shiny and sweaty, and cracks where cloth folds"},
		{Title: "Hildebrand and Ruegsegger, J. Microscopy 185, 1997 (from memory)", Says: "thickness as the diameter of the largest disc that fits"},
	},
	Run: run,
}

func run(s *preflight.Scene, limit float64) []preflight.Hit {
	var hits []preflight.Hit
	for _, a := range s.SolidAreas(limit) {
		area := s.MM2(float64(a.AreaPx))
		hits = append(hits, preflight.Hit{
			Where: a.Box, Value: a.DiscMM, AreaMM2: area,
			Message: fmt.Sprintf("A solid area of %.0f cm² without a break (%.0f %% of the artwork); a disc %.0f mm wide fits in it.",
				area/100, 100*float64(a.AreaPx)/float64(s.W*s.H), a.DiscMM),
		})
	}
	return hits
}
