package preflight

import (
	"cmp"
	"encoding/binary"
	"image"
	"image/color"
	"slices"

	"peelcheck/raster"
)

const mostRegions = 200

// findWhiteRegions lists the connected pieces of what prints white.
func (s *Scene) findWhiteRegions() ([]WhiteRegion, int) {
	list, strength := raster.ListComponents(s.white, raster.Eight, s.whiteOfRun)
	order := largest(list, mostRegions)
	out := make([]WhiteRegion, len(order))
	for i := range out {
		c := list[order[i]]
		out[i] = WhiteRegion{
			ID: i + 1, BoxPx: boxPx(c.Box), BoxMM: s.BoxMM(c.Box),
			AreaMM2: round3(s.MM2(float64(c.AreaPx))), MeanStrength: round3(float64(strength[order[i]]) / 255 / float64(c.AreaPx)),
		}
	}
	return out, len(list)
}

// largest returns which at most n pieces are the largest, the largest first, of equal ones the first.
func largest(list []raster.Component, n int) []int {
	order := make([]int, 0, n+1)
	least := 0
	for i, c := range list {
		if c.AreaPx <= least {
			continue
		}
		at, _ := slices.BinarySearchFunc(order, c.AreaPx, func(j, area int) int { return cmp.Or(cmp.Compare(area, list[j].AreaPx), -1) })
		order = slices.Insert(order, at, i)
		if len(order) > n {
			order = order[:n]
		}
		if len(order) == n {
			least = list[order[n-1]].AreaPx
		}
	}
	return order
}

// whiteOfRun sums the white, in 255ths, of some pixels of a row.
func (s *Scene) whiteOfRun(y, x0, x1 int) int {
	sum := 0
	if x0&63 == 0 && x1-x0 >= 64 { // whole words are known
		for sums := s.survey.whiteSums[y*s.white.Stride:]; x1-x0 >= 64; x0 += 64 {
			sum += int(sums[x0>>6])
		}
	} else if next := (x0 | 63) + 1; next+64 <= x1 {
		return s.whiteOfRun(y, x0, next) + s.whiteOfRun(y, next, x1)
	}
	last, white := uint32(0), 0
	for row := s.pic.Pix.Pix[y*s.pic.Pix.Stride:][4*x0 : 4*x1]; len(row) >= 4; row = row[4:] {
		if p := binary.LittleEndian.Uint32(row); p != last {
			last, white = p, int(s.printed.whiteOf(color.NRGBA{row[0], row[1], row[2], row[3]}))
		}
		sum += white
	}
	return sum
}

func boxPx(r image.Rectangle) BoxPx { return BoxPx{r.Min.X, r.Min.Y, r.Dx(), r.Dy()} }
