// Package blank holds the rule blank: nothing in the artwork prints.
package blank

import (
	_ "embed"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule blank.
var Rule = &preflight.Rule{
	ID:     "blank",
	Title:  "nothing in the artwork prints",
	Group:  "white",
	Doc:    doc,
	Level:  preflight.LevelError,
	Remedy: "Look at the file: the design may be on a hidden layer, all white, or on another page.",
	Sources: []preflight.Source{
		{Title: "common practice, no source", Says: "an empty sheet is printed only by mistake"},
	},
	Run: run,
}

func run(s *preflight.Scene, _ float64) []preflight.Hit {
	if !s.Printed.Empty() {
		return nil
	}
	return []preflight.Hit{{Where: s.Everything(), Message: "Nothing in this artwork will print."}}
}
