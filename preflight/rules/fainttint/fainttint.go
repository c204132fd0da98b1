// Package fainttint holds the rule faint-tint: tint too light to hold.
package fainttint

import (
	_ "embed"
	"fmt"
	"slices"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule faint-tint.
var Rule = &preflight.Rule{
	ID:     "faint-tint",
	Title:  "tint too light to hold",
	Group:  "hold",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Limit:  preflight.LimitSpec{Name: "tint", Quantity: "strength", Sense: preflight.AtLeast},
	Remedy: "Make the tint darker than the limit, or take it out.",
	Sources: []preflight.Source{
		{Title: "Ulichney, Digital Halftoning, MIT Press 1987; Kipphan, Handbook of Print Media, Springer 2001 (cited from memory)", Says: "a tint prints as dots; the lightest tint whose dots reach diameter D on a screen of cell side s is pi D^2 / (4 s^2)"},
		{Title: "common practice, no source", Says: "adhesive sticks only to what is printed; dots under about 0.1 mm come away with the sheet"},
	},
	Run: run,
}

const (
	edgePx   = 1.5 // thinner than this is the edge of something else
	joinMM   = 0.5
	leastMM2 = 0.3
)

func run(s *preflight.Scene, limit float64) []preflight.Hit {
	var hits []preflight.Hit
	for _, p := range preflight.Patches(s.Faint(), nil, edgePx, s.Px(joinMM), s.AreaPx(leastMM2)) {
		if s.IsFade(p) || s.IsWhisper(p) {
			continue // soft-edge's, or stray-pixels'
		}
		strength := s.MeanOver(p, func(x, y int) float64 {
			planes := s.Strength(x, y)
			return slices.Max(planes[:])
		})
		hits = append(hits, preflight.Hit{
			Where: p.Box, At: p.Point(), Value: strength, AreaMM2: s.MM2(float64(p.AreaPx)),
			Message: fmt.Sprintf("A tint of %.0f %% over %.1f mm² is too light for adhesive to hold.", 100*strength, s.MM2(float64(p.AreaPx))),
		})
	}
	return hits
}
