// Package lostwhite holds the rule lost-white: white in the artwork that will stay unprinted.
package lostwhite

import (
	_ "embed"
	"fmt"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule lost-white.
var Rule = &preflight.Rule{
	ID:     "lost-white",
	Title:  "white in the artwork that will stay unprinted",
	Group:  "white",
	Doc:    doc,
	Level:  preflight.LevelError,
	Limit:  preflight.LimitSpec{Quantity: "area", Unit: "mm2"},
	Remedy: "Draw black what should come out white.",
	Sources: []preflight.Source{
		{Title: "common practice, no source", Says: "where the white cartridge sits in the black station, white in the file prints nothing"},
		{Title: "ISO 32000-1:2008, 10.3.4", Says: "RGB 1 1 1 converts to no cyan, magenta, yellow or black"},
	},
	Run: run,
}

const (
	fringePx = 1.5 // thinner than this is the soft edge of something else
	joinMM   = 0.3
	leastMM2 = 0.1
	// enclosed is the share of a white place's surroundings that must be coloured, in artwork on a white background, for it to
	// be taken as meant white: white inside black is a cut-out that shows the garment.
	enclosed = 0.5
	// counterShare of the box of the coloured piece round it makes a white place more likely the inside of a letter, which is meant to
	// stay open, than white lettering.
	counterShare = 0.05
)

func run(s *preflight.Scene, _ float64) []preflight.Hit {
	onWhite := s.Background().Found && s.GroundIsWhite()
	remedy := ""
	if s.White().Count() == 0 || s.GroundStrength()[0] > 0 {
		remedy = "Draw black what should come out white; if the whole design is drawn with white as white, swap black and white in the drawing program, or say --white-drawn-as white."
	}
	var hits []preflight.Hit
	for _, p := range preflight.Patches(s.LostInside(), nil, fringePx, s.Px(joinMM), s.AreaPx(leastMM2)) {
		level, why := preflight.LevelError, ""
		if onWhite {
			if s.ColouredRing(p) < enclosed {
				continue
			}
			level, why = preflight.LevelWarning, " On a white background it may be meant as white or as an opening."
			if s.ShareOfEnclosing(p) >= counterShare {
				level, why = preflight.LevelNote, " It looks like the inside of a letter, which is meant to stay open."
			}
		}
		area := s.MM2(float64(p.AreaPx))
		hits = append(hits, preflight.Hit{
			Where: p.Box, At: p.Point(), Plane: preflight.White, Level: level, Remedy: remedy, Value: area, AreaMM2: area,
			Message: fmt.Sprintf("White over %.1f mm² will stay unprinted; the garment's colour will show there.", area) + why,
		})
	}
	return hits
}
