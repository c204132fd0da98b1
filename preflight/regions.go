package preflight

import (
	"cmp"
	"encoding/binary"
	"image"
	"slices"

	"peelcheck/raster"
)

const mostRegions = 200

// findWhiteRegions lists the connected pieces of what prints white.
func (s *Scene) findWhiteRegions() ([]WhiteRegion, int) {
	list, strength := raster.ListComponents(s.white, raster.Eight, s.whiteOfRun)
	order := make([]int, len(list))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(list[b].AreaPx, list[a].AreaPx) })
	out := make([]WhiteRegion, min(len(order), mostRegions))
	for i := range out {
		c := list[order[i]]
		out[i] = WhiteRegion{
			ID: i + 1, BoxPx: boxPx(c.Box), BoxMM: s.BoxMM(c.Box),
			AreaMM2: round3(s.MM2(float64(c.AreaPx))), MeanStrength: round3(float64(strength[order[i]]) / 255 / float64(c.AreaPx)),
		}
	}
	return out, len(list)
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
	for row := s.pic.Pix.Pix[y*s.pic.Pix.Stride:][4*x0 : 4*x1]; len(row) > 0; {
		n := equalRun(row, binary.LittleEndian.Uint32(row))
		w, _, _, _, _ := s.printed.planes(row[0], row[1], row[2])
		sum += n * int(scale(w, row[3]))
		row = row[4*n:]
	}
	return sum
}

func boxPx(r image.Rectangle) BoxPx { return BoxPx{r.Min.X, r.Min.Y, r.Dx(), r.Dy()} }
