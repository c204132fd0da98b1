package impose

import (
	"testing"

	"pgregory.net/rapid"
)

// TestPalletCorpus holds the pattern of one design to the pallet loading literature. All values are from memory, but each equals the
// area bound or stands under it by one, so none can be too low by more than that. The recursion is known to solve the first table
// (Nelißen 1995; Morabito and Morales 1998) and to miss the second by one piece each: for those it takes the L-shaped cuts of Birgin,
// Morabito and Nishihara, A Note on an L-Approach for Solving the Manufacturer's Pallet Loading Problem, J. Oper. Res. Soc. 56, 2005.
func TestPalletCorpus(t *testing.T) {
	for _, k := range []struct{ w, h, a, b, best int }{
		{22, 16, 5, 3, 23}, {42, 31, 9, 4, 35}, {86, 82, 15, 11, 42}, {57, 44, 12, 5, 41}, {40, 25, 7, 3, 47}, {52, 33, 9, 4, 47}, {56, 52, 12, 5, 48},
	} {
		checkPallet(t, k.w, k.h, k.a, k.b, k.best)
	}
	for _, k := range []struct{ w, h, a, b, best int }{
		{43, 26, 7, 3, 53}, {49, 28, 8, 3, 57}, {57, 34, 7, 4, 69}, {63, 44, 8, 5, 69}, {61, 35, 10, 3, 71}, {67, 37, 11, 3, 75},
		{67, 40, 11, 3, 81}, {74, 49, 11, 4, 82}, {93, 46, 13, 4, 82}, {106, 59, 13, 5, 96}, {141, 71, 13, 8, 96}, {74, 46, 7, 5, 97}, {86, 52, 9, 5, 99},
	} {
		checkPallet(t, k.w, k.h, k.a, k.b, k.best-1)
	}
}

func checkPallet(t *testing.T, w, h, a, b, want int) {
	t.Helper()
	area := size{w, h}
	boxes := newGrid(0, size{a, b}, area, TurnEach).best()
	if len(boxes) != want {
		t.Errorf("%d x %d with %d x %d: %d pieces, want %d", w, h, a, b, len(boxes), want)
	}
	if fault := overlap(boxes, area); fault != "" {
		t.Errorf("%d x %d with %d x %d: %s", w, h, a, b, fault)
	}
}

func overlap(boxes []box, area size) string {
	for i, b := range boxes {
		if b.x < 0 || b.y < 0 || b.x+b.w > area.w || b.y+b.h > area.h {
			return "a piece reaches past the edge"
		}
		for _, o := range boxes[:i] {
			if (rect{b.x, b.y, b.size}).overlaps(rect{o.x, o.y, o.size}) {
				return "two pieces overlap"
			}
		}
	}
	return ""
}

// TestGridIsBest compares with a search through all placements on small sheets.
func TestGridIsBest(t *testing.T) {
	cases := 0
	for w := 1; w <= 9; w++ {
		for h := w; h <= 9; h++ {
			for a := 2; a <= 5; a++ {
				for b := 1; b < a; b++ {
					if w*h/(a*b) > 20 {
						continue // the search would take too long
					}
					cases++
					s := search{rows: make([]uint16, h), w: w, a: a, b: b}
					s.from(0, w*h)
					got := newGrid(0, size{a, b}, size{w, h}, TurnEach).best()
					if len(got) != s.best {
						t.Errorf("%d x %d with %d x %d: %d pieces, want %d", w, h, a, b, len(got), s.best)
					}
				}
			}
		}
	}
	t.Logf("%d cases", cases)
}

// search looks for the most pieces that fit into rows of cells, one bit each.
type search struct {
	rows       []uint16
	w, a, b    int
	have, best int
}

// from goes through the cells in reading order: each is covered by a piece one way or the other, or left free.
func (s *search) from(cell, free int) {
	for ; cell < s.w*len(s.rows) && s.rows[cell/s.w]>>(cell%s.w)&1 != 0; cell++ {
	}
	s.best = max(s.best, s.have)
	if cell == s.w*len(s.rows) || s.have+free/(s.a*s.b) <= s.best {
		return
	}
	x, y := cell%s.w, cell/s.w
	for _, p := range []size{{s.a, s.b}, {s.b, s.a}} {
		mask := uint16(1<<p.w-1) << x
		fits := x+p.w <= s.w && y+p.h <= len(s.rows)
		for r := y; fits && r < y+p.h; r++ {
			fits = s.rows[r]&mask == 0
		}
		if fits {
			s.paint(y, p.h, mask)
			s.have++
			s.from(cell+p.w, free-p.area())
			s.have--
			s.paint(y, p.h, mask)
		}
	}
	s.from(cell+1, free-1)
}

func (s *search) paint(y, rows int, mask uint16) {
	for r := y; r < y+rows; r++ {
		s.rows[r] ^= mask
	}
}

// TestSmallPieces: of pieces of which thousands fit, which are too many for tables, more than plain rows hold lie without overlapping.
func TestSmallPieces(t *testing.T) {
	area, piece := size{201_600, 288_600}, size{3_700, 2_900}
	g := newGrid(0, piece, area, TurnEach)
	if g.fromBlocks == nil {
		t.Fatal("tables were made")
	}
	boxes := g.best()
	if rows := max(count(piece, area), count(piece.turned(), area)); len(boxes) <= rows {
		t.Errorf("%d pieces, plain rows hold %d", len(boxes), rows)
	}
	if fault := overlap(boxes, area); fault != "" {
		t.Error(fault)
	}
}

// TestGridProperties: patterns hold together, none is worse than plain rows, and any part of one can be asked for.
func TestGridProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		area := size{rapid.IntRange(50_000, 300_000).Draw(t, "width"), rapid.IntRange(50_000, 300_000).Draw(t, "height")}
		piece := size{rapid.IntRange(9_000, 300_000).Draw(t, "w"), rapid.IntRange(9_000, 300_000).Draw(t, "h")}
		turn := Turning(rapid.IntRange(0, 2).Draw(t, "turn"))
		g := newGrid(0, piece, area, turn)
		boxes := g.best()
		least := count(piece, area)
		if turn != TurnNone {
			least = max(least, count(piece.turned(), area))
		}
		if len(boxes) < least || len(boxes)*piece.area() > area.area() {
			t.Fatalf("%d pieces, plain rows hold %d", len(boxes), least)
		}
		if len(boxes) > 300 {
			boxes = boxes[:300]
		}
		if fault := overlap(boxes, area); fault != "" {
			t.Fatal(fault)
		}
		if len(boxes) == 0 {
			return
		}
		n := rapid.IntRange(1, len(boxes)).Draw(t, "n")
		part := g.least(n)
		if fault := overlap(part, area); fault != "" || len(part) != n {
			t.Fatalf("%d of %d pieces: %s", len(part), n, fault)
		}
	})
}
