// Package hiddenlayer holds the rule hidden-layer: layer that does not print as it shows.
package hiddenlayer

import (
	_ "embed"
	"fmt"

	"peelcheck/preflight"
	"peelcheck/raster"
)

//go:embed doc.md
var doc string

// Rule is the rule hidden-layer.
var Rule = &preflight.Rule{
	ID:     "hidden-layer",
	Title:  "layer that does not print as it shows",
	Group:  "documents",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Limit:  preflight.LimitSpec{},
	Needs:  []preflight.Need{preflight.NeedFacts},
	Remedy: "Ask which layers are meant, and for a file that has only those.",
	Sources: []preflight.Source{
		{Title: "ISO 32000-1:2008, 8.11", Says: "optional content: groups that are on or off, on the screen and in print, by the default configuration of the file"},
	},
	Run: run,
}

func run(s *preflight.Scene, _ float64) []preflight.Hit {
	if s.Facts() == nil {
		return nil
	}
	var hits []preflight.Hit
	for _, l := range s.Facts().Layers {
		if !l.Painted || l.Prints && l.Screen {
			continue
		}
		h := preflight.Hit{Where: s.FactPlace(l.Box)}
		switch {
		case l.Prints:
			h.Message = what(l) + " prints, though it is switched off on the screen."
		case l.Screen:
			h.Message = what(l) + " shows on the screen and does not print."
		default:
			h.Message = what(l) + " is switched off: nothing of it prints."
			h.Level = preflight.LevelNote
		}
		if h.Where.Empty() {
			h.Where = s.Everything()
		}
		hits = append(hits, h)
	}
	return hits
}

// what names a layer, or what shows by a formula of several.
func what(l raster.FactLayer) string {
	if l.Formula {
		const most = 120
		condition := []rune(l.Name)
		if len(condition) > most {
			condition = append(condition[:most], '…')
		}
		return "What shows only while " + string(condition)
	}
	return fmt.Sprintf("The layer %q", l.Name)
}
