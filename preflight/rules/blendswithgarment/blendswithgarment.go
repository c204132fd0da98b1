// Package blendswithgarment holds the rule blends-with-garment: print that hardly shows on the garment.
package blendswithgarment

import (
	_ "embed"
	"fmt"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule blends-with-garment.
var Rule = &preflight.Rule{
	ID:     "blends-with-garment",
	Title:  "print that hardly shows on the garment",
	Group:  "look and feel",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Limit:  preflight.LimitSpec{Name: "contrast", Quantity: "colour difference", Sense: preflight.AtLeast},
	Remedy: "Choose another colour or garment, add an outline, or leave the area out and let the garment show.",
	Sources: []preflight.Source{
		{Title: "Sharma, Wu, Dalal, Color Research and Application 30(1), 2005", Says: "CIEDE2000, the difference of two colours as seen side by side, 0 to 100"},
		{Title: "W3C, WCAG 2.2", Says: "the contrast ratio of two luminances, 1 to 21, given beside the difference"},
		{Title: "common practice, no source", Says: "print that differs by less than about 10 is hard to make out on cloth, and by less than 2 not at all"},
	},
	Run: run,
}

const (
	leastMM2 = 3
	// unseen is the difference under which print is not seen at all, and mostOfAll the share of the design from which nothing of it is.
	unseen    = 2
	mostOfAll = 0.95
)

func run(s *preflight.Scene, limit float64) []preflight.Hit {
	var hits []preflight.Hit
	blends, share := s.Blends(limit, leastMM2)
	for _, b := range blends {
		area := s.MM2(float64(b.AreaPx))
		hit := preflight.Hit{
			Where: b.Box, Value: b.Difference, AreaMM2: area,
			Message: fmt.Sprintf("Print over %.0f mm² will hardly show on %s: the colour difference is %.0f of 100, the contrast %.1f to 1.",
				area, s.Job.Garment.Name, b.Difference, b.Contrast),
		}
		if share >= mostOfAll && b.Difference < unseen {
			hit.Level = preflight.LevelError
			hit.Message += " Hardly anything else is printed: the garment would look empty."
		}
		hits = append(hits, hit)
	}
	return hits
}
