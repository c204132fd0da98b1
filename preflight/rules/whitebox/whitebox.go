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
	if !g.Found {
		return panel(s)
	}
	if s.Job.Background == preflight.BackgroundDrop {
		return nil
	}
	strength := s.GroundStrength()[0]
	if strength < printsWhite {
		return nil
	}
	remedy := ""
	if s.Lost() != nil && s.LostInside().Count() > 0 {
		remedy = "If the design is drawn with white as white on this page, swap black and white in the drawing program, or say --white-drawn-as white. Otherwise take the background out, or say --background drop; a frame that is meant can be accepted."
	}
	area := s.MM2(g.AreaShare * float64(s.W*s.H))
	return []preflight.Hit{{
		Where: s.Everything(), Plane: preflight.White, Value: area, AreaMM2: area, Remedy: remedy,
		Message: fmt.Sprintf("The flat background (%s) will print as %s.", g.Colour, box(s, fmt.Sprintf("%.0f x %.0f mm", s.MM(float64(s.W)), s.MM(float64(s.H))))),
	}}
}

// leastPanelMM is the least side of a panel that can be a page left in the artwork; labels and keys are smaller.
const leastPanelMM = 30

// panel is a rectangle that all of the design stands on, with an empty margin round it.
func panel(s *preflight.Scene) []preflight.Hit {
	colour, at, ok := s.Panel()
	b := s.BoxMM(s.Printed)
	planes := [5]float64{}
	if ok {
		planes = s.Strength(at.X, at.Y)
	}
	if !ok || min(colour.R, colour.G, colour.B) < paper || min(b.W, b.H) < leastPanelMM || planes[0] < printsWhite {
		return nil
	}
	return []preflight.Hit{{
		Where: s.Printed, Plane: preflight.White, Value: b.W * b.H, AreaMM2: b.W * b.H, Level: preflight.LevelWarning,
		Message: fmt.Sprintf("The design stands on a white rectangle, which will print as a white box of %.0f x %.0f mm.", b.W, b.H),
		Remedy:  "If the rectangle was left in by mistake, delete it and export again with transparency; one that is meant can be accepted.",
	}}
}

// paper is the least red, green and blue of a white page; a panel of another colour is drawn on purpose.
const paper = 240

// box says what will show: where colour lies on the white, a box of the background's own colour.
func box(s *preflight.Scene, size string) string {
	if s.Job.Process.WhiteSource == preflight.WhiteUnderbase && s.Background().Colour != "#ffffff" {
		return fmt.Sprintf("a box of %s in that colour, with white under it", size)
	}
	return "a white box of " + size
}
