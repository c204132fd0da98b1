// Package pagenote holds the rule page-note: note, stamp or form field on the page.
package pagenote

import (
	_ "embed"
	"fmt"

	"peelcheck/preflight"
	"peelcheck/raster"
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
		if !a.Prints && !a.Screen {
			continue
		}
		where := s.FactPlace(a.Box)
		if where.Empty() { // it lies beside the page
			where = s.Everything()
		}
		hits = append(hits, preflight.Hit{Where: where, Message: says(a)})
	}
	return hits
}

// says tells what an annotation is, what it says and whether it prints.
func says(a raster.FactAnnotation) string {
	what := kind(a.Kind)
	if a.Text != "" {
		what += fmt.Sprintf(" says %q: it", preflight.Shortened(a.Text))
	}
	switch {
	case a.Prints && a.Bare:
		return what + " may be printed with the design: the file leaves it to each program how to draw it."
	case a.Prints:
		return what + " will be printed with the design."
	}
	return what + " shows on the screen and is not printed."
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
	case "FileAttachment":
		return "A file attached to the page"
	case "Caret":
		return "A reader's mark for missing text"
	case "Highlight", "Underline", "Squiggly", "StrikeOut":
		return "A reader's marking of text"
	case "Line", "Square", "Circle", "Polygon", "PolyLine", "Ink":
		return "A line or shape drawn over the page"
	}
	return fmt.Sprintf("Something laid on the page (%s in the file)", of)
}
