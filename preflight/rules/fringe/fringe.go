// Package fringe holds the rule fringe: rim of white or black left by a cut-out.
package fringe

import (
	_ "embed"
	"fmt"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule fringe.
var Rule = &preflight.Rule{
	ID:     "fringe",
	Title:  "rim of white or black left by a cut-out",
	Group:  "white",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Limit:  preflight.LimitSpec{Quantity: "length", Unit: "mm"},
	Remedy: "Pull the cut-out in by two pixels, or clean its edge, so that the old background is gone.",
	Sources: []preflight.Source{
		{Title: "common practice, no source", Says: "cutting out from a white or black background leaves pixels mixed with it along the edge"},
	},
	Run: run,
}

const leastMM = 5

func run(s *preflight.Scene, _ float64) []preflight.Hit {
	var hits []preflight.Hit
	for _, f := range s.Fringes(leastMM) {
		colour := "black"
		if f.White {
			colour = "white"
		}
		length := s.MM(f.LengthPx)
		hits = append(hits, preflight.Hit{
			Where: f.Box, At: f.At, Value: length, LengthMM: length,
			Message: fmt.Sprintf("A rim of %s, a pixel or two wide, runs along %.0f mm of edge and will show on %s.", colour, length, s.Job.Garment.Name),
		})
	}
	return hits
}
