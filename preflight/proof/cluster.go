package proof

import (
	"cmp"
	"image"
	"math"
	"slices"

	"peelcheck/preflight"
)

// cluster is what one tag and one line of the list stand for: findings of one rule and level that lie near one another.
type cluster struct {
	tag      int // the ID of its worst finding; 0 for one that the list has no room for
	rule     string
	level    preflight.Level
	accepted string // by what, as all of its members; empty if it counts
	size     int
	members  []int // as many indexes of Report.Findings, worst first
	worst    *preflight.Finding
}

// badness orders findings of one rule: how far a measure is beyond its limit, else how large it is.
func badness(f *preflight.Finding) float64 {
	v, limit := f.Measure.Value, f.Measure.Limit
	switch {
	case limit <= 0:
		return v
	case v <= 0:
		return math.MaxFloat64
	case v < limit:
		return limit / v
	}
	return v / limit
}

// kind is a rule at one level, those that count or those accepted by the same means, with its findings from the worst down. The finer
// kinds part what was not measured but named, as fonts and layers, by its words, so that no line hides a name.
type kind struct {
	rule      string
	level     preflight.Level
	accepted  string
	ruleRank  int // of the worst level of the rule that counts, 0 for none
	ruleOrder int // of the rule's first finding
	members   []int
}

// kinds sorts the findings into kinds, the finer ones on demand: rules with errors first, a rule's kinds together.
func kinds(findings []preflight.Finding, finer bool) []*kind {
	type key struct {
		rule     string
		level    preflight.Level
		accepted string
		message  string
	}
	byKey := map[key]*kind{}
	rank, order := map[string]int{}, map[string]int{}
	var all []*kind
	for i := range findings {
		f := &findings[i]
		k := key{f.Rule, f.Level, "", ""}
		if f.Accepted != nil {
			k.accepted = f.Accepted.By
		}
		if finer && f.Measure.Words() == "" {
			k.message = f.Message
		}
		of := byKey[k]
		if of == nil {
			of = &kind{rule: f.Rule, level: f.Level, accepted: k.accepted}
			byKey[k], all = of, append(all, of)
		}
		of.members = append(of.members, i)
		if f.Accepted == nil {
			rank[f.Rule] = max(rank[f.Rule], f.Level.Rank())
		}
		if _, ok := order[f.Rule]; !ok {
			order[f.Rule] = i
		}
	}
	bad := make([]float64, len(findings))
	for i := range findings {
		bad[i] = badness(&findings[i])
	}
	for _, k := range all {
		k.ruleRank, k.ruleOrder = rank[k.rule], order[k.rule]
		slices.SortFunc(k.members, func(a, b int) int { return cmp.Or(cmp.Compare(bad[b], bad[a]), a-b) })
	}
	slices.SortStableFunc(all, func(a, b *kind) int {
		return cmp.Or(cmp.Compare(b.ruleRank, a.ruleRank), cmp.Compare(a.ruleOrder, b.ruleOrder),
			b.counts()-a.counts(), cmp.Compare(b.level.Rank(), a.level.Rank()))
	})
	return all
}

// counts is 1 for a kind that counts for the verdict, which goes before what is accepted.
func (k *kind) counts() int {
	if k.accepted != "" {
		return 0
	}
	return 1
}

// gather makes clusters: each finding, the worst first, joins the first cluster whose worst lies within reach pixels of it.
func gather(findings []preflight.Finding, all []*kind, centre func(i int) image.Point, within image.Rectangle, reach int) []*cluster {
	var out []*cluster
	grid := newSeedGrid(within, reach)
	joined := make([]*cluster, len(findings))
	room := make([]int, len(findings))
	for _, k := range all {
		grid.clear()
		start := len(out)
		for _, i := range k.members {
			at := centre(i)
			c := grid.near(at)
			if c == nil {
				c = &cluster{rule: k.rule, level: k.level, accepted: k.accepted, worst: &findings[i]}
				out = append(out, c)
				grid.add(at, c)
			}
			joined[i] = c
			c.size++
		}
		for _, c := range out[start:] {
			c.members, room = room[:0:c.size], room[c.size:]
		}
		for _, i := range k.members {
			joined[i].members = append(joined[i].members, i)
		}
		slices.SortStableFunc(out[start:], func(a, b *cluster) int {
			p, q := centre(a.members[0]), centre(b.members[0])
			return cmp.Or(cmp.Compare(p.Y, q.Y), cmp.Compare(p.X, q.X))
		})
	}
	return out
}

// seedGrid finds the first cluster begun within reach of a point.
type seedGrid struct {
	within image.Rectangle
	reach  int
	cols   int
	cells  [][]seed
	used   []int
}

type seed struct {
	at image.Point
	c  *cluster
}

func newSeedGrid(within image.Rectangle, reach int) *seedGrid {
	cols, rows := within.Dx()/reach+1, within.Dy()/reach+1
	return &seedGrid{within: within, reach: reach, cols: cols, cells: make([][]seed, cols*rows)}
}

func (g *seedGrid) clear() {
	for _, i := range g.used {
		g.cells[i] = g.cells[i][:0]
	}
	g.used = g.used[:0]
}

func (g *seedGrid) cell(p image.Point) (col, row int) {
	rows := len(g.cells) / g.cols
	return min(g.cols-1, max(0, (p.X-g.within.Min.X)/g.reach)), min(rows-1, max(0, (p.Y-g.within.Min.Y)/g.reach))
}

func (g *seedGrid) add(p image.Point, c *cluster) {
	col, row := g.cell(p)
	i := row*g.cols + col
	g.cells[i] = append(g.cells[i], seed{p, c})
	g.used = append(g.used, i)
}

func (g *seedGrid) near(p image.Point) *cluster {
	col, row := g.cell(p)
	rows := len(g.cells) / g.cols
	for y := max(0, row-1); y <= min(rows-1, row+1); y++ {
		for x := max(0, col-1); x <= min(g.cols-1, col+1); x++ {
			for _, s := range g.cells[y*g.cols+x] {
				d := s.at.Sub(p)
				if d.X*d.X+d.Y*d.Y <= g.reach*g.reach {
					return s.c
				}
			}
		}
	}
	return nil
}
