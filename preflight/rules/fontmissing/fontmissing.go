// Package fontmissing holds the rule font-missing: font that the file does not hold.
package fontmissing

import (
	_ "embed"
	"fmt"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule font-missing.
var Rule = &preflight.Rule{
	ID:     "font-missing",
	Title:  "font that the file does not hold",
	Group:  "documents",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Limit:  preflight.LimitSpec{},
	Needs:  []preflight.Need{preflight.NeedFacts},
	Remedy: "Ask for the PDF with all its fonts inside it (embedded), or with its text turned to outlines.",
	Sources: []preflight.Source{
		{Title: "ISO 32000-1:2008, 9.9", Says: "a font whose program is not embedded is replaced by one the reader has; 9.6.2.2 names the 14 that readers should know"},
	},
	Run: run,
}

func run(s *preflight.Scene, _ float64) []preflight.Hit {
	facts := s.Facts()
	if facts == nil {
		return nil
	}
	var hits []preflight.Hit
	at := map[int]int{} // hit by font
	for _, t := range facts.Texts {
		where := s.FactPlace(t.Box)
		if f := facts.Fonts[t.Font]; f.Embedded || t.Unseen || t.Letters == 0 || !s.PrintsIn(where) {
			continue
		}
		if i, ok := at[t.Font]; ok {
			hits[i].Where = hits[i].Where.Union(where)
			continue
		}
		at[t.Font] = len(hits)
		hits = append(hits, preflight.Hit{
			Where:   where,
			Message: fmt.Sprintf("The font %q is not in the file; %q and all else set in it prints in another font, so letters and their widths differ.", name(facts.Fonts[t.Font].Name), preflight.Shortened(t.Text)),
		})
	}
	return hits
}

func name(of string) string {
	if of == "" {
		return "without a name"
	}
	return of
}
