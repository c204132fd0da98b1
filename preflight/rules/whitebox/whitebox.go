// Package whitebox holds the rule white-box: background that prints as a white box.
package whitebox

import (
	_ "embed"
	"fmt"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule white-box.
var Rule = &preflight.Rule{
	ID:     "white-box",
	Title:  "background that prints as a white box",
	Group:  "white",
	Doc:    doc,
	Level:  preflight.LevelError,
	Limit:  preflight.LimitSpec{Quantity: "area", Unit: "mm2"},
	Remedy: "Take the background out so that it is transparent, or say --background drop; a frame that is meant can be accepted.",
	Sources: []preflight.Source{
		{Title: "common practice, no source", Says: "a background layer left in the artwork prints as a solid rectangle on the garment"},
	},
	Run: run,
}

// printsWhite is the strength from which a background comes out as a visible box.
const printsWhite = 0.3

func run(s *preflight.Scene, _ float64) []preflight.Hit {
	g := s.Background()
	if !g.Found || s.Job.Background == preflight.BackgroundDrop {
		return nil
	}
	strength := s.GroundStrength()[0]
	if strength < printsWhite {
		return nil
	}
	area := s.MM2(g.AreaShare * float64(s.W*s.H))
	return []preflight.Hit{{
		Where: s.Everything(), Plane: preflight.White, Value: area, AreaMM2: area,
		Message: fmt.Sprintf("The flat background (%s) will print as %s.", g.Colour, box(s, fmt.Sprintf("%.0f x %.0f mm", s.MM(float64(s.W)), s.MM(float64(s.H))))),
	}}
}

// box says what will show: where colour lies on the white, a box of the background's own colour.
func box(s *preflight.Scene, size string) string {
	if s.Job.Process.WhiteSource == preflight.WhiteUnderbase && s.Background().Colour != "#ffffff" {
		return fmt.Sprintf("a box of %s in that colour, with white under it", size)
	}
	return "a white box of " + size
}
