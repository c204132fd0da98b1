// Package straypixels holds the rule stray-pixels: pixels that no screen shows but that print.
package straypixels

import (
	_ "embed"
	"fmt"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule stray-pixels.
var Rule = &preflight.Rule{
	ID:     "stray-pixels",
	Title:  "pixels that no screen shows but that print",
	Group:  "hold",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Limit:  preflight.LimitSpec{Quantity: "area", Unit: "mm2"},
	Remedy: "Erase what lies round the design: put a strong colour behind it on the screen to see it.",
	Sources: []preflight.Source{
		{Title: "common practice, no source", Says: "an eraser or a bad cut-out leaves pixels of a few per cent, which come out as scattered dots that adhesive sticks to"},
	},
	Run: run,
}

const (
	joinMM   = 5.0 // what an eraser left is one place
	leastMM2 = 0.1
)

func run(s *preflight.Scene, _ float64) []preflight.Hit {
	var hits []preflight.Hit
	for _, p := range preflight.Patches(s.Whispers(), nil, 0, s.Px(joinMM), s.AreaPx(leastMM2)) {
		area := s.MM2(float64(p.AreaPx))
		hits = append(hits, preflight.Hit{
			Where: p.Box, At: p.Point(), Value: area, AreaMM2: area,
			Message: fmt.Sprintf("Left-over pixels over %.1f mm² are so transparent that a screen hardly shows them, but they print.", area),
		})
	}
	return hits
}
