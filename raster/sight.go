package raster

import "image"

// sight tells from the mask in which directions something lies beside a gap, so that most cuts need not be followed: where a shape is merely
// stepped, nothing lies across from it.
type sight struct {
	reach int          // in pixels
	paths [][]sightRow // by direction: the pixels on a ray from the middle of a pixel
	rows  []uint64     // of what is seen: bit reach is the pixel itself
}

// sightRow is the part of a ray in one row, counted from the top of what is seen.
type sightRow struct {
	row  int
	bits uint64
}

// mostSightPx is as far as a row of 64 bits lets it see.
const mostSightPx = 31

// newSight follows rays of so many steps; nil if they lead too far.
func newSight(steps int) *sight {
	s := &sight{reach: int(float64(steps)*stepPx) + 2, paths: make([][]sightRow, 2*directions)}
	if s.reach > mostSightPx {
		return nil
	}
	for d := range s.paths {
		x, y := rayX[d]/2, rayY[d]/2
		for range steps {
			at := image.Pt((x+one/2)>>16, (y+one/2)>>16)
			path := s.paths[d]
			if n := len(path); n == 0 || path[n-1].row != at.Y+s.reach {
				s.paths[d] = append(path, sightRow{row: at.Y + s.reach})
			}
			s.paths[d][len(s.paths[d])-1].bits |= 1 << (at.X + s.reach)
			x, y = x+rayX[d], y+rayY[d]
		}
	}
	s.rows = make([]uint64, 2*s.reach+1)
	return s
}

// look takes in what lies round a pixel where the mask, of a gap, is clear.
func (s *sight) look(mask *Bitmap, p image.Point) {
	for i := range s.rows {
		s.rows[i] = 0
		if y := p.Y + i - s.reach; y >= 0 && y < mask.H {
			s.rows[i] = clearBits(mask.Row(y), p.X-s.reach, 2*s.reach+1, mask.W)
		}
	}
}

// clearBits are the bits from x on, at most 64, that are clear in a row of w pixels.
func clearBits(row []uint64, x, n, w int) uint64 {
	from, until := max(0, x), min(w, x+n)
	if from >= until {
		return 0
	}
	i, shift := from>>6, uint(from&63)
	bits := ^row[i] >> shift
	if shift > 0 && i+1 < len(row) {
		bits |= ^row[i+1] << (64 - shift)
	}
	return bits & (^uint64(0) >> (64 - (until - from))) << (from - x)
}

// sees reports whether anything that was taken in lies in a direction.
func (s *sight) sees(direction int) bool {
	for _, r := range s.paths[direction] {
		if s.rows[r.row]&r.bits != 0 {
			return true
		}
	}
	return false
}

// across reports whether anything lies both in a direction and in the opposite one.
func (s *sight) across(direction int) bool { return s.sees(direction) && s.sees(direction+directions) }
