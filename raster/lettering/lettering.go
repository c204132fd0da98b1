// Package lettering tells from a picture alone whether its lettering reads normally or is mirrored. It knows no words: letters and
// digits are not alike in a mirror, so shapes that stand in a row are compared with the glyphs of many typefaces, both ways round.
package lettering

import (
	"cmp"
	"image"
	"math"
	"slices"

	"peelcheck/raster"
	"peelcheck/raster/lettering/internal/likeness"
	"peelcheck/raster/lettering/internal/rows"
)

// Reading says how the lettering of a picture reads.
type Reading struct {
	// LogOdds is the logarithm of how much likelier the picture is mirrored than not: 0 where nothing tells. That of the picture
	// mirrored is the same with the other sign.
	LogOdds float64
	// Letters counts shapes taken for letters or digits; Tell those that are clearly not alike both ways round; TellMirrored those of
	// them that are mirrored.
	Letters, Tell, TellMirrored int
	// Where is the smallest box that holds the rows of letters, in pixels; empty where there are none.
	Where image.Rectangle
}

const (
	// mostShapes bounds how many shapes of text are looked at, and mostInAll how many whatever they are: ornaments in rows, often the
	// largest shapes, must not hide the words of a page full of designs.
	mostShapes = 64
	mostInAll  = 256
	mostInRow  = 24
	// doubt is how much of what may be no letter speaks for each way to lie: one letter alone never decides.
	doubt = 0.02
	// upsideDown is how much less common than upright lettering turned by half is taken to be; it settles only what reads as well
	// mirrored as upside down.
	upsideDown = 0.1
	// turnedAlone is how much less common a row is that is turned by half against those that run as it does.
	turnedAlone = 0.02
	// leastLikeness is the mean probability that the shapes of a row are letters along it, under which the row is none of text.
	leastLikeness = 0.55
	// nearly is the share of leastLikeness from which a row is worth another look.
	nearly = 0.8
	// sameView is the share of two rows' boxes from which they are taken for one line of letters, seen in two masks: outlines and bodies.
	sameView = 0.7
	// moreViews is how much more such rows tell together than their mean.
	moreViews = 1.2
	clearly   = 1.0
	enough    = 6.0
)

// Read looks for lettering in a picture with straight alpha, whose rows must all be in place. drawn has one bit for each 64 pixels of a
// row, clear where all of them are wholly transparent; it may be nil.
func Read(pix *image.NRGBA, drawn *raster.Bitmap) Reading {
	p := rows.Open(pix, drawn)
	var found []text
	var r Reading
	for _, find := range []func(int) []rows.Row{p.Find, p.FindByColour, p.FindUnlike} {
		found = append(found, look(find(rows.Least))...)
		if r = sum(found); r.Clear() {
			return r
		}
	}
	if r.Letters == 0 {
		found = append(found, look(p.FindClosed(rows.Least))...)
		r = sum(found)
	}
	if r.Clear() {
		return r
	}
	return sum(lookAgain(found))
}

// ReadMask looks for lettering in a mask alone: what is set, and what shows through.
func ReadMask(m *raster.Bitmap) Reading { return sum(look(rows.InMask(m, rows.Least))) }

// Clear reports whether there is so much evidence that looking further would change nothing.
func (r Reading) Clear() bool { return r.Letters >= leastLetters && math.Abs(r.LogOdds) >= enough }

// text is a row with what its shapes say.
type text struct {
	row      rows.Row
	box      image.Rectangle
	likeness float64 // the sum of the probabilities that its shapes are letters along it
	mean     float64
	along    bool
	sums     [2][2]float64 // what its shapes say for normal and mirrored, as it mostly lies and turned by half
	letters  int
	tell     [2]int // shapes that tell, normal and mirrored
}

// look weighs the most promising rows.
func look(list []rows.Row) []text {
	slices.SortStableFunc(list, func(a, b rows.Row) int {
		return cmp.Or(min(12, len(b.Shapes))-min(12, len(a.Shapes)), b.Shapes[0].AreaPx-a.Shapes[0].AreaPx)
	})
	var out []text
	ofText, inAll := 0, 0
	for _, r := range list {
		if ofText >= mostShapes || inAll >= mostInAll {
			break
		}
		t := weigh(r, nil)
		n := min(mostInRow, len(r.Shapes))
		inAll += n
		if t.mean >= leastLikeness {
			ofText += n
		}
		out = append(out, t)
	}
	return out
}

// lookAgain weighs more closely the rows that are text or nearly so.
func lookAgain(list []text) []text {
	for i, t := range list {
		if t.mean >= nearly*leastLikeness {
			list[i] = weigh(t.row, likeness.WeighClosely)
		}
	}
	return list
}

// weigh weighs a row, its shapes by their features or, if given, by another way to look at them.
func weigh(r rows.Row, closely func(*raster.Bitmap) likeness.Lies) text {
	shapes := r.Shapes[:min(mostInRow, len(r.Shapes))]
	t := text{row: r, along: r.Along}
	fs := make([]*likeness.Features, len(shapes))
	ways := make([]likeness.Lies, len(shapes))
	for i, s := range shapes {
		t.box = t.box.Union(s.Box)
		cut := r.Cut(s)
		fs[i] = likeness.Describe(cut)
		if closely != nil {
			ways[i] = closely(cut)
		} else {
			ways[i] = likeness.Trained()[0].Weigh(fs[i])
		}
	}
	weight := distinct(fs)
	allowed := [4]likeness.Turn{0, 2, likeness.Mirrored, likeness.Mirrored | 2}
	if !r.Along {
		allowed = [4]likeness.Turn{1, 3, likeness.Mirrored | 1, likeness.Mirrored | 3}
	}
	var sums [4]float64
	var each [][4]float64
	for i, w := range ways {
		var l [4]float64
		is := 0.0
		for k, a := range allowed {
			is += w.As[a]
			l[k] = math.Log(w.As[a] + doubt + w.None/4)
			sums[k] += weight[i] * l[k]
		}
		each = append(each, l)
		t.likeness += is
		if is > 0.5 {
			t.letters++
		}
	}
	t.mean = t.likeness / float64(len(shapes))
	t.sums = [2][2]float64{{sums[0], sums[1]}, {sums[2], sums[3]}}
	plain, mirror := 0, 2
	if sums[1] > sums[0] {
		plain = 1
	}
	if sums[3] > sums[2] {
		mirror = 3
	}
	for _, l := range each {
		switch d := l[mirror] - l[plain]; {
		case d > clearly:
			t.tell[1]++
		case d < -clearly:
			t.tell[0]++
		}
	}
	return t
}

func logAdd(a, b float64) float64 {
	top := max(a, b)
	return top + math.Log(math.Exp(a-top)+math.Exp(b-top))
}

// distinct gives each shape its weight: shapes that repeat, as in a pattern, count together as one and a half.
func distinct(fs []*likeness.Features) []float64 {
	out := make([]float64, len(fs))
	for i := range fs {
		same := 0
		for j := range fs {
			if fs[i].From(fs[j]) < 5 {
				same++
			}
		}
		out[i] = min(1, 1.5/float64(same))
	}
	return out
}

// sum adds up what rows say that do not lie over each other.
func sum(list []text) Reading {
	taken := apart(list)
	tells := func(t text) bool { return t.tell[0]+t.tell[1] > 0 }
	any := slices.ContainsFunc(taken, tells)
	var out Reading
	for _, t := range taken {
		out.Tell += t.tell[0] + t.tell[1]
		out.TellMirrored += t.tell[1]
		if tells(t) || !any { // a row of bars may be like l and I, but is hardly lettering beside a word
			out.Where = out.Where.Union(t.box)
			out.Letters += t.letters
		}
	}
	out.LogOdds = together(taken, true) + together(taken, false)
	return out
}

// together weighs the rows of one direction: most of a picture's rows lie alike, so what tells how one lies tells it of the others.
func together(list []text, along bool) float64 {
	var all [2][2]float64
	for _, t := range list {
		if t.along != along {
			continue
		}
		for way, s := range t.sums {
			all[way][0] += logAdd(s[0], s[1]+math.Log(turnedAlone))
			all[way][1] += logAdd(s[1], s[0]+math.Log(turnedAlone))
		}
	}
	if along {
		all[0][1] += math.Log(upsideDown)
		all[1][1] += math.Log(upsideDown)
	}
	return logAdd(all[1][0], all[1][1]) - logAdd(all[0][0], all[0][1])
}

// apart returns the rows of text, the likest first, less those that lie over one before them.
func apart(list []text) []text {
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b text) int { return cmp.Compare(b.likeness*b.mean, a.likeness*a.mean) })
	var out []text
	for _, t := range list {
		if t.mean >= leastLikeness && !slices.ContainsFunc(out, func(o text) bool { return overlaps(o.box, t.box) }) {
			out = append(out, t)
		}
	}
	for i, t := range out {
		out[i].sums = views(t, list)
	}
	return out
}

// views is what a row's shapes say together with other views of the same letters: the mean, and a little more.
func views(t text, list []text) [2][2]float64 {
	sums, n := t.sums, 1.0
	for _, o := range list {
		if o.along != t.along || o.mean < leastLikeness || o.box == t.box || !sameLine(o.box, t.box) {
			continue
		}
		n++
		for way := range sums {
			for half := range sums[way] {
				sums[way][half] += o.sums[way][half]
			}
		}
	}
	if n == 1 {
		return sums
	}
	for way := range sums {
		for half := range sums[way] {
			sums[way][half] *= moreViews / n
		}
	}
	return sums
}

func area(r image.Rectangle) int { return r.Dx() * r.Dy() }

// sameLine reports whether two boxes are nearly the same. Those of the same pixels in two masks are quite the same.
func sameLine(a, b image.Rectangle) bool {
	return float64(area(a.Intersect(b))) > sameView*float64(max(area(a), area(b)))
}

// overlaps reports whether two boxes share a fifth of the smaller.
func overlaps(a, b image.Rectangle) bool {
	return 5*area(a.Intersect(b)) > min(area(a), area(b))
}

// Direction says which way round lettering reads.
type Direction string

// The directions, and that nothing tells which.
const (
	Normally Direction = "normally"
	Mirrored Direction = "mirrored"
	Unknown  Direction = "unknown"
)

// leastEvidence and leastLetters are how much is needed either way.
const (
	leastEvidence = 2.0
	leastLetters  = 3
)

// Reads returns which way round the lettering reads, Unknown where the evidence is thin.
func (r Reading) Reads() Direction {
	switch {
	case r.Letters < leastLetters:
		return Unknown
	case r.LogOdds >= leastEvidence:
		return Mirrored
	case r.LogOdds <= -leastEvidence:
		return Normally
	}
	return Unknown
}
