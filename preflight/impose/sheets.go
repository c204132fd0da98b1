package impose

import (
	"fmt"
	"math/rand/v2"
	"slices"
)

const (
	// mostWays bounds the ways tried for one job, mostWork those of large jobs: ways times the square of the pieces.
	mostWays  = 1000
	mostWork  = 8_000_000
	leastWays = 6
	// mostFacings bounds the combinations of upright and turned designs where copies must lie alike.
	mostFacings = 16
)

func (j *job) gridOf(design int) *grid {
	return newGrid(design, j.pieces[design], j.area, j.turn)
}

// layOne lays all copies of the only design: full sheets, then a strip of the last.
func (j *job) layOne() [][]box {
	g := j.gridOf(0)
	left := j.counts[0]
	sheets := fullSheets(g, &left, len(g.best()))
	return append(sheets, g.least(left))
}

// fullSheets lays sheets full of one design while more than keep copies are left.
func fullSheets(g *grid, left *int, keep int) (sheets [][]box) {
	for full := g.best(); *left > keep; *left -= len(full) {
		sheets = append(sheets, slices.Clone(full))
	}
	return sheets
}

// laySeveral packs with and without sheets full of one design at the start, and keeps what takes fewer sheets and then less of the last.
func (j *job) laySeveral() [][]box {
	bound := j.bound()
	best := j.search(j.counts, bound, true)
	left := slices.Clone(j.counts)
	var full [][]box
	for d := range left {
		g := j.gridOf(d)
		full = append(full, fullSheets(g, &left[d], len(g.best())-1)...)
	}
	if len(full) == 0 {
		return best
	}
	if all := append(full, j.search(left, bound-len(full), true)...); better(all, best) {
		return all
	}
	return best
}

// better reports whether a takes fewer sheets than b, or less area of the last, or a lower strip of it.
func better(a, b [][]box) bool {
	if len(a) != len(b) || len(a) == 0 {
		return len(a) < len(b)
	}
	areaA, heightA := used(a[len(a)-1])
	areaB, heightB := used(b[len(b)-1])
	return areaA < areaB || areaA == areaB && heightA < heightB
}

func used(boxes []box) (area, height int) {
	for _, b := range boxes {
		area += b.area()
		height = max(height, b.y+b.h)
	}
	return area, height
}

// way is one way to pack: an order of pieces, the directions allowed, and a rule for places.
type way struct {
	order   []int
	facings []facing
	weigh   rule
}

// search packs in every order with all directions and rules, then goes on from the best way by swapping pieces at random, always in the
// same way, and keeping what is no worse. It stops at so few sheets as are enough, if it is to be tidy only after all the orders, or when
// it has tried what the number of pieces allows.
func (j *job) search(counts []int, enough int, tidy bool) [][]box {
	n := 0
	for _, c := range counts {
		n += c
	}
	if n == 0 {
		return nil
	}
	left := max(leastWays, min(mostWays, mostWork/(n*n)))
	var best [][]box
	var from way
	try := func(w way) (done bool) {
		packed := j.pack(w.order, w.facings, w.weigh)
		if best == nil || !better(best, packed) {
			best, from = packed, w
		}
		left--
		return left == 0 || len(best) <= enough && !tidy
	}
	facings := j.facings()
	for _, key := range sortKeys {
		order := j.ordered(counts, key)
		for _, f := range facings {
			for _, weigh := range rules {
				if try(way{order, f, weigh}) {
					return best
				}
			}
		}
	}
	tidy = false
	random := rand.New(rand.NewPCG(1, 1))
	for len(best) > enough && !try(from.shaken(random, facings)) {
	}
	return best
}

// shaken is the way with some pieces swapped and, now and then, another rule or other directions.
func (w way) shaken(random *rand.Rand, facings [][]facing) way {
	w.order = slices.Clone(w.order)
	for range 1 + random.IntN(3) {
		a, b := random.IntN(len(w.order)), random.IntN(len(w.order))
		w.order[a], w.order[b] = w.order[b], w.order[a]
	}
	if random.IntN(8) == 0 {
		w.weigh = rules[random.IntN(len(rules))]
	}
	if random.IntN(8) == 0 {
		w.facings = facings[random.IntN(len(facings))]
	}
	return w
}

// facings lists the directions to try: one list that leaves it open where each copy may turn, else combinations of fixed ones.
func (j *job) facings() [][]facing {
	if j.turn != TurnAlike {
		return [][]facing{j.eachFacing(func(int, size) facing { return facing{true, j.turn == TurnEach} })}
	}
	var out [][]facing
	add := func(turned func(d int, p size) bool) {
		f := j.eachFacing(func(d int, p size) facing {
			// Where only one direction fits, that is the one.
			t := (turned(d, p) || !p.within(j.area)) && p.turned().within(j.area)
			return facing{!t, t}
		})
		if !slices.ContainsFunc(out, func(o []facing) bool { return slices.Equal(o, f) }) {
			out = append(out, f)
		}
	}
	add(func(int, size) bool { return false })
	add(func(d int, p size) bool { return count(p.turned(), j.area) > count(p, j.area) })
	add(func(_ int, p size) bool { return p.w < p.h })
	add(func(_ int, p size) bool { return p.w > p.h })
	for bits := 0; bits < 1<<min(len(j.pieces), 8) && len(out) < mostFacings; bits++ {
		add(func(d int, _ size) bool { return d < 8 && bits>>d&1 != 0 })
	}
	return out
}

func (j *job) eachFacing(of func(d int, p size) facing) []facing {
	out := make([]facing, len(j.pieces))
	for d, p := range j.pieces {
		out[d] = of(d, p)
	}
	return out
}

// onOne packs so many of each design onto one sheet, or returns nil if no way does.
func (j *job) onOne(counts []int) []box {
	area := 0
	for d, n := range counts {
		area += n * j.pieces[d].area()
	}
	if area > j.area.area() {
		return nil
	}
	if sheets := j.search(counts, 1, false); len(sheets) == 1 {
		return sheets[0]
	}
	return nil
}

// fillSeveral first finds how many of every design fit, then goes on in turns.
func (j *job) fillSeveral() ([]box, error) {
	alike := func(n int) []int { return slices.Repeat([]int{n}, len(j.pieces)) }
	best, each := j.onOne(alike(1)), 1
	if best == nil {
		return nil, fmt.Errorf("the %d designs do not fit on one sheet together: fill a sheet with each, or ask for numbers of copies", len(j.pieces))
	}
	area := 0
	for _, p := range j.pieces {
		area += p.area()
	}
	for tooMany := j.area.area()/area + 1; tooMany-each > 1; {
		middle := (each + tooMany) / 2
		if packed := j.onOne(alike(middle)); packed != nil {
			best, each = packed, middle
		} else {
			tooMany = middle
		}
	}
	j.counts = alike(each)
	out := make([]bool, len(j.pieces)) // what no longer fits
	for slices.Contains(out, false) {
		for d := range j.pieces {
			if out[d] {
				continue
			}
			j.counts[d]++
			if packed := j.onOne(j.counts); packed != nil {
				best = packed
			} else {
				j.counts[d]--
				out[d] = true
			}
		}
	}
	return best, nil
}
