package preflight

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

var a4 = Sheet{Name: "a4", Width: 210, Height: 297, Margin: 4.2} // printable 201.6 x 288.6 mm

// Expected values are worked by hand from the sheet, the margin and the clearance.
func TestPlace(t *testing.T) {
	tests := []struct {
		name      string
		box       SizeMM
		clearance float64
		fits      bool
		turn      int
		copies    int
		spare     SizeMM
		scale     float64
	}{
		{"exactly the printable area", SizeMM{201.6, 288.6}, 5, true, 0, 1, SizeMM{0, 0}, 1},
		{"within the tolerance", SizeMM{201.64, 288.6}, 5, true, 0, 1, SizeMM{-0.04, 0}, 201.6 / 201.64},
		{"beyond the tolerance", SizeMM{201.7, 288.6}, 5, false, 0, 0, SizeMM{-0.1, 0}, 201.6 / 201.7},
		{"only turned", SizeMM{280, 150}, 5, true, 90, 1, SizeMM{51.6, 8.6}, 288.6 / 280},
		{"too large, better turned", SizeMM{400, 200}, 5, false, 90, 0, SizeMM{1.6, -111.4}, 288.6 / 400},
		// Margin 4.2 is under the clearance, so pieces use the whole sheet: 90 x 90 pieces, two across and three down.
		{"grid", SizeMM{80, 80}, 5, true, 0, 6, SizeMM{121.6, 208.6}, 2.52},
		// 100 x 60 pieces: upright 2 x 4 = 8, turned 3 x 2 = 6; three rows of 2 upright, then 3 turned (180 + 100 high): 9.
		{"rows of both", SizeMM{90, 50}, 5, true, 0, 9, SizeMM{111.6, 238.6}, 288.6 / 90},
		// 90 x 120 pieces: upright 2 x 2 = 4, turned 1 x 3 = 3; a column of 2 upright beside 3 turned (90 + 120 wide): 5.
		{"columns of both", SizeMM{80, 110}, 5, true, 0, 5, SizeMM{121.6, 178.6}, 2.52},
		// 140 x 100 pieces: upright 1 x 2 = 2, turned 2 x 2 = 4.
		{"turned grid is best", SizeMM{130, 90}, 5, true, 0, 4, SizeMM{71.6, 198.6}, 288.6 / 130},
		// Without clearance the margin binds, 201.6 x 288.6: upright 2 x 2 = 4, turned 1 x 4 = 4; a column of 2 upright
		// beside 4 turned (70 + 105 wide): 6.
		{"no clearance", SizeMM{70, 105}, 0, true, 0, 6, SizeMM{131.6, 183.6}, 288.6 / 105},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			pl := Place(tt.box, a4, tt.clearance)
			if pl.Fits != tt.fits || pl.TurnDeg != tt.turn || pl.CopiesPerSheet != tt.copies {
				t.Errorf("fits %v, turn %d, copies %d; want %v, %d, %d", pl.Fits, pl.TurnDeg, pl.CopiesPerSheet, tt.fits, tt.turn, tt.copies)
			}
			if math.Abs(pl.SpareMM.W-tt.spare.W) > 1e-9 || math.Abs(pl.SpareMM.H-tt.spare.H) > 1e-9 {
				t.Errorf("spare %v, want %v", pl.SpareMM, tt.spare)
			}
			if math.Abs(pl.LargestScale-tt.scale) > 1e-9 {
				t.Errorf("largest scale %g, want %g", pl.LargestScale, tt.scale)
			}
		})
	}
}

func TestPlaceNotes(t *testing.T) {
	if pl := Place(SizeMM{280, 150}, a4, 5); len(pl.Notes) != 1 || !strings.Contains(pl.Notes[0], "only when turned") {
		t.Errorf("notes %q", pl.Notes)
	}
	for _, empty := range []SizeMM{{}, {10, 0}, {math.NaN(), 1}} {
		pl := Place(empty, a4, 5)
		if !pl.Fits || pl.CopiesPerSheet != 0 || pl.LargestScale != 0 || len(pl.Notes) == 0 {
			t.Errorf("empty box %v: %+v", empty, pl)
		}
	}
}

// TestCopiesAgainstEachLayout compares with a slow twin that puts down every piece of each layout and checks that none
// overlaps another or leaves the area.
func TestCopiesAgainstEachLayout(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		box := SizeMM{float64(rapid.IntRange(10, 200).Draw(t, "w")), float64(rapid.IntRange(10, 288).Draw(t, "h"))}
		clearance := float64(rapid.IntRange(0, 12).Draw(t, "clearance"))
		want := slowCopies(box, a4, clearance)
		if got := copiesPerSheet(box, a4, clearance); got != want {
			t.Fatalf("%v with %g mm: %d copies, want %d", box, clearance, got, want)
		}
	})
}

func slowCopies(box SizeMM, s Sheet, clearance float64) int {
	inset := max(0, s.Margin.MM()-clearance)
	w, h := s.Width.MM()-2*inset, s.Height.MM()-2*inset
	pw, ph := box.W+2*clearance, box.H+2*clearance
	fill := func(x0, y0, pw, ph float64) (n int) {
		for y := y0; y+ph <= h+fitToleranceMM; y += ph {
			for x := x0; x+pw <= w+fitToleranceMM; x += pw {
				n++
			}
		}
		return n
	}
	best := 0
	for cut := 0.0; cut <= w+fitToleranceMM; cut += pw {
		left := 0
		for x := 0.0; x+pw <= cut+fitToleranceMM; x += pw {
			for y := 0.0; y+ph <= h+fitToleranceMM; y += ph {
				left++
			}
		}
		best = max(best, left+fill(cut, 0, ph, pw))
	}
	for cut := 0.0; cut <= h+fitToleranceMM; cut += ph {
		top := 0
		for y := 0.0; y+ph <= cut+fitToleranceMM; y += ph {
			for x := 0.0; x+pw <= w+fitToleranceMM; x += pw {
				top++
			}
		}
		best = max(best, top+fill(0, cut, ph, pw))
	}
	return best
}
