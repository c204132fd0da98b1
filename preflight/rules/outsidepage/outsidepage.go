// Package outsidepage holds the rule outside-page: something lies beyond the edge of the page.
package outsidepage

import (
	_ "embed"
	"fmt"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule outside-page.
var Rule = &preflight.Rule{
	ID:     "outside-page",
	Title:  "something lies beyond the edge of the page",
	Group:  "documents",
	Doc:    doc,
	Level:  preflight.LevelNote,
	Limit:  preflight.LimitSpec{},
	Needs:  []preflight.Need{preflight.NeedFacts},
	Remedy: "Ask whether it belongs to the design; if so, ask for a page large enough to hold it.",
	Sources: []preflight.Source{
		{Title: "ISO 32000-1:2008, 14.11.2", Says: "what lies outside the crop box of a page is neither shown nor printed"},
	},
	Run: run,
}

func run(s *preflight.Scene, _ float64) []preflight.Hit {
	if s.Facts() == nil || len(s.Facts().Outside) == 0 {
		return nil
	}
	n := len(s.Facts().Outside)
	message := fmt.Sprintf("%d objects lie wholly beyond the edge of the page, and nothing of them prints.", n)
	if n == 1 {
		message = "One object lies wholly beyond the edge of the page, and nothing of it prints."
	}
	return []preflight.Hit{{Where: s.Everything(), Message: message}}
}
