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
	h := preflight.Hit{Where: s.LetteringBox(), Value: m.Confidence}
	switch {
	case m.Reads == preflight.ReadsMirrored && !s.Job.Mirrored:
		h.Message = fmt.Sprintf("The lettering reads the wrong way round: %s. Printing mirrors the artwork once, so it would read wrong on the garment.", m.Evidence)
	case m.Reads == preflight.ReadsNormally && s.Job.Mirrored:
		h.Message = fmt.Sprintf("The sheet reads normally: %s. The printer does not mirror it any more, so it would read wrong on the garment.", m.Evidence)
	default:
		return nil
	}
	return []preflight.Hit{h}
}
