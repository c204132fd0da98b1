// Package lowppi holds the rule low-ppi: too few pixels for the printed size.
package lowppi

import (
	_ "embed"
	"fmt"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule low-ppi.
var Rule = &preflight.Rule{
	ID:     "low-ppi",
	Title:  "too few pixels for the printed size",
	Group:  "size and orientation",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Limit:  preflight.LimitSpec{Name: "ppi", Quantity: "resolution", Sense: preflight.AtLeast},
	Needs:  []preflight.Need{preflight.NeedSize, preflight.NeedFacts},
	Remedy: "Ask for the artwork with more pixels or as a vector PDF, or print it smaller.",
	Sources: []preflight.Source{
		{Title: "visual acuity of one minute of arc (Snellen)", Says: "at 600 mm a person tells about 145 pixels an inch apart, at 300 mm about 290"},
		{Title: "common practice, no source", Says: "under about 150 pixels an inch edges look stepped on a garment"},
	},
	Run: run,
}

func run(s *preflight.Scene, limit float64) []preflight.Hit {
	if s.Facts() != nil {
		return placed(s, limit)
	}
	if s.Art.Picture.Vector || !preflight.TooFewPixels(s.PPI, limit) {
		return nil
	}
	return []preflight.Hit{{
		Where: s.Everything(), Value: s.PPI,
		Message: fmt.Sprintf("The picture has %.0f pixels an inch at its printed size of %.0f x %.0f mm; edges will look stepped.", s.PPI, s.MM(float64(s.W)), s.MM(float64(s.H))),
	}}
}

// placed are the pictures of a page that are too coarse where they lie.
func placed(s *preflight.Scene, limit float64) (hits []preflight.Hit) {
	for _, p := range s.PlacedPictures(limit) {
		box := s.BoxMM(p.Where)
		hits = append(hits, preflight.Hit{
			Where: p.Where, Value: p.PPI,
			Message: fmt.Sprintf("%s has %.0f pixels an inch where it is placed, over %.0f x %.0f mm; edges will look stepped.", called(p.Name, p.Mask), p.PPI, box.W, box.H),
		})
	}
	return hits
}

// called names a picture as the file does.
func called(name string, mask bool) string {
	what := "A picture"
	if mask {
		what = "A picture of one colour"
	}
	if name != "" {
		what += fmt.Sprintf(" (%s in the file)", name)
	}
	return what
}
