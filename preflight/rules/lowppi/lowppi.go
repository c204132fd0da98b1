// Package lowppi holds the rule low-ppi: too few pixels for the printed size.
package lowppi

import (
	"cmp"
	_ "embed"
	"fmt"
	"slices"
	"strings"

	"peelcheck/preflight"
)

//go:embed doc.md
var doc string

// Rule is the rule low-ppi.
var Rule = &preflight.Rule{
	ID:     "low-ppi",
	Title:  "too few pixels for the printed size",
	Group:  "size and orientation",
	Doc:    doc,
	Level:  preflight.LevelWarning,
	Limit:  preflight.LimitSpec{Name: "ppi", Quantity: "resolution", Sense: preflight.AtLeast},
	Needs:  []preflight.Need{preflight.NeedSize, preflight.NeedFacts},
	Remedy: "Ask for the artwork with more pixels or as a vector PDF, or print it smaller.",
	Sources: []preflight.Source{
		{Title: "visual acuity of one minute of arc (Snellen)", Says: "at 600 mm a person tells about 145 pixels an inch apart, at 300 mm about 290"},
		{Title: "common practice, no source", Says: "under about 150 pixels an inch edges look stepped on a garment"},
	},
	Run: run,
}

func run(s *preflight.Scene, limit float64) []preflight.Hit {
	if s.Facts() != nil {
		return placed(s, limit)
	}
	if s.Art.Picture.Vector || !preflight.TooFewPixels(s.PPI, limit) {
		return nil
	}
	return []preflight.Hit{{
		Where: s.Everything(), Value: s.PPI,
		Message: fmt.Sprintf("The picture has %.0f pixels an inch at its printed size of %.0f x %.0f mm; edges will look stepped.", s.PPI, s.MM(float64(s.W)), s.MM(float64(s.H))),
		Remedy:  remedy(s),
	}}
}

// remedy names the largest size that the sheet and the place allow as well, if it is of use.
func remedy(s *preflight.Scene) string {
	if size := s.SizeForAll(); size != "" {
		return "Ask for the artwork with more pixels or as a vector PDF, or print it at " + size + "."
	}
	return "It cannot be used at this size: ask for the artwork with more pixels or as a vector PDF."
}

// placed are the pictures of a page that are too coarse where they lie; those that lie one upon the other are one place.
func placed(s *preflight.Scene, limit float64) (hits []preflight.Hit) {
	for _, pile := range piles(s.PlacedPictures(limit)) {
		coarsest := slices.MinFunc(pile, func(a, b preflight.PlacedPicture) int { return cmp.Compare(a.PPI, b.PPI) })
		box := s.BoxMM(coarsest.Where)
		has, placed := "has", "it is placed"
		if len(pile) > 1 {
			has, placed = "lie one upon the other; the coarsest has", "they are placed"
		}
		hits = append(hits, preflight.Hit{
			Where: coarsest.Where, Value: coarsest.PPI,
			Message: fmt.Sprintf("%s %s %.0f pixels an inch where %s, over %.0f x %.0f mm; edges will look stepped.", called(pile), has, coarsest.PPI, placed, box.W, box.H),
			Remedy:  remedy(s),
		})
	}
	return hits
}

// samePlacePx is how far the sides of pictures that lie one upon the other may be apart.
const samePlacePx = 2

// piles gathers pictures in the same place, in the order of the first of each.
func piles(list []preflight.PlacedPicture) (out [][]preflight.PlacedPicture) {
	for _, p := range list {
		i := slices.IndexFunc(out, func(pile []preflight.PlacedPicture) bool {
			q := pile[0].Where
			return p.Where.In(q.Inset(-samePlacePx)) && q.In(p.Where.Inset(-samePlacePx))
		})
		if i < 0 {
			out = append(out, []preflight.PlacedPicture{p})
			continue
		}
		out[i] = append(out[i], p)
	}
	return out
}

// called names pictures as the file does.
func called(pile []preflight.PlacedPicture) string {
	var names []string
	for _, p := range pile {
		if p.Name != "" && !slices.Contains(names, p.Name) {
			names = append(names, p.Name)
		}
	}
	what := "A picture"
	switch {
	case len(pile) > 1:
		what = fmt.Sprintf("%d pictures", len(pile))
	case pile[0].Mask:
		what = "A picture of one colour"
	}
	if len(names) > 0 {
		what += fmt.Sprintf(" (%s in the file)", strings.Join(names, ", "))
	}
	return what
}
