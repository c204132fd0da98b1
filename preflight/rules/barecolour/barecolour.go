// Package barecolour holds the rule bare-colour: colour left without white behind it.
package barecolour

import (
	_ "embed"
	"fmt"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule bare-colour.
var Rule = &preflight.Rule{
	ID:     "bare-colour",
	Title:  "colour left without white behind it",
	Group:  "white",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Limit:  preflight.LimitSpec{Quantity: "area", Unit: "mm2"},
	Remedy: "Make the stroke or the lettering thicker, or draw it white.",
	Sources: []preflight.Source{
		{Title: "plane geometry", Says: "pulling an edge in by c removes all that is thinner than 2c; the tip of a corner of angle a lies c / sin(a/2) from what is left"},
		{Title: "common practice, no source", Says: "white is pulled in under colour so that it does not show at the edge; colour without white is dull on dark cloth"},
	},
	Run: run,
}

const (
	joinMM      = 1.0 // the strokes of a word are one place
	leastMM2    = 0.05
	leastOwnMM2 = 0.1 // beside a white that the file brings, which ends on other pixels than the colour
)

func run(s *preflight.Scene, _ float64) []preflight.Hit {
	least := leastMM2
	if s.BringsWhite() {
		least = leastOwnMM2
	}
	var hits []preflight.Hit
	for _, p := range preflight.Patches(s.Bare(), s.Thin(), 0, s.Px(joinMM), max(2, s.AreaPx(least))) {
		area := s.MM2(float64(p.AreaPx))
		why := fmt.Sprintf("white is pulled in by %.2f mm, so what is thinner than %.2f mm loses it", s.Job.Process.ChokeMM, 2*s.Job.Process.ChokeMM)
		remedy := ""
		if s.BringsWhite() {
			why = "the file brings its own white, and that does not reach there"
			remedy = "Ask for white under that colour too, or for the design without a white of its own."
		}
		hits = append(hits, preflight.Hit{
			Where: p.Box, At: p.Point(), Plane: preflight.White, Value: area, AreaMM2: area, Remedy: remedy,
			Message: fmt.Sprintf("Colour over %.2f mm² has no white behind it: %s.", area, why),
		})
	}
	return hits
}
