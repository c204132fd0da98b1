// Package overprint holds the rule overprint: ink set to print over what lies beneath.
package overprint

import (
	_ "embed"
	"fmt"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule overprint.
var Rule = &preflight.Rule{
	ID:     "overprint",
	Title:  "ink set to print over what lies beneath",
	Group:  "documents",
	Doc:    doc,
	Level:  preflight.LevelNote,
	Limit:  preflight.LimitSpec{},
	Needs:  []preflight.Need{preflight.NeedFacts},
	Remedy: "Ask for the file with overprint switched off.",
	Sources: []preflight.Source{
		{Title: "ISO 32000-1:2008, 8.6.7", Says: "overprint control: an object leaves the planes alone that its colour does not paint; under mode 1 also those of DeviceCMYK whose tint is 0"},
	},
	Run: run,
}

func run(s *preflight.Scene, _ float64) []preflight.Hit {
	if s.Facts() == nil {
		return nil
	}
	var hits []preflight.Hit
	over := preflight.Hit{}
	n := 0
	for _, o := range s.Facts().Overprints {
		where := s.FactPlace(o.Box)
		switch {
		case where.Empty():
		case o.Vanishes:
			hits = append(hits, preflight.Hit{
				Where: where, Level: preflight.LevelWarning,
				Message: "Something without ink, such as white, is set to overprint here: it vanishes, and what lies beneath prints instead.",
			})
		default:
			n++
			over.Where = over.Where.Union(where)
		}
	}
	if n > 0 {
		over.Message = fmt.Sprintf("%s set to overprint: where it lies on another colour both print, one on the other.", objects(n))
		hits = append(hits, over)
	}
	return hits
}

func objects(n int) string {
	if n == 1 {
		return "One object is"
	}
	return fmt.Sprintf("%d objects are", n)
}
