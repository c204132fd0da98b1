package pdfcolour

import "slices"

// whiteName is the colorant of white; ISO 19593-1 gives its group of objects the same name.
const whiteName = "White"

// White gives a reader of the same file and planes for what is painted in a layer of white: it sets the plane White and no other, or none
// if that is not wanted. A spot colour lays down its tint there, other colours as much as they are dark: 1 - grey (ISO 32000-1, 10.3.2),
// CMYK by way of RGB (10.3.5); of several colorants the strongest counts.
func (r *Reader) White() *Reader {
	if r.white != nil {
		return r.white
	}
	none := func(float64) float64 { return 0 }
	planes := slices.Clone(r.planes)
	for _, name := range append(processNames[:], whiteName) {
		if !slices.Contains(planes, name) {
			planes = append(planes, name)
		}
	}
	r.white = NewReader(r.in.Table, planes, Curves{BG: none, UCR: none})
	r.white.samples = r.samples
	r.white.intoWhite = true
	return r.white
}

// whiteSpace is a colour space in a layer of white.
type whiteSpace struct {
	space
	process [4]int
	white   int
	set     []bool
}

func (r *Reader) inWhite(s space) space {
	w := &whiteSpace{space: s, process: r.process, white: slices.Index(r.planes, whiteName), set: r.noPlanes()}
	w.set[w.white] = true
	return w
}

func (s *whiteSpace) Paint(c []float64) Paint { return paint(s, c) }
func (s *whiteSpace) sets() []bool            { return s.set }

func (s *whiteSpace) nothing() bool {
	n, ok := s.space.(interface{ nothing() bool })
	return ok && n.nothing()
}

func (s *whiteSpace) shares(dst, c []float64) {
	s.space.shares(dst, c)
	k := dst[s.process[3]]
	darkness := 0.0
	for i, weight := range [3]float64{0.3, 0.59, 0.11} {
		darkness += weight * min(1, dst[s.process[i]]+k)
	}
	white := max(darkness, dst[s.white])
	clear(dst)
	dst[s.white] = white
}

// isIndexed reports whether a space is a table, of which the samples of an image are numbers.
func isIndexed(s space) bool {
	if w, ok := s.(*whiteSpace); ok {
		s = w.space
	}
	_, ok := s.(*indexedSpace)
	return ok
}
