// Package pagenote holds the rule page-note: note, stamp or form field on the page.
package pagenote

import (
	_ "embed"
	"fmt"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule page-note.
var Rule = &preflight.Rule{
	ID:     "page-note",
	Title:  "note, stamp or form field on the page",
	Group:  "documents",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Limit:  preflight.LimitSpec{},
	Needs:  []preflight.Need{preflight.NeedFacts},
	Remedy: "Take notes and fields out of the file; if they belong to the design, ask for it with them made part of the page (flattened).",
	Sources: []preflight.Source{
		{Title: "ISO 32000-1:2008, 12.5.3", Says: "flags of annotations: Print says whether one is printed, Hidden and NoView whether it shows"},
	},
	Run: run,
}

func run(s *preflight.Scene, _ float64) []preflight.Hit {
	if s.Facts() == nil {
		return nil
	}
	var hits []preflight.Hit
	for _, a := range s.Facts().Annotations {
		where := s.FactPlace(a.Box)
		if where.Empty() || !a.Prints && !a.Screen {
			continue
		}
		h := preflight.Hit{Where: where, Message: fmt.Sprintf("%s will be printed with the design.", kind(a.Kind))}
		if !a.Prints {
			h.Message = fmt.Sprintf("%s shows on the screen and is not printed.", kind(a.Kind))
		}
		hits = append(hits, h)
	}
	return hits
}

// kind names an annotation in plain words.
func kind(of string) string {
	switch of {
	case "Widget":
		return "A form field"
	case "Stamp":
		return "A stamp laid on the page"
	case "FreeText", "Text":
		return "A note laid on the page"
	case "Highlight", "Underline", "Squiggly", "StrikeOut":
		return "A reader's marking of text"
	case "Line", "Square", "Circle", "Polygon", "PolyLine", "Ink":
		return "A line or shape drawn over the page"
	}
	return fmt.Sprintf("Something laid on the page (%s in the file)", of)
}
