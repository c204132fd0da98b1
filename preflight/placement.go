package preflight

import "fmt"

// fitToleranceMM forgives the rounding of sizes on their way through files; printers feed no truer than this.
const fitToleranceMM = 0.05

// maxMixed bounds the search for a mixed layout. Copies so small that more fit in a row gain nothing from mixing.
const maxMixed = 1000

// Place says how a printed box, in millimetres, sits on the sheet's printable area: upright if it fits so, else turned
// by 90 degrees. Copies are counted as pieces to be cut out, each the box with clearanceMM all round it: pieces do not
// overlap or leave the sheet, and their print stays in the printable area. SpareMM is negative where it does not fit. What the whole
// picture and the process tell is left out: Scene.Placement has it.
func Place(box SizeMM, sheet Sheet, clearanceMM float64) Placement {
	area := sheet.Printable()
	pl := Placement{PrintableMM: area, SpareMM: area}
	if !(box.W > 0 && box.H > 0) {
		pl.Fits = true
		pl.Notes = []string{"Nothing prints, so there is nothing to place."}
		return pl
	}
	turned := SizeMM{W: box.H, H: box.W}
	upScale, turnScale := largestScale(box, area), largestScale(turned, area)
	pl.LargestScale = max(upScale, turnScale)
	as := box
	switch {
	case fits(box, area):
		pl.Fits = true
	case fits(turned, area):
		pl.Fits, pl.TurnDeg, as = true, 90, turned
	case turnScale > upScale:
		pl.TurnDeg, as = 90, turned
	}
	pl.SpareMM = SizeMM{W: area.W - as.W, H: area.H - as.H}
	room := sheet.roomToTrim(clearanceMM)
	pl.FittingSizes = fittingSizes(box, room)
	if pl.Fits {
		pl.SheetShare = round4(box.W * box.H / (area.W * area.H))
		pl.CopiesPerSheet = max(1, copiesPerSheet(box, sheet, max(0, clearanceMM)))
	} else {
		pl.Tiled = tiling(box, room, max(0, clearanceMM))
	}
	pl.Notes = placementNotes(pl)
	return pl
}

func fits(box, area SizeMM) bool {
	return box.W <= area.W+fitToleranceMM && box.H <= area.H+fitToleranceMM
}

func largestScale(box, area SizeMM) float64 {
	return min(area.W/box.W, area.H/box.H)
}

// copiesPerSheet returns the most pieces that fit: all upright, all turned, or one block of each side by side.
func copiesPerSheet(box SizeMM, sheet Sheet, clearanceMM float64) int {
	// Where the margin is wider than the clearance, the pieces' edges stay that much inside the sheet.
	inset := max(0, sheet.Margin.MM()-clearanceMM)
	area := SizeMM{W: sheet.Width.MM() - 2*inset, H: sheet.Height.MM() - 2*inset}
	piece := SizeMM{W: box.W + 2*clearanceMM, H: box.H + 2*clearanceMM}
	acrossFirst := mixedColumns(area, piece)
	downFirst := mixedColumns(SizeMM{W: area.H, H: area.W}, SizeMM{W: piece.H, H: piece.W})
	return max(acrossFirst, downFirst)
}

// mixedColumns tries every number of upright columns and fills the strip that remains with turned pieces.
func mixedColumns(area, piece SizeMM) int {
	best := 0
	columns := inRow(area.W, piece.W)
	for upright := range min(columns, maxMixed) + 1 {
		rest := area.W - float64(upright)*piece.W
		best = max(best, upright*inRow(area.H, piece.H)+inRow(rest, piece.H)*inRow(area.H, piece.W))
	}
	return max(best, columns*inRow(area.H, piece.H))
}

func inRow(roomMM, sideMM float64) int {
	return max(0, int((roomMM+fitToleranceMM)/sideMM))
}

// placementNotes say what holds of a design that fits; of one that does not, its sizes say all.
func placementNotes(pl Placement) (notes []string) {
	if pl.Fits && pl.TurnDeg != 0 {
		notes = append(notes, "It fits only when turned by 90 degrees.")
	}
	if pl.CopiesPerSheet > 1 {
		notes = append(notes, fmt.Sprintf("%d copies fit on one sheet, each with room to trim all round.", pl.CopiesPerSheet))
	}
	return notes
}
