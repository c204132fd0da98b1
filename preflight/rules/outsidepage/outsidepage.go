// Package outsidepage holds the rule outside-page: something lies beyond the edge of the page.
package outsidepage

import (
	_ "embed"
	"fmt"
	"image"
	"slices"

	"peelcheck/preflight"
	"peelcheck/raster"
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

// stripMM is how deep the strip is, inside the page, that points to what lies beyond its edge.
const stripMM = 3

// sides are the edges of a page, in the order in which they are told.
var sides = []string{"left", "right", "upper", "lower"}

func run(s *preflight.Scene, _ float64) (hits []preflight.Hit) {
	f := s.Facts()
	if f == nil {
		return nil
	}
	at, count := make([]image.Rectangle, len(sides)), make([]int, len(sides))
	for _, b := range f.Outside {
		gaps := []float64{-b.X - b.W, b.X - f.WidthMM, -b.Y - b.H, b.Y - f.HeightMM}
		side := slices.Index(gaps, slices.Max(gaps))
		at[side] = at[side].Union(s.FactPlace(strip(f, b, side)))
		count[side]++
	}
	for side, n := range count {
		message := fmt.Sprintf("%d objects lie wholly beyond the %s edge of the page, and nothing of them prints.", n, sides[side])
		switch n {
		case 0:
			continue
		case 1:
			message = fmt.Sprintf("One object lies wholly beyond the %s edge of the page, and nothing of it prints.", sides[side])
		}
		hits = append(hits, preflight.Hit{Where: at[side], Message: message})
	}
	return hits
}

// strip is the place at one side of the page that is nearest to a box beyond it.
func strip(f *raster.Facts, b raster.FactBox, side int) raster.FactBox {
	x, w := along(b.X, b.W, f.WidthMM)
	y, h := along(b.Y, b.H, f.HeightMM)
	switch sides[side] {
	case "left":
		x, w = 0, stripMM
	case "right":
		x, w = f.WidthMM-stripMM, stripMM
	case "upper":
		y, h = 0, stripMM
	default:
		y, h = f.HeightMM-stripMM, stripMM
	}
	return raster.FactBox{X: x, Y: y, W: w, H: h}
}

// along cuts a stretch to a side of the page, where at least stripMM of it are left.
func along(from, length, side float64) (start, rest float64) {
	start = min(max(from, 0), max(0, side-stripMM))
	end := max(min(from+length, side), start+stripMM)
	return start, end - start
}
