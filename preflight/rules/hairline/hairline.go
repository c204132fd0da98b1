// Package hairline holds the rule hairline: line too thin to hold.
package hairline

import (
	_ "embed"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule hairline.
var Rule = &preflight.Rule{
	ID:     "hairline",
	Title:  "line too thin to hold",
	Group:  "detail",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Limit:  preflight.LimitSpec{Name: "line", Quantity: "width", Sense: preflight.AtLeast},
	Needs:  []preflight.Need{preflight.NeedPixels},
	Remedy: "Thicken the line to at least the limit, or take it out.",
	Sources: []preflight.Source{
		{Title: "Hildebrand and Rüegsegger, Journal of Microscopy 185 (1997) 67-75 (cited from memory)", Says: "local thickness: the diameter of the largest disc inside the shape that covers the point"},
		{Title: "common practice, no source", Says: "lines under about 0.35 mm on toner sheets pick up too little adhesive to stay through peel and wash; each shop finds its own limit"},
	},
	Run: run,
}

// breaks is the share of the limit under which a line is not only weak but lost.
const breaks = 0.5

func run(s *preflight.Scene, limit float64) []preflight.Hit {
	hits := s.AsDrawn(s.ThinHits(s.ThinLines(), "", "line", limit, breaks), limit)
	return append(hits, s.ThinHits(s.ThinWhite(), preflight.White, "white line", limit, breaks)...)
}
