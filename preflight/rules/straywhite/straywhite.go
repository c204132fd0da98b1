// Package straywhite holds the rule stray-white: dark colour that will pick up white.
package straywhite

import (
	_ "embed"
	"fmt"
	"math"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule stray-white.
var Rule = &preflight.Rule{
	ID:     "stray-white",
	Title:  "dark colour that will pick up white",
	Group:  "white",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Limit:  preflight.LimitSpec{Name: "stray", Quantity: "strength", Sense: preflight.AtMost},
	Remedy: "Use a colour without black in it (lighter or purer), or draw the place pure black if it should be white.",
	Sources: []preflight.Source{
		{Title: "ISO 32000-1:2008, 10.3.4", Says: "k = min(c, m, y) of a colour goes to the black separation, here the white toner, as far as black generation lets it"},
		{Title: "common practice, no source", Says: "the white cartridge in the black station prints the black share of every colour as white"},
	},
	Run: run,
}

const (
	edgePx   = 1.5 // thinner than this is the soft edge between black and a colour
	joinMM   = 0.5
	leastMM2 = 0.2
)

func run(s *preflight.Scene, limit float64) []preflight.Hit {
	var hits []preflight.Hit
	for _, p := range preflight.Patches(s.Stray(), nil, edgePx, s.Px(joinMM), s.AreaPx(leastMM2)) {
		strength := math.Round(1000*s.MeanOver(p, s.WhiteOfColour)) / 1000 // as the report has it, so that both round alike
		hits = append(hits, preflight.Hit{
			Where: p.Box, At: p.Point(), Plane: preflight.White, Value: strength, AreaMM2: s.MM2(float64(p.AreaPx)),
			Message: fmt.Sprintf("A dark colour over %.1f mm² will print with %.0f %% white in it and come out pale.", s.MM2(float64(p.AreaPx)), 100*strength),
		})
	}
	return hits
}
