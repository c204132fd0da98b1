// Package smalltext holds the rule small-text: letters too small to stay readable.
package smalltext

import (
	_ "embed"
	"fmt"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule small-text.
var Rule = &preflight.Rule{
	ID:     "small-text",
	Title:  "letters too small to stay readable",
	Group:  "look and feel",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Limit:  preflight.LimitSpec{Name: "text", Quantity: "height", Sense: preflight.AtLeast},
	Needs:  []preflight.Need{preflight.NeedSize, preflight.NeedFacts},
	Remedy: "Set the text larger, or leave it out.",
	Sources: []preflight.Source{
		{Title: "OpenType 1.9, table OS/2", Says: "sxHeight and sCapHeight: how high small letters without ascenders, and capitals, are in a font"},
		{Title: "common practice, no source", Says: "under about 1.2 mm the holes in letters fill and their strokes do not hold"},
	},
	Run: run,
}

func run(s *preflight.Scene, limit float64) []preflight.Hit {
	if s.Facts() == nil {
		return nil
	}
	var hits []preflight.Hit
	scale := s.FactScale()
	for _, t := range s.Facts().Texts {
		height, what := t.XHeightMM*scale, "its small letters"
		if !t.Lower {
			height, what = t.CapHeightMM*scale, "its letters"
		}
		where := s.FactPlace(t.Box)
		if t.Unseen || t.Letters == 0 || height == 0 || height >= limit || !s.PrintsIn(where) {
			continue
		}
		message := fmt.Sprintf("The text %q: %s are %s high", preflight.Shortened(t.Text), what, preflight.Amount(height, "mm"))
		if stem := t.StemMM * scale; stem > 0 && stem < s.Limit("line") {
			message += fmt.Sprintf(", their strokes about %s wide", preflight.Amount(stem, "mm"))
		}
		hits = append(hits, preflight.Hit{Where: where, Value: height, Message: message + "."})
	}
	return hits
}
