package baseline

import (
	"cmp"
	"math"
	"slices"

	"peelcheck/preflight"
)

// match pairs the findings of an artwork now with those held of it: for each of now, the index of the one held, or -1.
func match(held, now *Artwork) []int {
	whole := pairUp(held.Findings, now.Findings, 0, 0)
	dx, dy := now.PrintedBoxMM.X-held.PrintedBoxMM.X, now.PrintedBoxMM.Y-held.PrintedBoxMM.Y
	if dx == 0 && dy == 0 || !slices.Contains(whole, -1) {
		return whole
	}
	if printed := pairUp(held.Findings, now.Findings, dx, dy); paired(printed) > paired(whole) {
		return printed
	}
	return whole
}

func paired(pairs []int) (n int) {
	for _, p := range pairs {
		if p >= 0 {
			n++
		}
	}
	return n
}

// edge says that a finding now may be one held.
type edge struct {
	now, held int
	distance  float64
}

// pairUp returns a matching of the most pairs that alike allows, where all that is held is moved by dx, dy first. Nearest pairs are made
// first, and broken up again only where that makes room for one more (augmenting paths; Berge, PNAS 43, 1957).
func pairUp(held, now []Finding, dx, dy float64) []int {
	edges := edgesOf(held, now, dx, dy)
	slices.SortFunc(edges, func(a, b edge) int {
		return cmp.Or(cmp.Compare(a.distance, b.distance), a.now-b.now, a.held-b.held)
	})
	m := matcher{ofNow: filled(len(now)), ofHeld: filled(len(held)), may: make([][]int, len(now)), seen: make([]bool, len(held))}
	for _, e := range edges {
		m.may[e.now] = append(m.may[e.now], e.held)
		if m.ofNow[e.now] < 0 && m.ofHeld[e.held] < 0 {
			m.ofNow[e.now], m.ofHeld[e.held] = e.held, e.now
		}
	}
	for i := range now {
		if m.ofNow[i] < 0 && m.augment(i) {
			clear(m.seen) // what led nowhere before may lead somewhere now
		}
	}
	return m.ofNow
}

func filled(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = -1
	}
	return out
}

type matcher struct {
	ofNow, ofHeld []int   // the partner of each, or -1
	may           [][]int // of each now, what it may be, the nearest first
	seen          []bool  // of each held, since the last success
}

// augment finds a place for now, moving others on to another of theirs.
func (m *matcher) augment(now int) bool {
	for _, h := range m.may[now] {
		if m.seen[h] {
			continue
		}
		m.seen[h] = true
		if m.ofHeld[h] < 0 || m.augment(m.ofHeld[h]) {
			m.ofNow[now], m.ofHeld[h] = h, now
			return true
		}
	}
	return false
}

// cell is a square of the page, as wide as a box may move, for one rule and plane.
type cell struct {
	rule  string
	plane preflight.Plane
	x, y  int
}

func cellOf(f *Finding, dx, dy float64) cell {
	return cell{f.Rule, f.Plane, int(math.Floor((f.BoxMM.X + dx) / ShiftMM)), int(math.Floor((f.BoxMM.Y + dy) / ShiftMM))}
}

// edgesOf lists who may be whom. Only neighbouring cells are looked at.
func edgesOf(held, now []Finding, dx, dy float64) (list []edge) {
	cells := map[cell][]int{}
	for h := range held {
		c := cellOf(&held[h], dx, dy)
		cells[c] = append(cells[c], h)
	}
	for n := range now {
		c := cellOf(&now[n], 0, 0)
		for x := c.x - 1; x <= c.x+1; x++ {
			for y := c.y - 1; y <= c.y+1; y++ {
				for _, h := range cells[cell{c.rule, c.plane, x, y}] {
					if d, ok := alike(&held[h], &now[n], dx, dy); ok {
						list = append(list, edge{n, h, d})
					}
				}
			}
		}
	}
	return list
}

// alike reports whether a finding may be the one held, moved by dx, dy, and how far the edges of its box are from it, in millimetres.
func alike(held, now *Finding, dx, dy float64) (distance float64, ok bool) {
	a, b := held.BoxMM, now.BoxMM
	a.X, a.Y = a.X+dx, a.Y+dy
	distance = max(math.Abs(a.X-b.X), math.Abs(a.Y-b.Y), math.Abs(a.X+a.W-b.X-b.W), math.Abs(a.Y+a.H-b.Y-b.H))
	ok = held.Rule == now.Rule && held.Plane == now.Plane && held.Unit == now.Unit && now.Level.Rank() <= held.Level.Rank() &&
		distance <= ShiftMM && near(held.Measure, now.Measure, MeasureShare)
	return distance, ok
}

func near(a, b, share float64) bool { return math.Abs(a-b) <= share*max(math.Abs(a), math.Abs(b)) }
