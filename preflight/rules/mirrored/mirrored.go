// Package mirrored holds the rule mirrored: lettering reads the wrong way round.
package mirrored

import (
	_ "embed"
	"fmt"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule mirrored.
var Rule = &preflight.Rule{
	ID:     "mirrored",
	Title:  "lettering reads the wrong way round",
	Group:  "size and orientation",
	Doc:    doc,
	Level:  preflight.LevelError,
	Limit:  preflight.LimitSpec{Quantity: "certainty", Unit: "share"},
	Needs:  []preflight.Need{preflight.NeedLettering},
	Remedy: "Mirror the artwork left to right so that it reads as it shall on the garment; printing mirrors it once.",
	Sources: []preflight.Source{
		{Title: "Liu, Nakashima, Sako and Fujisawa, Handwritten digit recognition, Pattern Recognition 37 (2004)", Says: "edges by direction as features of a letter's shape"},
		{Title: "common practice, no source", Says: "a transfer is mirrored exactly once, and artwork is drawn as it is to be worn"},
	},
	Run: run,
}

func run(s *preflight.Scene, _ float64) []preflight.Hit {
	m := s.Mirror()
	if m.Reads != preflight.ReadsMirrored {
		return nil
	}
	return []preflight.Hit{{
		Where: s.LetteringBox(), Value: m.Confidence,
		Message: fmt.Sprintf("The lettering reads the wrong way round: %s. Printing mirrors the artwork once, so it would read wrong on the garment.", m.Evidence),
	}}
}
