// Package offplace holds the rule off-place: larger than its place on the garment takes.
package offplace

import (
	_ "embed"
	"fmt"
	"strings"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule off-place.
var Rule = &preflight.Rule{
	ID:     "off-place",
	Title:  "larger than its place on the garment takes",
	Group:  "size and orientation",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Limit:  preflight.LimitSpec{Quantity: "excess", Unit: "mm"},
	Needs:  []preflight.Need{preflight.NeedPlace, preflight.NeedSize},
	Remedy: "Print it smaller, or choose another place.",
	Sources: []preflight.Source{
		{Title: "common practice, no source", Says: "how large a design goes on a chest, a sleeve, a cap and so on; the sizes built in are from memory"},
	},
	Run: run,
}

// looseMM is how much larger a design may be: places are round figures, and nobody presses truer.
const looseMM = 1

func run(s *preflight.Scene, _ float64) []preflight.Hit {
	if s.Job.Place == nil || s.Printed.Empty() {
		return nil
	}
	box, place := s.BoxMM(s.Printed), s.Job.Place.Size()
	wider, higher := box.W-place.W, box.H-place.H
	if max(wider, higher) <= looseMM {
		return nil
	}
	var over []string
	if wider > looseMM {
		over = append(over, fmt.Sprintf("%.1f mm wider", wider))
	}
	if higher > looseMM {
		over = append(over, fmt.Sprintf("%.1f mm higher", higher))
	}
	fit, pixels := s.ShrunkTo(place)
	return []preflight.Hit{{
		Where: s.Printed, Value: max(wider, higher),
		Message: fmt.Sprintf("The design is %.1f x %.1f mm, %s than %s takes (%.0f x %.0f mm). The largest that fits there is %s.%s",
			box.W, box.H, strings.Join(over, " and "), s.Job.Place.Name, place.W, place.H, fit.Words(), pixels),
		Remedy: remedy(s),
	}}
}

// remedy names the largest size that the sheet and the pixels allow as well.
func remedy(s *preflight.Scene) string {
	if size := s.SizeForAll(); size != "" {
		return "Print it at " + size + ", or choose another place."
	}
	return ""
}
