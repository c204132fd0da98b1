// Package impose places designs on sheets: as few sheets as it can find, or one sheet as full as it can be made.
//
// Start with Lay. Lengths are worked on in whole micrometres, so the same job always gives the same layout.
package impose

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
)

const (
	// fitTolerance forgives, in micrometres, the rounding of sizes on their way through files; printers feed no truer than this.
	fitTolerance = 50
	umPerMM      = 1000
	// mostSideMM bounds a side: beyond five metres a slip of the unit is likelier.
	mostSideMM = 5000
	// mostCopies bounds the copies of one job; a thousand sheets of ten are a slip of the keyboard.
	mostCopies = 10_000
)

// Turning says which designs may be turned by 90 degrees.
type Turning int

// The ways to turn: not at all, all copies of a design alike, or each copy as it fits best.
const (
	TurnNone Turning = iota
	TurnAlike
	TurnEach
)

// Design is what is placed: a box of the given size, so many times. Copies is not looked at when a sheet is filled.
type Design struct {
	Name              string
	WidthMM, HeightMM float64
	Copies            int
}

// Sheet is what is printed on. Designs keep MarginMM and ClearanceMM, whichever is more, from its edges and SpacingMM from
// one another.
type Sheet struct {
	WidthMM, HeightMM float64
	MarginMM          float64 // what the printer cannot reach
	ClearanceMM       float64 // what is wanted for trimming
	SpacingMM         float64
}

// Placement is one copy of a design, counted from 0, its box turned clockwise by TurnDeg (0 or 90); X and Y are the box's top
// left corner from the sheet's.
type Placement struct {
	Design, Copy int
	XMM, YMM     float64
	TurnDeg      int
}

// Layout is what Lay found.
type Layout struct {
	Sheets []Imposed
	// Bound is the number of sheets that no layout of the same job can do with less than.
	Bound int
	// Counts are the copies placed of each design.
	Counts []int
}

// Imposed is one sheet, its placements in rows from the top left.
type Imposed struct {
	Placements []Placement
	// Share is the area of the designs on it by the printable area, which is the sheet within its margin.
	Share float64
}

// Lay places every copy of every design on as few sheets as it finds. It fails, naming the size that would fit, if a design is
// larger than the sheet takes.
func Lay(designs []Design, sheet Sheet, turn Turning) (*Layout, error) {
	j, err := newJob(designs, sheet, turn)
	if err != nil {
		return nil, fmt.Errorf("impose: %w", err)
	}
	total := 0
	for _, d := range designs {
		if d.Copies < 1 {
			return nil, fmt.Errorf("impose: design %q: %d copies: there must be at least 1", d.Name, d.Copies)
		}
		if total += min(d.Copies, mostCopies+1); total > mostCopies {
			return nil, fmt.Errorf("impose: more than %d copies in one job", mostCopies)
		}
		j.counts = append(j.counts, d.Copies)
	}
	if len(designs) == 1 {
		return j.layout(j.layOne(), j.bound()), nil
	}
	return j.layout(j.laySeveral(), j.bound()), nil
}

// Fill puts as many copies as it can onto one sheet. Several designs take turns, each getting one more copy while it fits; one that
// no longer fits is passed over while the others go on. It fails if not every design fits at least once.
func Fill(designs []Design, sheet Sheet, turn Turning) (*Layout, error) {
	j, err := newJob(designs, sheet, turn)
	if err != nil {
		return nil, fmt.Errorf("impose: %w", err)
	}
	j.counts = make([]int, len(designs))
	if len(designs) == 1 {
		g := j.gridOf(0)
		placed := g.best()
		if len(placed) == 0 {
			return nil, errors.New("impose: nothing was placed (bug)")
		}
		j.counts[0] = len(placed)
		return j.layout([][]box{placed}, 1), nil
	}
	placed, err := j.fillSeveral()
	if err != nil {
		return nil, fmt.Errorf("impose: %w", err)
	}
	return j.layout([][]box{placed}, 1), nil
}

// size is in micrometres.
type size struct{ w, h int }

func (s size) turned() size { return size{s.h, s.w} }

func (s size) area() int { return s.w * s.h }

// box is a design on a sheet, in micrometres from the top left of where designs may lie, spacing included to the right and below.
type box struct {
	design int
	x, y   int
	size
	turned bool
}

// job is what is to be placed. Pieces and area have the spacing added on, so that pieces may touch.
type job struct {
	designs []Design
	sheet   Sheet
	turn    Turning
	pieces  []size
	area    size
	inset   float64 // mm from the sheet's edge to the area
	counts  []int
}

func newJob(designs []Design, sheet Sheet, turn Turning) (*job, error) {
	if err := sheet.check(); err != nil {
		return nil, err
	}
	if turn < TurnNone || turn > TurnEach {
		return nil, fmt.Errorf("no way of turning %d", turn)
	}
	if len(designs) == 0 {
		return nil, errors.New("no designs to place")
	}
	j := &job{designs: designs, sheet: sheet, turn: turn, inset: max(sheet.MarginMM, sheet.ClearanceMM)}
	spacing := micrometres(sheet.SpacingMM)
	room := size{micrometres(sheet.WidthMM - 2*j.inset), micrometres(sheet.HeightMM - 2*j.inset)}
	for _, d := range designs {
		p, err := d.size()
		if err != nil {
			return nil, err
		}
		fits := p.w <= room.w+fitTolerance && p.h <= room.h+fitTolerance
		if t := p.turned(); turn != TurnNone {
			fits = fits || t.w <= room.w+fitTolerance && t.h <= room.h+fitTolerance
		}
		if !fits {
			return nil, tooLarge(d, room, turn)
		}
		j.pieces = append(j.pieces, size{p.w + spacing, p.h + spacing})
	}
	j.area = size{room.w + spacing + fitTolerance, room.h + spacing + fitTolerance}
	return j, nil
}

func micrometres(mm float64) int { return int(math.Round(mm * umPerMM)) }

func (s Sheet) check() error {
	for _, v := range []float64{s.MarginMM, s.ClearanceMM, s.SpacingMM} {
		if !(v >= 0 && v <= mostSideMM) {
			return fmt.Errorf("margin %g, clearance %g and spacing %g mm must be from 0 to %d", s.MarginMM, s.ClearanceMM, s.SpacingMM, mostSideMM)
		}
	}
	if !(s.WidthMM > 0 && s.WidthMM <= mostSideMM && s.HeightMM > 0 && s.HeightMM <= mostSideMM) {
		return fmt.Errorf("sheet of %g x %g mm: each side must be more than 0 and at most %d mm", s.WidthMM, s.HeightMM, mostSideMM)
	}
	if inset := max(s.MarginMM, s.ClearanceMM); 2*inset >= min(s.WidthMM, s.HeightMM) {
		return fmt.Errorf("sheet of %g x %g mm: %g mm kept free at each edge leave no room", s.WidthMM, s.HeightMM, inset)
	}
	return nil
}

func (d Design) size() (size, error) {
	if !(d.WidthMM > 0 && d.WidthMM <= mostSideMM && d.HeightMM > 0 && d.HeightMM <= mostSideMM) {
		return size{}, fmt.Errorf("design %q is %.4g x %.4g mm: each side must be more than 0 and at most %d mm", d.Name, d.WidthMM, d.HeightMM, mostSideMM)
	}
	// Nothing printable is smaller than a micrometre; a side of 0 would fit without end.
	return size{max(1, micrometres(d.WidthMM)), max(1, micrometres(d.HeightMM))}, nil
}

func tooLarge(d Design, room size, turn Turning) error {
	w, h := float64(room.w)/umPerMM, float64(room.h)/umPerMM
	scale, how := min(w/d.WidthMM, h/d.HeightMM), ""
	if t := min(w/d.HeightMM, h/d.WidthMM); turn != TurnNone && t > scale {
		scale, how = t, ", turned by 90 degrees"
	}
	floor := func(v float64) float64 { return math.Floor(v*10) / 10 }
	return fmt.Errorf("design %q is %.5g x %.5g mm and the sheet takes %.1f x %.1f mm: the largest that fits is %.1f x %.1f mm%s",
		d.Name, d.WidthMM, d.HeightMM, floor(w), floor(h), floor(d.WidthMM*scale), floor(d.HeightMM*scale), how)
}

// bound is the larger of two lower bounds: the area of the pieces by that of the sheet, and the number of pieces too large for two of
// them to share a sheet (Martello and Vigo, Exact Solution of the Two-Dimensional Finite Bin Packing Problem, Management Science
// 44(3), 1998, their L1; from memory).
func (j *job) bound() int {
	area, large := 0, 0
	for i, p := range j.pieces {
		area += j.counts[i] * p.area()
		if j.alone(p) && (j.turn == TurnNone || j.alone(p.turned())) {
			large += j.counts[i]
		}
	}
	return max(1, large, (area+j.area.area()-1)/j.area.area())
}

// alone reports whether a piece, lying so, is more than half as wide and as high as the area, or does not fit at all.
func (j *job) alone(p size) bool {
	return 2*p.w > j.area.w && 2*p.h > j.area.h || !p.within(j.area)
}

func (s size) within(area size) bool { return s.w <= area.w && s.h <= area.h }

func (j *job) layout(sheets [][]box, bound int) *Layout {
	l := &Layout{Bound: bound, Counts: j.counts}
	next := make([]int, len(j.designs))
	printable := (j.sheet.WidthMM - 2*j.sheet.MarginMM) * (j.sheet.HeightMM - 2*j.sheet.MarginMM)
	for _, boxes := range sheets {
		slices.SortFunc(boxes, func(a, b box) int { return cmp.Or(a.y-b.y, a.x-b.x) })
		var s Imposed
		for _, b := range boxes {
			p := Placement{Design: b.design, Copy: next[b.design], XMM: j.inset + float64(b.x)/umPerMM, YMM: j.inset + float64(b.y)/umPerMM}
			if b.turned {
				p.TurnDeg = 90
			}
			next[b.design]++
			d := j.designs[b.design]
			s.Share += d.WidthMM * d.HeightMM / printable
			s.Placements = append(s.Placements, p)
		}
		l.Sheets = append(l.Sheets, s)
	}
	return l
}
