package ruletest

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"runtime"
	"strings"
	"sync/atomic"
	"testing"
	"testing/fstest"

	"peelcheck/preflight"
)

// widthRule reports all that prints if its box is narrower than the line limit.
func widthRule() *preflight.Rule {
	doc := ""
	for _, h := range preflight.DocHeadings {
		doc += "## " + h + "\n"
	}
	return &preflight.Rule{
		ID: "narrow-box", Title: "box too narrow", Group: "detail", Doc: doc, Level: preflight.LevelWarning, Remedy: "Widen it.",
		Limit:   preflight.LimitSpec{Name: "line", Quantity: "width", Sense: preflight.AtLeast},
		Sources: []preflight.Source{{Title: "none", Says: "made up for this test"}},
		Run: func(s *preflight.Scene, limit float64) []preflight.Hit {
			if mm := s.MM(float64(s.Printed.Dx())); mm < limit {
				return []preflight.Hit{{Where: s.Printed, Value: mm, Message: "Narrow."}}
			}
			return nil
		},
	}
}

// The pixels of these cases are a tenth of a millimetre, the limit is 2 mm.
const (
	head  = "A case made up for this test.\n-- job --\nppi 254\nlimit line 2\n-- art --\n"
	under = head + "page 6 6\nrect 1 1 1.8 4 black\n-- want --\nwarning 1 1 1.8 4 = 1.8\n"
	over  = head + "page 6 6\nrect 1 1 2.2 4 black\n-- want --\n"
)

func files(texts ...string) fstest.MapFS {
	dir := fstest.MapFS{}
	for i, text := range texts {
		dir[string(rune('a'+i))+".txtar"] = &fstest.MapFile{Data: []byte(text)}
	}
	return dir
}

func TestCheckPasses(t *testing.T) {
	for name, dir := range map[string]fstest.MapFS{
		"text":    files(under, over),
		"picture": withPicture(files(over)),
	} {
		if faults := check(dir, widthRule()); len(faults) > 0 {
			t.Errorf("%s: %q, want no faults", name, faults)
		}
	}
}

// withPicture adds the case under as a PNG.
func withPicture(dir fstest.MapFS) fstest.MapFS {
	m := image.NewNRGBA(image.Rect(0, 0, 60, 60))
	for y := 10; y < 50; y++ {
		for x := 10; x < 28; x++ {
			m.Set(x, y, color.Black)
		}
	}
	var buf bytes.Buffer
	if err := png.Encode(&buf, m); err != nil {
		panic(err)
	}
	job, _, _ := strings.Cut(head, "-- art --\n")
	_, want, _ := strings.Cut(under, "black\n")
	dir["p.png"] = &fstest.MapFile{Data: buf.Bytes()}
	dir["p.want"] = &fstest.MapFile{Data: []byte(job + want)}
	return dir
}

func TestCheckFails(t *testing.T) {
	with := func(change func(r *preflight.Rule)) *preflight.Rule {
		r := widthRule()
		change(r)
		return r
	}
	swap := func(text, old, new string) string {
		if !strings.Contains(text, old) {
			panic("no " + old + " to swap")
		}
		return strings.Replace(text, old, new, 1)
	}
	lonely := withPicture(files(over))
	delete(lonely, "p.want")
	headless := withPicture(files(over))
	delete(headless, "p.png")
	wide := swap(over, "2.2", "4")
	narrow := swap(swap(under, "1 1 1.8 4 black", "1 1 1 4 black"), "1 1 1.8 4 = 1.8", "1 1 1 4 = 1")
	tests := []struct {
		name string
		dir  fstest.MapFS
		rule *preflight.Rule
		want string
	}{
		{"no artwork", fstest.MapFS{}, widthRule(), "no artwork"},
		{"nothing fires", files(over), widthRule(), "no case fires"},
		{"nothing is silent", files(under), widthRule(), "no case stays silent"},
		{"limit from below", files(narrow, over), widthRule(), "limit at 85 %"},
		{"limit from above", files(under, wide), widthRule(), "limit at 115 %"},
		{"unmet", files(under, over+"error 1 1 2 2 = 1\n"), widthRule(), "not found: error 1 1 2 2"},
		{"unexpected", files(swap(under, "warning 1 1 1.8 4 = 1.8\n", ""), over), widthRule(), "unexpected: warning 1.00 1.00"},
		{"other level", files(swap(under, "warning", "error"), over), widthRule(), "unexpected"},
		{"other place", files(swap(under, "warning 1 1", "warning 1.3 1"), over), widthRule(), "unexpected"},
		{"other size", files(swap(under, "1.8 4 =", "1.8 4.3 ="), over), widthRule(), "unexpected"},
		{"other measure", files(swap(under, "= 1.8", "= 1.75"), over), widthRule(), "unexpected"},
		{"no measure", files(swap(under, " = 1.8", ""), over), widthRule(), "unexpected"},
		{"other plane", files(swap(under, "= 1.8", "= 1.8 white"), over), widthRule(), "unexpected"},
		{"twice", files(under+"warning 1 1 1.8 4 = 1.8\n", over), widthRule(), "not found"},
		{"never skipped", files(under, over), with(func(r *preflight.Rule) { r.Needs = []preflight.Need{preflight.NeedSize} }), "no case of unknown size"},
		{"skip not wanted", files(under, over, swap(over, "ppi 254", "ppi unknown")), with(func(r *preflight.Rule) { r.Needs = []preflight.Need{preflight.NeedSize} }), "skipped is true, want false"},
		{"skip wanted", files(under, over+"skipped\n"), widthRule(), "skipped is false, want true"},
		{"picture changed", files(under, over), with(func(r *preflight.Rule) {
			run := r.Run
			r.Run = func(s *preflight.Scene, limit float64) []preflight.Hit {
				s.Mirror() // which is worked out beside the rules
				s.Art.Picture.Pix.Pix[0]++
				return run(s, limit)
			}
		}), "picture was changed"},
		{"plane changed", files(under, over), with(func(r *preflight.Rule) {
			run := r.Run
			r.Run = func(s *preflight.Scene, limit float64) []preflight.Hit {
				s.WhiteRegions() // which are worked out beside the rules
				s.Mirror()
				s.White().Words[0]++
				return run(s, limit)
			}
		}), "changes the scene"},
		{"state", files(under, over), with(func(r *preflight.Rule) {
			run := r.Run
			var calls atomic.Int64
			r.Run = func(s *preflight.Scene, limit float64) []preflight.Hit {
				hits := run(s, limit)
				for i := range hits {
					hits[i].Value -= float64(calls.Add(1)) / 1e9
				}
				return hits
			}
		}), "second run finds something else"},
		{"workers", files(under, over), with(func(r *preflight.Rule) {
			run := r.Run
			r.Run = func(s *preflight.Scene, limit float64) []preflight.Hit {
				return run(s, limit)[:min(len(run(s, limit)), runtime.GOMAXPROCS(0)-1)]
			}
		}), "disagree"},
		{"safe measure", files(under, over), with(func(r *preflight.Rule) { r.Limit.Sense = preflight.AtMost }), "although at most 2"},
		{"no reason", files(strings.TrimPrefix(under, "A case made up for this test."), over), widthRule(), "sentence that says why"},
		{"no want", files(swap(over, "-- want --\n", ""), under), widthRule(), "needs a want section"},
		{"odd section", files(over+"-- note --\n", under), widthRule(), `section "note"`},
		{"odd job", files(swap(over, "ppi 254", "dpi 254"), under), widthRule(), "dpi 254"},
		{"odd process", files(swap(over, "ppi 254", "process toner"), under), widthRule(), "no process"},
		{"odd limit", files(swap(over, "limit line", "limit lane"), under), widthRule(), "lane"},
		{"odd art", files(swap(over, "rect", "rectangle"), under), widthRule(), `no shape "rectangle"`},
		{"odd want", files(over+"warning 1 1 2\n", under), widthRule(), "LEVEL X Y W H"},
		{"stray file", fstest.MapFS{"notes.md": {}}, widthRule(), "neither .txtar"},
		{"picture without want", lonely, widthRule(), "no p.want"},
		{"want without picture", headless, widthRule(), "p.png"},
	}
	for _, tt := range tests {
		faults := strings.Join(check(tt.dir, tt.rule), "\n")
		if !strings.Contains(faults, tt.want) {
			t.Errorf("%s: faults are %q, want one with %q", tt.name, faults, tt.want)
		}
	}
}

func TestShapesCoverTheirArea(t *testing.T) {
	tests := []struct {
		art  string
		want float64 // mm2
	}{
		{"rect 1.013 2.029 3.37 1.21 black", 3.37 * 1.21},
		{"line 2 2 7 5.3 0.41 black", math.Hypot(5, 3.3) * 0.41},
		{"disc 5.03 5.01 2.7 black", math.Pi / 4 * 2.7 * 2.7},
		{"ring 5.03 5.01 6 0.22 black", math.Pi / 4 * (6*6 - 5.56*5.56)},
		{"polygon 1.1,1.2 8.3,2.9 4.4,7.7 black", 0.5 * math.Abs((8.3-1.1)*(7.7-1.2)-(4.4-1.1)*(2.9-1.2))},
		{"rect 1 1 4 4 black/40", 16 * 0.4},
		{"rect 1 1 4 4 black/40\nrect 1 1 4 4 black/50", 16 * 0.7}, // 0.5 + 0.4 x 0.5
		{"fade 1 1 8 2 black", 8},
		{"dots 1 1 4 4 1 0.5 black", 16 * math.Pi / 4 * 0.25},
		{"grain 1 1 4 4 20 80 5", 16},
	}
	const ppi = 254
	for _, tt := range tests {
		m, err := drawArt("page 10 10\n"+tt.art, ppi)
		if err != nil {
			t.Errorf("%s: %v", tt.art, err)
			continue
		}
		sum := 0
		for i := 3; i < len(m.Pix); i += 4 {
			sum += int(m.Pix[i])
		}
		if got := float64(sum) / 255 / 100; math.Abs(got-tt.want) > 0.01*tt.want {
			t.Errorf("%s: covers %.3f mm2, want %.3f", tt.art, got, tt.want)
		}
	}
}

func TestDrawArtColours(t *testing.T) {
	tests := []struct {
		art  string
		x, y int
		want color.NRGBA
	}{
		{"page 4 4 white\nrect 0 0 2 4 red/50", 5, 5, color.NRGBA{255, 127, 127, 255}},
		{"page 4 4\nrect 0 0 4 4 #0000ff/40\nrect 0 0 4 4 #ff0000/50", 5, 5, color.NRGBA{183, 0, 72, 179}}, // alpha 0.7, red 0.5 of it
		{"page 4 4\nrect 0 0 4 4 k10", 5, 5, color.NRGBA{230, 230, 230, 255}},
		{"page 4 4\nrect 0 0 2 4 black", 25, 5, color.NRGBA{}},
		{".#\nw.", 1, 0, color.NRGBA{0, 0, 0, 255}},
		{"scale 3\nlegend x #102030/0\n.#\nwx", 5, 2, color.NRGBA{0, 0, 0, 255}},
		{"scale 3\n.#\nwr", 2, 5, color.NRGBA{255, 255, 255, 255}},
		{"scale 3\n.#\nwr", 3, 3, color.NRGBA{255, 0, 0, 255}},
	}
	for _, tt := range tests {
		m, err := drawArt(tt.art, 254)
		if err != nil {
			t.Errorf("%q: %v", tt.art, err)
			continue
		}
		got := m.NRGBAAt(tt.x, tt.y)
		for i, d := range [4]int{int(got.R) - int(tt.want.R), int(got.G) - int(tt.want.G), int(got.B) - int(tt.want.B), int(got.A) - int(tt.want.A)} {
			if d*d > 1 {
				t.Errorf("%q at (%d, %d), channel %d: %v, want %v", tt.art, tt.x, tt.y, i, got, tt.want)
			}
		}
	}
}

func TestDrawArtRefuses(t *testing.T) {
	for art, want := range map[string]string{
		"":                                   "empty",
		"..\n.":                              "row 2 has 1",
		"#?":                                 "legend",
		"scale 0\n#":                         "scale 0",
		"two words too many here":            "no row",
		"page 4 4\npage 4 4":                 "one page",
		"page 4 4\nrect 1 1 1 black":         "no number",
		"page 4 4\nrect 1 1 1 1":             "too few words",
		"page 4 4\nrect 1 1 1 1 black extra": "left over",
		"page 4 4\nrect 1 1 1 1 blck":        "not a colour",
		"page 4 4\ndisc 1 1 1 black/101":     "opacity",
		"page 4 4\npolygon 1,1 2,2 black":    "2 corners",
		"page 4 4\npolygon 1,1 2,2 3 black":  "X,Y",
		"page 4 4\ndots 1 1 1 1 0 1 black":   "pitch",
		"page 4 4\ngrain 1 1 1 1 0 9 0":      "seed",
		"page 0 4":                           "page of 0",
	} {
		if _, err := drawArt(art, 254); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want an error with %q", art, err, want)
		}
	}
}
