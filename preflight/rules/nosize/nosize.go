// Package nosize holds the rule no-size: printed size not known.
package nosize

import (
	_ "embed"
	"fmt"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule no-size.
var Rule = &preflight.Rule{
	ID:     "no-size",
	Title:  "printed size not known",
	Group:  "size and orientation",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Remedy: "Ask how wide the whole picture, with its empty edges, is to be printed and say it with --width, or export the artwork with its resolution.",
	Sources: []preflight.Source{
		{Title: "PNG specification (W3C), pHYs; ITU-T T.871 (JFIF); TIFF 6.0", Says: "where a file states its resolution; unit 0 or none states no size"},
	},
	Run: run,
}

func run(s *preflight.Scene, _ float64) []preflight.Hit {
	if s.SizeKnown {
		return nil
	}
	return []preflight.Hit{{
		Where: s.Everything(),
		Message: fmt.Sprintf("The file does not say how large it is to be printed; %.0f pixels an inch were assumed, which makes it %.0f x %.0f mm.",
			s.PPI, s.MM(float64(s.W)), s.MM(float64(s.H))),
	}}
}
