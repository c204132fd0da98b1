package raster

import (
	"cmp"
	"image"
	"math"
	"slices"
)

// stretch is an unbroken part of a ridge that is too thin; group is the index of the first stretch of its group.
type stretch struct {
	from, to int32
	group    int32
}

// judge decides from the samples which features the piece holds: one for each group of places that are too thin, groups of one
// piece that nearly meet being one. Its time grows with the samples alone, however many features they make.
func (m *meter) judge() []*Feature {
	near, reach := max(2, 0.45*m.q.LimitPx), 2*m.q.LimitPx+1
	all := m.stretches()
	m.link(all, near)
	slices.SortStableFunc(all, func(a, b stretch) int { return cmp.Compare(a.group, b.group) })
	total := m.totalLength()
	judged := m.judged[:0] // by kept stretch
	kept := all[:0]
	for from, to := 0, 0; from < len(all); from = to {
		for to = from + 1; to < len(all) && all[to].group == all[from].group; {
			to++
		}
		g := all[from:to]
		f := m.judgeGroup(g, total)
		if f == nil {
			continue
		}
		first := int32(len(kept))
		for _, s := range g {
			s.group = first
			kept = append(kept, s)
			judged = append(judged, f)
		}
	}
	m.judged = judged
	m.link(kept, reach)
	return m.assemble(kept, judged)
}

// assemble puts what was judged of each stretch together, group by group, and gives every feature its pixels.
func (m *meter) assemble(kept []stretch, judged []*Feature) []*Feature {
	var out []*Feature
	m.feature = slices.Grow(m.feature[:0], len(m.samples))[:len(m.samples)]
	for i := range m.feature {
		m.feature[i] = none
	}
	m.index = slices.Grow(m.index[:0], len(kept))[:len(kept)]
	index := m.index // by first stretch of a group: its feature
	for i, s := range kept {
		switch f := judged[i]; {
		case int(s.group) == i:
			index[i] = int32(len(out))
			out = append(out, f)
		case f != judged[i-1]:
			out[index[s.group]].add(f)
		}
		for k := s.from; k < s.to; k++ {
			m.feature[k] = index[s.group]
		}
	}
	m.fill(out)
	return out
}

// totalLength is that of all ridges.
func (m *meter) totalLength() float64 {
	all := 0.0
	for i := range m.samples {
		all += m.samples[i].step
	}
	return all
}

// stretches lists what is too thin, ridge by ridge.
func (m *meter) stretches() []stretch {
	out := m.thin[:0]
	for _, r := range m.ridges {
		open := false
		for i := r.from; i < r.to; i++ {
			if !m.isThin(&m.samples[i]) {
				open = false
				continue
			}
			if !open {
				out = append(out, stretch{from: i, to: i, group: int32(len(out))})
				open = true
			}
			out[len(out)-1].to = i + 1
		}
	}
	m.thin = out
	return out
}

// link unites groups of which samples lie in the same square of a grid or in squares that touch.
func (m *meter) link(all []stretch, side float64) {
	if len(all) < 2 {
		return
	}
	parent := make([]int32, len(all))
	buckets := map[image.Point]int32{}
	for i, s := range all {
		parent[i] = s.group
	}
	for i, s := range all {
		for _, p := range m.samples[s.from:s.to] {
			at := pixelAt(p.x/side, p.y/side)
			if o, ok := buckets[at]; ok {
				union(parent, o, int32(i))
			} else {
				buckets[at] = int32(i)
			}
		}
	}
	for at, i := range buckets {
		for _, d := range []image.Point{{1, 0}, {-1, 1}, {0, 1}, {1, 1}} {
			if o, ok := buckets[at.Add(d)]; ok {
				union(parent, o, i)
			}
		}
	}
	for i := range all {
		all[i].group = find(parent, int32(i))
	}
}

func (m *meter) judgeGroup(thin []stretch, total float64) *Feature {
	if m.q.Blend != nil && m.isBlend(thin) {
		return nil
	}
	f := m.measured(thin)
	wholly := m.alone && f.LengthPx >= wholeShare*total
	long := f.LengthPx > 5*m.q.LimitPx
	short := f.LengthPx < 3*m.q.LimitPx
	if m.q.Gap && (f.TypicalPx < seamPx || f.TypicalPx < 2*seamPx && f.LengthPx < 2*m.q.LimitPx) || f.TypicalPx < seamPx && short {
		return nil
	}
	if f.LengthPx < shortestShare*m.q.LimitPx || !wholly && !long && !slices.ContainsFunc(thin, m.runsOn) {
		return nil
	}
	return f
}

// isBlend reports whether most of what is thin is only a passage between two colours; a few places of each stretch tell, as many as it takes.
func (m *meter) isBlend(thin []stretch) bool {
	blends, rest := 0.0, 0.0
	for _, s := range thin {
		for i, every := s.places(); i < s.to; i += every {
			rest += m.samples[i].step
		}
	}
	all := rest
	for _, s := range thin {
		for i, every := s.places(); i < s.to; i += every {
			p := &m.samples[i]
			rest -= p.step
			if p.width < blendPx && m.isPassage(p) {
				blends += p.step
			}
			if 2*blends > all || 2*(blends+rest) < all {
				return 2*blends > all
			}
		}
	}
	return 2*blends > all
}

// isPassage reports whether a cut is only a passage between two colours. Mostly its ends tell that it is none: they are alike.
func (m *meter) isPassage(p *sample) bool {
	reach := p.half + 0.5
	ux, uy := unit(p.dir)
	ends := append(m.path[:0], pixelAt(p.x-reach*ux, p.y-reach*uy), pixelAt(p.x+reach*ux, p.y+reach*uy))
	if !m.q.Blend(ends) {
		return false
	}
	m.path = appendPath(m.path[:0], p.x, p.y, p.dir, reach)
	return m.q.Blend(m.path)
}

// places are about a dozen samples of a stretch: the first, and every how many.
func (s stretch) places() (first, every int32) {
	const places = 12
	every = max(1, (s.to-s.from)/places)
	return s.from + every/2, every
}

// measured is what is thin, without its pixels.
func (m *meter) measured(thin []stretch) *Feature {
	f := &Feature{}
	all := m.widths[:0]
	for _, s := range thin {
		part := m.samples[s.from:s.to]
		for i := range part {
			p := &part[i]
			all = append(all, weighted{p.width, p.step})
			f.LengthPx += p.step
			f.AreaPx += p.step * p.width
		}
	}
	m.widths = all
	f.TypicalPx = weightedMedian(all, f.LengthPx/2)
	f.WidthPx = m.leastOf(thin, f.TypicalPx)
	return f
}

// weightedMedian is the least width up to which the widths have at least half the length, or nothing where there are none. It puts them in another
// order: it parts them in two again and again, of which it goes on with the one that holds the median.
func weightedMedian(all []weighted, half float64) float64 {
	for len(all) > 1 {
		pivot := max(min(all[0].width, all[len(all)/2].width), min(max(all[0].width, all[len(all)/2].width), all[len(all)-1].width))
		less, equal, lessLength, equalLength := 0, 0, 0.0, 0.0
		for i, p := range all {
			switch {
			case p.width < pivot:
				all[i], all[less+equal] = all[less+equal], p
				all[less], all[less+equal] = all[less+equal], all[less]
				less++
				lessLength += p.step
			case p.width == pivot:
				all[i], all[less+equal] = all[less+equal], p
				equal++
				equalLength += p.step
			}
		}
		switch {
		case less > 0 && lessLength >= half:
			all = all[:less]
		case lessLength+equalLength >= half || less+equal == len(all):
			return pivot
		default:
			all, half = all[less+equal:], half-lessLength-equalLength
		}
	}
	if len(all) == 0 {
		return 0
	}
	return all[0].width
}

// leastOf is the least width of some stretches: their typical one, unless it is less over a longer way than the noise of single
// samples, or by more than that in a single place.
func (m *meter) leastOf(thin []stretch, typicalPx float64) float64 {
	const shortPx, longPx, noisePx, unevenPx, placePx = 1.5, 6, 0.035, 0.07, 0.15
	long, short := math.Inf(1), math.Inf(1)
	for _, s := range thin {
		in := m.body(s, typicalPx)
		long = min(long, m.leastWidth(s, in, longPx, noisePx))
		short = min(short, m.leastWidth(s, in, shortPx, math.Inf(1)), m.bluntEnd(s, in))
	}
	least := typicalPx
	if long < least-unevenPx {
		least = long
	}
	if short < least-placePx {
		least = short
	}
	return least
}

// leastWidth is the least value of a quadratic fitted by least squares to the widths as far as sidePx to both sides of each sample of
// a stretch (Savitzky and Golay, Anal. Chem. 36, 1964), which follows a waist and levels out the noise of single samples; a fit that the
// widths are farther off than mostOff does not count. in is the body of the stretch; what is next to an end of the shape, where cuts slant across its corners, does not count. It is infinite for a
// stretch too short to tell.
func (m *meter) leastWidth(s, in stretch, sidePx, mostOff float64) float64 {
	r := m.ridges[m.samples[s.from].ridge]
	side := max(2, int32(math.Ceil(sidePx/m.stepPx)))
	from, to := r.from+side, r.to-side
	if in != s {
		from, to = max(from, in.from+side), min(to, in.to-side)
	}
	least := math.Inf(1)
	for i := max(s.from, from); i < min(s.to, to); i += max(1, side/4) {
		near := m.samples[i-side : i+side+1]
		if width, off := fitted(near, int(side)); width < least && off < mostOff {
			// Beside a crossing the quadratic swings below all it is fitted to.
			least = max(width, leastSample(near))
		}
	}
	return least
}

// bluntEnd is the width at the end of a shape that narrows evenly to it, by a straight line fitted to the widths as far as they can
// be trusted; infinite where the shape does not narrow evenly or runs to a point.
func (m *meter) bluntEnd(s, in stretch) float64 {
	most, fewest := int32(2*m.q.LimitPx/m.stepPx), int32(1.5*m.q.LimitPx/m.stepPx)
	if in.to-in.from < fewest {
		return math.Inf(1)
	}
	least := math.Inf(1)
	if in.from > s.from {
		least = narrowsTo(m.samples[s.from:in.from], m.samples[in.from:min(in.to, in.from+most)], 1)
	}
	if in.to < s.to {
		least = min(least, narrowsTo(m.samples[in.to:s.to], m.samples[max(in.from, in.to-most):in.to], -1))
	}
	return least
}

// narrowsTo continues the widths at some samples to the far end of others; sign is that of the slope that narrows.
func narrowsTo(beyond, pts []sample, sign float64) float64 {
	const narrowsPx, evenPx, bluntShare = 0.5, 0.1, 0.5
	gain, mean, squares := sign*slope(pts), 0.0, 0.0
	for _, p := range pts {
		mean += p.width / float64(len(pts))
	}
	way := pathLength(pts)
	for _, p := range pts {
		off := p.width - mean - sign*gain*(p.at-pts[0].at-way/2)
		squares += off * off / float64(len(pts))
	}
	rest := way / 2
	for _, p := range beyond {
		rest += p.step
	}
	end := mean - gain*rest
	if gain*way < narrowsPx || squares > evenPx*evenPx || end < bluntShare*mean {
		return math.Inf(1)
	}
	return end
}

// body is a stretch without what is next to an end of the shape and without what falls to it as steeply as at a corner: the ends of
// a line that is cut off at a slant.
func (m *meter) body(s stretch, widthPx float64) stretch {
	const windowPx = 2
	r := m.ridges[m.samples[s.from].ridge]
	in := m.inner(s, widthPx)
	window := max(3, int32(windowPx/m.stepPx))
	if s.from == r.from {
		if i := s.from + steepFor(m.samples[s.from:s.to], 0, 1, int(window)); i > s.from {
			in.from = max(in.from, i+window)
		}
	}
	if s.to == r.to {
		if i := s.to - steepFor(m.samples[s.from:s.to], int(s.to-s.from)-1, -1, int(window)); i < s.to {
			in.to = min(in.to, i-window)
		}
	}
	return in
}

// steepFor is how many samples in a row, from one at an end, lead into a window of samples over which the width rises as steeply as
// behind a corner.
func steepFor(pts []sample, end, by, window int) int32 {
	n := 0
	for i, j := end, end+by*window; j >= 0 && j < len(pts); i, j = i+by, j+by {
		if pts[j].width-pts[i].width < cornerSlope*pathLength(pts[min(i, j):max(i, j)+1]) {
			break
		}
		n++
	}
	return int32(n)
}

// inner is a stretch without what is next to an end of the shape.
func (m *meter) inner(s stretch, widthPx float64) stretch {
	r := m.ridges[m.samples[s.from].ridge]
	end := int32(math.Ceil(max(1, widthPx/2) / m.stepPx))
	if s.from == r.from {
		s.from += end
	}
	if s.to == r.to {
		s.to -= end
	}
	return s
}

// fitted is the value at one of some samples of the quadratic through them all, and how far the widths are off it, root mean square.
func fitted(pts []sample, at int) (width, off float64) {
	var s [5]float64 // sums of powers of the way along the ridge
	var b [3]float64 // the same with the width
	squares := 0.0
	for _, p := range pts {
		t := p.at - pts[at].at
		tt := t * t
		s[1] += t
		s[2] += tt
		s[3] += tt * t
		s[4] += tt * tt
		b[0] += p.width
		b[1] += t * p.width
		b[2] += tt * p.width
		squares += p.width * p.width
	}
	n := float64(len(pts))
	c0, c1, c2 := s[2]*s[4]-s[3]*s[3], s[1]*s[4]-s[3]*s[2], s[1]*s[3]-s[2]*s[2]
	det := n*c0 - s[1]*c1 + s[2]*c2
	if len(pts) < 5 || det < 1e-9 {
		return b[0] / n, math.Sqrt(max(0, squares/n-b[0]*b[0]/n/n))
	}
	width = (b[0]*c0 - b[1]*c1 + b[2]*c2) / det
	slope := (-b[0]*c1 + b[1]*(n*s[4]-s[2]*s[2]) - b[2]*(n*s[3]-s[1]*s[2])) / det
	bend := (b[0]*c2 - b[1]*(n*s[3]-s[1]*s[2]) + b[2]*(n*s[2]-s[1]*s[1])) / det
	return width, math.Sqrt(max(0, squares-width*b[0]-slope*b[1]-bend*b[2]) / n)
}

// runsOn reports whether a stretch is long enough to matter and no corner: the width along it and a little further, fitted by
// least squares, falls less steeply than a corner's.
func (m *meter) runsOn(s stretch) bool {
	length := 0.0
	for _, p := range m.samples[s.from:s.to] {
		length += p.step
	}
	if length < shortestShare*m.q.LimitPx || s.to-s.from < 3 {
		return false
	}
	const fewest = 4
	near := m.widened(s)
	if isWaist(near) || math.Abs(slope(near)) < cornerSlope {
		return true
	}
	in := m.inner(s, 0)
	return in != s && in.to-in.from >= fewest && math.Abs(slope(m.widened(in))) < cornerSlope
}

// widened are the samples of a stretch and of the ridge a little further, where that is not thin.
func (m *meter) widened(s stretch) []sample {
	r := m.ridges[m.samples[s.from].ridge]
	more := int32(m.q.LimitPx / 2 / m.stepPx)
	from, to := s.from, s.to
	for from > max(r.from, s.from-more) && !m.isThin(&m.samples[from-1]) {
		from--
	}
	for to < min(r.to, s.to+more) && !m.isThin(&m.samples[to]) {
		to++
	}
	return m.samples[from:to]
}

// isWaist reports whether the width rises again to both sides of where it is least, by more than the noise of single samples, but
// not so steeply as where two corners touch, on a ridge that does not turn as it does round a corner.
func isWaist(pts []sample) bool {
	const risePx, turns, steepest = 0.2, 3, 0.8
	if turn := (pts[0].dir - pts[len(pts)-1].dir + directions) % directions; min(turn, directions-turn) > turns {
		return false
	}
	least := slices.MinFunc(pts, byWidth).width
	at := slices.IndexFunc(pts, func(p sample) bool { return p.width == least })
	if slices.MaxFunc(pts[:at+1], byWidth).width < least+risePx || slices.MaxFunc(pts[at:], byWidth).width < least+risePx {
		return false
	}
	return -slope(pts[:at+1]) < steepest && slope(pts[at:]) < steepest
}

func leastSample(pts []sample) float64 {
	least := math.Inf(1)
	for i := range pts {
		least = min(least, pts[i].width)
	}
	return least
}

func pathLength(pts []sample) float64 { return pts[len(pts)-1].at - pts[0].at }

// slope is the width gained a length along the ridge, by least squares.
func slope(pts []sample) float64 {
	var n, st, sw, stt, stw float64
	for _, p := range pts {
		t := p.at - pts[0].at
		n, st, sw, stt, stw = n+1, st+t, sw+p.width, stt+t*t, stw+t*p.width
	}
	return (stw - st*sw/n) / (stt - st*st/n)
}

// fill gives features the pixels of their samples.
func (m *meter) fill(out []*Feature) {
	m.join(len(out))
	for i, f := range out {
		f.Runs = m.allot(int(m.counts[i]))
	}
	for _, r := range m.joined {
		f := out[r.Component]
		f.Runs = append(f.Runs, r)
	}
	for _, f := range out {
		f.settle()
	}
}

// join gathers the parts that belong to features, those that touch in one; Component is then the feature. It counts what each has.
func (m *meter) join(features int) {
	m.joined = m.joined[:0]
	m.counts = slices.Grow(m.counts[:0], features)[:features]
	clear(m.counts)
	for _, r := range m.parts {
		owner := m.cells[r.Component].owner
		if owner == none || m.feature[owner] == none {
			continue
		}
		r.Component = m.feature[owner]
		n := len(m.joined)
		if m.joined = appendJoined(m.joined, r); len(m.joined) > n {
			m.counts[r.Component]++
		}
	}
}

// appendJoined appends a run, or makes the last one longer if both touch.
func appendJoined(runs []Run, r Run) []Run {
	if n := len(runs); n > 0 && runs[n-1].Y == r.Y && runs[n-1].X1 == r.X0 && runs[n-1].Component == r.Component {
		runs[n-1].X1 = r.X1
		return runs
	}
	return append(runs, r)
}

// allot returns room for n runs.
func (m *meter) allot(n int) []Run {
	const chunk = 4096
	if cap(m.arena)-len(m.arena) < n {
		m.arena = make([]Run, 0, max(n, chunk))
	}
	at := len(m.arena)
	m.arena = m.arena[:at+n]
	return m.arena[at : at : at+n]
}

// settle puts a feature's runs in order, those of several blocks that touch in one, and sets its box.
func (f *Feature) settle() {
	byPlace := func(a, b Run) int { return cmp.Or(int(a.Y-b.Y), int(a.X0-b.X0)) }
	if !slices.IsSortedFunc(f.Runs, byPlace) {
		slices.SortFunc(f.Runs, byPlace)
		joined := f.Runs[:0]
		for _, r := range f.Runs {
			joined = appendJoined(joined, r)
		}
		f.Runs = joined
	}
	for _, r := range f.Runs {
		f.Box = f.Box.Union(r.box())
	}
}
