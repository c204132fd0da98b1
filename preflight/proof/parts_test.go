package proof

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"

	"peelcheck/preflight"
)

// TestGatherEqualsSlowTwin: every finding joins the first cluster within reach, however the grid divides the picture.
func TestGatherEqualsSlowTwin(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	within := image.Rect(-20, 30, 400, 250)
	for range 50 {
		reach := 5 + rng.IntN(150)
		findings := make([]preflight.Finding, 80)
		centres := make([]image.Point, len(findings))
		for i := range findings {
			findings[i] = preflight.Finding{Rule: []string{"speck", "hairline"}[rng.IntN(2)], Level: preflight.LevelError}
			centres[i] = image.Pt(within.Min.X+rng.IntN(within.Dx()), within.Min.Y+rng.IntN(within.Dy()))
		}
		got := gather(findings, kinds(findings, true), func(i int) image.Point { return centres[i] }, within, reach)
		total := 0
		for _, c := range got {
			total += len(c.members)
			for _, i := range c.members {
				if d := centres[i].Sub(centres[c.members[0]]); math.Hypot(float64(d.X), float64(d.Y)) > float64(reach) {
					t.Fatalf("a finding lies %v from its cluster's first, reach %d", d, reach)
				}
			}
			for _, o := range got {
				d := centres[c.members[0]].Sub(centres[o.members[0]])
				if c != o && c.rule == o.rule && d.X*d.X+d.Y*d.Y <= reach*reach {
					t.Fatalf("two clusters of one rule begin within reach of each other")
				}
			}
		}
		if total != len(findings) {
			t.Fatalf("%d of %d findings are in clusters", total, len(findings))
		}
	}
}

// TestSmallBoxInLargeOneKeepsItsOutline: boxes far apart in size do not merge, boxes alike that overlap do.
func TestSmallBoxInLargeOneKeepsItsOutline(t *testing.T) {
	set := setters.Get().(*setter)
	defer setters.Put(set)
	c := newCanvas(300, 300, set)
	var boxes outlines
	for _, b := range []image.Rectangle{image.Rect(40, 40, 260, 260), image.Rect(140, 140, 160, 160), image.Rect(200, 60, 220, 80), image.Rect(210, 60, 230, 80)} {
		boxes.add(b)
	}
	c.outline(&boxes, preflight.LevelError, c.bounds)
	m := image.NewRGBA(c.bounds)
	c.paint(m)
	for at, want := range map[image.Point]color.RGBA{
		{38, 150}: vermillion, {138, 150}: vermillion, {161, 150}: vermillion, {150, 150}: white,
		{198, 70}: vermillion, {231, 70}: vermillion, {208, 70}: white, {221, 70}: white,
	} {
		if got := m.RGBAAt(at.X, at.Y); got != want {
			t.Errorf("at %v: %v, want %v", at, got, want)
		}
	}
}

func TestCross(t *testing.T) {
	a, b := image.Pt(0, 0), image.Pt(10, 10)
	for _, tt := range []struct {
		c, d image.Point
		want bool
	}{
		{image.Pt(0, 10), image.Pt(10, 0), true}, {image.Pt(9, 4), image.Pt(4, 9), true}, {image.Pt(30, 0), image.Pt(0, 30), false},
		{image.Pt(0, 5), image.Pt(4, 5), false}, {image.Pt(20, 0), image.Pt(20, 9), false},
	} {
		if got := cross(a, b, tt.c, tt.d); got != tt.want {
			t.Errorf("from %v to %v: %v", tt.c, tt.d, got)
		}
	}
}

func TestRulerSteps(t *testing.T) {
	for _, tt := range []struct {
		pxPerMM      float64
		tick, number int
	}{{3.2, 10, 20}, {1.6, 10, 50}, {12, 10, 10}, {0.9, 10, 100}, {0.3, 50, 200}} {
		if tick, number := rulerSteps(tt.pxPerMM); tick != tt.tick || number != tt.number {
			t.Errorf("at %v px/mm: ticks every %d, numbers every %d mm; want %d, %d", tt.pxPerMM, tick, number, tt.tick, tt.number)
		}
	}
}

func TestWords(t *testing.T) {
	line := func(v float64) preflight.Finding {
		return preflight.Finding{Message: "A line.", Measure: preflight.Measure{Value: v, Limit: 0.35, Unit: "mm"}}
	}
	a := line(0.12)
	bare := preflight.Finding{Message: "A line.", Measure: preflight.Measure{Quantity: "width", Limit: 0.35, Unit: "mm"}}
	coarse := preflight.Finding{Message: "A picture.", Measure: preflight.Measure{Value: 72, Limit: 150, Unit: "ppi"}}
	all := make([]preflight.Finding, 14)
	for i := range all {
		all[i].ID = i + 1
	}
	for _, tt := range []struct {
		c    cluster
		want string
	}{
		{cluster{rule: "hairline", members: []int{0}, worst: &a}, "A line."},
		{cluster{rule: "hairline", members: []int{13, 3, 2, 11, 4, 5, 6, 7, 8, 9, 10, 12, 1, 0}, worst: &a}, "14 thin lines (1, 2, 3 and 11 more), thinnest 0.12 mm."},
		{cluster{rule: "hairline", members: []int{3, 1, 4, 0}, worst: &a}, "4 thin lines (1, 2, 4, 5), thinnest 0.12 mm."},
		{cluster{rule: "hairline", members: []int{3, 1}, worst: &bare}, "2 thin lines (2, 4), thinnest without a width of its own."},
		{cluster{rule: "low-ppi", members: []int{7, 3}, worst: &coarse}, "2 coarse pictures (4, 8), coarsest 72 pixels an inch."},
		{cluster{rule: "page-note", members: []int{7, 3}, worst: &preflight.Finding{Message: "A stamp."}}, "2 places (4, 8), among them: A stamp."},
		{cluster{rule: "shop-own-rule", members: []int{7, 3}, worst: &a}, "2 places alike (4, 8). The worst: A line."},
	} {
		if got := tt.c.message(all, nil); got != tt.want {
			t.Errorf("%q, want %q", got, tt.want)
		}
	}
	for m, want := range map[preflight.Measure]string{
		{Value: 0.12, Limit: 0.35, Unit: "mm"}:   "needs 0.35 mm",
		{Value: 0.4, Limit: 0.25, Unit: "share"}: "at most 25 %",
		{Value: 12, Unit: "mm2"}:                 "",
	} {
		if got := m.LimitWords(); got != want {
			t.Errorf("%+v: %q, want %q", m, got, want)
		}
	}
	if got := tally(preflight.Counts{Error: 1, Note: 3}); got != "1 error, 3 notes" {
		t.Errorf("tally: %q", got)
	}
}

// TestLettersTheFontLacks: each run of them is an ellipsis; accents belong to their letters.
func TestLettersTheFontLacks(t *testing.T) {
	for text, want := range map[string]string{
		"灯笼 walk.png": "… walk.png", "🏮 灯笼 walk.png": "… walk.png", "🏳️‍🌈 a.png": "… a.png", "Lantern 🏮🏮.png": "Lantern ….png", "Spa\u0308te Лампа.png": "Späte Лампа.png",
		"a\u0301\u0333.png": "á.png", "moth.png": "moth.png", "فانوس": "…",
	} {
		if got := drawable(text); got != want {
			t.Errorf("drawable(%q) = %q, want %q", text, got, want)
		}
	}
	if got, want := clean("a\x1bb\u202ec\nd"), "a\ufffdb\ufffdc d"; got != want {
		t.Errorf("clean: %q, want %q", got, want)
	}
}

func TestShortenAndWrapFit(t *testing.T) {
	set := setters.Get().(*setter)
	defer setters.Put(set)
	long := "lantern-walk-front-final-version-three.png"
	for _, room := range []int{100, 200, 300, 10000} {
		got := set.shorten(bodyType, long, room)
		if w := set.width(bodyType, got); w > room {
			t.Errorf("%q is %d px wide, room %d", got, w, room)
		}
		if room == 10000 && got != long {
			t.Errorf("shortened without need: %q", got)
		}
		if room < 10000 && (got[0] != 'l' || got[len(got)-1] != 'g') {
			t.Errorf("%q lost its ends", got)
		}
		for _, line := range set.wrap(bodyType, long+" and a few words more "+long, room, 3) {
			if w := set.width(bodyType, line); w > room {
				t.Errorf("line %q is %d px wide, room %d", line, w, room)
			}
		}
	}
	if got := set.wrap(bodyType, "one two three four five six", 60, 2); len(got) != 2 || got[1][len(got[1])-len(ellipsis):] != ellipsis {
		t.Errorf("cut text lacks its ellipsis: %q", got)
	}
}

func TestNumbersKeepTheirUnits(t *testing.T) {
	for text, want := range map[string][]string{
		"makes it 52 x 52 mm.":        {"makes", "it", "52 x 52 mm."},
		"most 48 %.":                  {"most", "48 %."},
		"over 1236.0 mm² will":        {"over", "1236.0 mm²", "will"},
		"(95.2 %) upright":            {"(95.2 %)", "upright"},
		"x mm 3 places, page 2 x":     {"x", "mm", "3", "places,", "page", "2 x"},
		"moth x reed":                 {"moth", "x", "reed"},
		"x 90 degrees it is 141.2 mm": {"x", "90", "degrees", "it", "is", "141.2 mm"},
	} {
		if got := together(strings.Fields(text)); !slices.Equal(got, want) {
			t.Errorf("%q is parted as %q, want %q", text, got, want)
		}
	}
}

// TestNamesAreToldApart: findings without a measure share a line only if they say the same, so that no layer's or font's name is lost.
func TestNamesAreToldApart(t *testing.T) {
	findings := []preflight.Finding{
		{ID: 1, Rule: "font-missing", Message: "The font A is not in the file."},
		{ID: 2, Rule: "font-missing", Message: "The font B is not in the file."},
		{ID: 3, Rule: "page-note", Message: "A stamp."},
		{ID: 4, Rule: "page-note", Message: "A stamp."},
	}
	centre := func(int) image.Point { return image.Pt(5, 5) }
	var got []string
	for _, c := range gather(findings, kinds(findings, true), centre, image.Rect(0, 0, 10, 10), 10) {
		got = append(got, c.message(findings, nil))
	}
	want := []string{"The font A is not in the file.", "The font B is not in the file.", "2 places (3, 4): A stamp."}
	if !slices.Equal(got, want) {
		t.Errorf("the lines are %q, not %q", got, want)
	}
}

// TestAcceptedAreToldApart: what is accepted goes into clusters of its own, after what counts, and is not called an error.
func TestAcceptedAreToldApart(t *testing.T) {
	accepted := &preflight.Accepted{By: preflight.AcceptedByBaseline}
	findings := []preflight.Finding{
		{ID: 1, Rule: "hairline", Level: preflight.LevelError, Accepted: accepted},
		{ID: 2, Rule: "speck", Level: preflight.LevelError, Accepted: accepted},
		{ID: 3, Rule: "speck", Level: preflight.LevelWarning},
		{ID: 4, Rule: "speck", Level: preflight.LevelError},
	}
	centre := func(int) image.Point { return image.Pt(5, 5) }
	var got []string
	for _, c := range gather(findings, kinds(findings, true), centre, image.Rect(0, 0, 10, 10), 10) {
		got = append(got, fmt.Sprintf("%s %s %d", c.rule, c.word(), c.worst.ID))
	}
	want := []string{"speck Error 4", "speck Warning 3", "speck Accepted 2", "hairline Accepted 1"}
	if !slices.Equal(got, want) {
		t.Errorf("the clusters are %q, not %q", got, want)
	}
	if _, asks := verdictWords(preflight.Ready, preflight.Counts{Accepted: 2}); !strings.Contains(asks, "accepted") {
		t.Errorf("a design that is ready since its findings are accepted is called %q", asks)
	}
}

// Where another size is advised, the head tells it: who drags files into a folder sees the proof alone.
func TestSizeToPrintIsTold(t *testing.T) {
	in := noSize()
	for advised, sizes := range map[bool]*preflight.SuitableSizes{
		false: nil, true: {Most: preflight.PrintedSize{Scale: 0.5, PictureMM: preflight.SizeMM{W: 90, H: 70}}, SuitsAll: true},
	} {
		in.Report.Sizes = sizes
		facts := newPage(in).facts()
		last := facts[len(facts)-1]
		if told := last.label == "Size to print" && strings.Join(last.lines, " ") == "up to 90.0 x 70.0 mm. Judge it again at that size."; told != advised {
			t.Errorf("advised %v: %+v", advised, last)
		}
	}
}

// TestNextStepIsWhole: what to do about a size not known is not cut off, as told in a watched folder, where it is longest, and of all rules that
// wait for a size.
func TestNextStepIsWhole(t *testing.T) {
	rep := noSize().Report
	rep.Skipped = nil
	for _, title := range []string{"too close to the edge of the sheet", "too few pixels for the printed size", "larger than the sheet can print",
		"fits the sheet only when turned", "large solid that will be stiff and may crack", "letters too small to stay readable"} {
		rep.Skipped = append(rep.Skipped, preflight.Skipped{Rule: title, Title: title, Reason: "the printed size is not known; save it with its resolution (pixels an inch), or, " +
			"if all artwork in the folder is to be one width, write that into the folder's peelcheck.yaml (width: 120mm)"})
	}
	rep.Findings[0].Remedy = "Ask how wide the whole picture, with its empty edges, is to be printed, and save it with the resolution (pixels an inch) that gives this width; " +
		"or, if all artwork in the folder is to be one width, write that into the folder's peelcheck.yaml (width: 120mm)."
	p := newPage(bare(rep))
	for _, row := range []listRow{p.remedyRow(p.clusters[0], 0), p.wordsRow(skippedWords(rep.Skipped)[0], "Not examined: ")} {
		if all := strings.Join(row.message, " "); !strings.HasSuffix(all, "(width: 120mm).") {
			t.Errorf("cut off: %q", all)
		}
	}
}

// TestCloseUpsAreNamed: the number of each close-up is in the list: as a line's own, in the words of the line that gathers it, or in those of
// what has no line.
func TestCloseUpsAreNamed(t *testing.T) {
	small := shirt.report()
	for i := range 5 {
		shirt.line(small, preflight.LevelError, 60+2*float64(i), 30, 0.2, 20, 0.1+0.01*float64(i))
	}
	for name, in := range map[string]Input{"many": manyFindings(), "ten thousand": tenThousand(), "small": shirt.input(small)} {
		p := newPage(in)
		list := p.unlistedWords()
		for _, cl := range p.clusters {
			list += fmt.Sprintf(" [%d] %s", cl.tag, cl.message(p.rep.Findings, p.closeUp()))
		}
		for _, i := range p.closeUp() {
			id := p.rep.Findings[i].ID
			if ok, err := regexp.MatchString(fmt.Sprintf(`\[%d\]|; close up:[^);]* %[1]d\b`, id), list); err != nil || !ok {
				t.Errorf("%s: close-up %d is not named: %s", name, id, list)
			}
		}
	}
	p := newPage(manyFindings())
	p.number([]*cluster{p.clusters[0], p.clusters[len(p.clusters)-1]}, 1)
	p.unlisted = 26
	if got, want := p.unlistedWords(), "And 26 more in the report; close up: 10, 11, 19."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	all := make([]preflight.Finding, 9)
	for i := range all {
		all[i] = preflight.Finding{ID: i + 1, Measure: preflight.Measure{Value: 0.1, Limit: 0.35, Unit: "mm"}}
	}
	c := cluster{rule: "thin-gap", members: []int{1, 0, 2, 3, 4, 5}, worst: &all[1]}
	for _, tt := range []struct {
		closeUp []int
		want    string
	}{
		{[]int{1, 8}, "6 narrow gaps (1, 2, 3 and 3 more), narrowest 0.10 mm."},
		{[]int{5}, "6 narrow gaps (1, 2, 3 and 3 more; close up: 6), narrowest 0.10 mm."},
		{[]int{5, 0, 1, 3}, "6 narrow gaps (1, 2, 3 and 3 more; close up: 1, 4, 6), narrowest 0.10 mm."},
	} {
		if got := c.message(all, tt.closeUp); got != tt.want {
			t.Errorf("%q, want %q", got, tt.want)
		}
	}
}
