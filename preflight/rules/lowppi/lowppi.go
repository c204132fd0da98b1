// Package lowppi holds the rule low-ppi: too few pixels for the printed size.
package lowppi

import (
	_ "embed"
	"fmt"
	"math"

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
	if s.Art.Picture.Vector || !tooFew(s.PPI, limit) {
		return nil
	}
	return []preflight.Hit{{
		Where: s.Everything(), Value: s.PPI,
		Message: fmt.Sprintf("The picture has %.0f pixels an inch at its printed size of %.0f x %.0f mm; edges will look stepped.", s.PPI, s.MM(float64(s.W)), s.MM(float64(s.H))),
	}}
}

// tooFew compares in whole pixels an inch, as both are told: sizes in a file are rounded, and 149.9 pixels an inch are 150.
func tooFew(ppi, limit float64) bool { return math.Round(ppi) < math.Round(limit) }

// leastSidePx is how many pixels a placed picture has on each side at least: narrower ones are flat areas and blends, not drawings.
const leastSidePx = 16

// placed are the pictures of a page that are too coarse where they lie.
func placed(s *preflight.Scene, limit float64) []preflight.Hit {
	var hits []preflight.Hit
	for _, i := range s.Facts().Images {
		ppi := min(i.PPIX, i.PPIY) / s.FactScale()
		where := s.FactPlace(i.Box)
		if min(i.WidthPx, i.HeightPx) < leastSidePx || !tooFew(ppi, limit) || !s.PrintsIn(where) {
			continue
		}
		box := s.BoxMM(where)
		hits = append(hits, preflight.Hit{
			Where: where, Value: ppi,
			Message: fmt.Sprintf("%s has %.0f pixels an inch where it is placed, over %.0f x %.0f mm; edges will look stepped.", called(i.Name, i.Mask), ppi, box.W, box.H),
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
