package raster

import "image"

// sight tells in which directions coverage rises to both sides of a pixel of a gap, so that most cuts need not be followed: along an edge
// between two colours it rises to one side only.
type sight struct {
	paths [2 * directions][]image.Point // by direction: the pixels on a ray from the middle of a pixel, from the nearest on
}

// newSight follows rays of so many steps.
func newSight(steps int) *sight {
	s := &sight{}
	for d := range s.paths {
		x, y := rayX[d]/2, rayY[d]/2
		var last image.Point
		for range steps {
			if at := image.Pt((x+one/2)>>16, (y+one/2)>>16); at != last {
				s.paths[d] = append(s.paths[d], at)
				last = at
			}
			x, y = x+rayX[d], y+rayY[d]
		}
	}
	return s
}

// across reports whether there is more coverage than at a pixel both in a direction and in the opposite one.
func (s *sight) across(w *window, p image.Point, direction int) bool {
	at := (p.Y-w.r.Min.Y)*w.w + p.X - w.r.Min.X
	enough := int(w.pix[at]) * (riseShare + 1) / riseShare
	return w.rises(at, s.paths[direction], enough) && w.rises(at, s.paths[direction+directions], enough)
}

// One in riseShare of its coverage is how much more a pixel must have to lie beside a gap; dips asks for more.
const riseShare = 20

func (w *window) rises(at int, path []image.Point, enough int) bool {
	for _, d := range path {
		if int(w.pix[at+d.Y*w.w+d.X]) > enough {
			return true
		}
	}
	return false
}
