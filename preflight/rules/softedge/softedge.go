// Package softedge holds the rule soft-edge: edge that fades to nothing.
package softedge

import (
	_ "embed"
	"fmt"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule soft-edge.
var Rule = &preflight.Rule{
	ID:     "soft-edge",
	Title:  "edge that fades to nothing",
	Group:  "hold",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Limit:  preflight.LimitSpec{Quantity: "area", Unit: "mm2"},
	Remedy: "Take the shadow or glow out, or give it a hard edge and a tint above the limit.",
	Sources: []preflight.Source{
		{Title: "common practice, no source", Says: "a fade prints as ever smaller dots; the smallest do not hold, and the edge comes out ragged"},
	},
	Run: run,
}

const (
	antialiasPx = 1.5 // thinner than this is an ordinary edge
	joinMM      = 5.0 // the shadows of letters and words side by side are one effect
	leastMM2    = 1.0
)

func run(s *preflight.Scene, _ float64) []preflight.Hit {
	var hits []preflight.Hit
	for _, p := range preflight.Patches(s.Fading(), nil, antialiasPx, s.Px(joinMM), s.AreaPx(leastMM2)) {
		if !s.IsFade(p) {
			continue
		}
		area := s.MM2(float64(p.AreaPx))
		hits = append(hits, preflight.Hit{
			Where: p.Box, At: p.Point(), Value: area, AreaMM2: area,
			Message: fmt.Sprintf("A shadow, glow or soft edge fades to nothing over %.0f mm²; its light end will not hold.", area),
		})
	}
	return hits
}
