// Package unprepared holds the rule unprepared: file must be changed before it is printed.
package unprepared

import (
	_ "embed"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule unprepared.
var Rule = &preflight.Rule{
	ID:     "unprepared",
	Title:  "file must be changed before it is printed",
	Group:  "white",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Remedy: "Make the change in the drawing program, save the file under a new name and check that file without the flag.",
	Sources: []preflight.Source{
		{Title: "common practice, no source", Says: "the printer prints the file as it is, not as a flag of this program reads it"},
	},
	Run: run,
}

func run(s *preflight.Scene, _ float64) []preflight.Hit {
	var hits []preflight.Hit
	say := func(message string) {
		hits = append(hits, preflight.Hit{Where: s.Everything(), Message: message})
	}
	if p := s.Job.Process; p.WhiteSource == preflight.WhiteFromBlack && s.Job.WhiteDrawnAs != p.WhiteDrawnAs {
		say("Judged as if white and black had been swapped. The file as it stands prints white where it is black: swap them before printing.")
	}
	if s.Job.Background == preflight.BackgroundDrop && s.Background().Found {
		say("Judged without its flat background (" + s.Background().Colour + "). The file as it stands still has it: take it out before printing.")
	}
	return hits
}
