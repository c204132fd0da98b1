package baseline

import (
	"math/rand/v2"
	"os"
	"testing"

	"pgregory.net/rapid"

	"peelcheck/preflight"
)

var rulesDrawn = []string{"hairline", "speck"}

// someFindings are crowded, so that many may be many.
func someFindings(label string, most int) *rapid.Generator[[]Finding] {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Finding {
		mm := rapid.Float64Range(0, 4)
		return Finding{
			Rule:    rapid.SampledFrom(rulesDrawn).Draw(t, "rule"),
			Level:   rapid.SampledFrom([]preflight.Level{preflight.LevelWarning, preflight.LevelError}).Draw(t, "level"),
			BoxMM:   preflight.BoxMM{X: mm.Draw(t, "x"), Y: mm.Draw(t, "y"), W: rapid.Float64Range(0, 1).Draw(t, "w"), H: 0.3},
			Measure: rapid.SampledFrom([]float64{0.2, 0.21, 0.3}).Draw(t, "measure"),
		}
	}), 0, most)
}

// most is the size of the largest matching, by trying all.
func most(held, now []Finding, taken []bool) int {
	if len(now) == 0 {
		return 0
	}
	best := most(held, now[1:], taken)
	for h := range held {
		if _, ok := alike(&held[h], &now[0], 0, 0); ok && !taken[h] {
			taken[h] = true
			best = max(best, 1+most(held, now[1:], taken))
			taken[h] = false
		}
	}
	return best
}

// TestMatchIsOneToOneAndLargest: every pair is alike, nobody has two partners, and no matching has more pairs.
func TestMatchIsOneToOneAndLargest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		held, now := someFindings("held", 6).Draw(t, "held"), someFindings("now", 6).Draw(t, "now")
		pairs := pairUp(held, now, 0, 0)
		taken := make([]bool, len(held))
		for n, h := range pairs {
			if h < 0 {
				continue
			}
			if taken[h] {
				t.Fatalf("%d is held once and matched twice", h)
			}
			taken[h] = true
			if _, ok := alike(&held[h], &now[n], 0, 0); !ok {
				t.Fatalf("%+v is taken for %+v", now[n], held[h])
			}
		}
		if got, want := paired(pairs), most(held, now, make([]bool, len(held))); got != want {
			t.Fatalf("%d pairs, and %d can be had", got, want)
		}
	})
}

// TestMatchSurvivesSmallShifts: whatever order, whatever shift under the bound, common to all or of each alone, none is lost; and a
// finding more is never accepted.
func TestMatchSurvivesSmallShifts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		held := someFindings("held", 60).Draw(t, "held")
		now := make([]Finding, len(held))
		copy(now, held)
		shift := rapid.Float64Range(-0.49*ShiftMM, 0.49*ShiftMM)
		dx, dy := shift.Draw(t, "dx"), shift.Draw(t, "dy")
		rng := rand.New(rand.NewPCG(1, uint64(len(held))))
		for i := range now {
			now[i].BoxMM.X += dx + (rng.Float64()-0.5)*ShiftMM
			now[i].BoxMM.Y += dy + (rng.Float64()-0.5)*ShiftMM
		}
		rng.Shuffle(len(now), func(i, k int) { now[i], now[k] = now[k], now[i] })
		extra := Finding{Rule: "hairline", Level: preflight.LevelError, BoxMM: preflight.BoxMM{X: 30, W: 5, H: 1}, Measure: 0.2}
		pairs := pairUp(held, append(now, extra), 0, 0)
		if paired(pairs) != len(held) || pairs[len(now)] >= 0 {
			t.Fatalf("%d of %d matched, the new one with %d", paired(pairs), len(held), pairs[len(now)])
		}
	})
}

func TestAlike(t *testing.T) {
	base := Finding{Rule: "hairline", Level: preflight.LevelWarning, Plane: preflight.White, BoxMM: preflight.BoxMM{X: 10.45, Y: 3, W: 2, H: 1}, Measure: 0.2, Unit: "mm"}
	tests := []struct {
		name   string
		change func(f *Finding)
		want   bool
	}{
		{"the same", func(*Finding) {}, true},
		{"across a rounding boundary", func(f *Finding) { f.BoxMM.X += 0.1 }, true},
		{"a millimetre on", func(f *Finding) { f.BoxMM.X += 1.01 }, false},
		{"longer by more than a millimetre", func(f *Finding) { f.BoxMM.W += 1.01 }, false},
		{"a little thinner", func(f *Finding) { f.Measure = 0.18 }, true},
		{"much thinner", func(f *Finding) { f.Measure = 0.15 }, false},
		{"another rule", func(f *Finding) { f.Rule = "speck" }, false},
		{"another plane", func(f *Finding) { f.Plane = "" }, false},
		{"now an error", func(f *Finding) { f.Level = preflight.LevelError }, false},
		{"now a note", func(f *Finding) { f.Level = preflight.LevelNote }, true},
		{"in another unit", func(f *Finding) { f.Unit = "share" }, false},
	}
	for _, tt := range tests {
		now := base
		tt.change(&now)
		if got := pairUp([]Finding{base}, []Finding{now}, 0, 0)[0] >= 0; got != tt.want {
			t.Errorf("%s: alike %v, want %v", tt.name, got, tt.want)
		}
	}
}

// reportOf is a report with hairlines at the places, in millimetres from the left.
func reportOf(sum string, printedX float64, places ...float64) *preflight.Report {
	rep := &preflight.Report{Artwork: preflight.ArtworkInfo{SHA256: sum, Page: 1, WidthMM: 100, HeightMM: 50, PrintedBoxMM: preflight.BoxMM{X: printedX, W: 60, H: 40}}}
	for _, x := range places {
		rep.Findings = append(rep.Findings, preflight.Finding{Rule: "hairline", Level: preflight.LevelWarning, BoxMM: preflight.BoxMM{X: x, Y: 5, W: 1, H: 1}, Measure: preflight.Measure{Value: 0.2, Unit: "mm"}})
	}
	return rep
}

func TestKnown(t *testing.T) {
	dir := t.TempDir()
	w, err := NewWriter(dir + "/b.json")
	if err != nil {
		t.Fatal(err)
	}
	w.Add(reportOf("aa", 5, 10, 20, 30), dir+"/lib/lantern.png")
	w.Add(reportOf("bb", 5, 12, 22), dir+"/lib/moth.png")
	waived := reportOf("cc", 5, 10)
	waived.Findings[0].Accepted = &preflight.Accepted{By: preflight.AcceptedByWaiver, Reason: "old"}
	w.Add(waived, dir+"/lib/waived.png")
	if w.Count() != 5 {
		t.Errorf("%d findings taken, want 5", w.Count())
	}
	if err := w.Write(t.Context()); err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name    string
		rep     *preflight.Report
		path    string
		library []Present // besides the artwork itself
		want    int
	}{
		{"as it was", reportOf("aa", 5, 10, 20, 30), "lib/lantern.png", nil, 3},
		{"renamed and moved", reportOf("aa", 5, 10, 20, 30), "other/name.png", nil, 3},
		{"changed a little", reportOf("a2", 5, 10.3, 20.3, 30.3), "lib/lantern.png", nil, 3},
		{"one mended, one new", reportOf("a2", 5, 10, 20, 40), "lib/lantern.png", nil, 2},
		{"cropped at the left", reportOf("a2", 2, 7, 17, 27), "lib/lantern.png", nil, 3},
		{"moved and changed", reportOf("a2", 5, 10.2, 20.2, 30.2), "new/x.png", nil, 3},
		{"moved, changed, hardly alike", reportOf("a2", 5, 10.2, 70, 80), "new/x.png", nil, 0},
		{"like one that is still there", reportOf("a2", 5, 10.2, 20.2, 30.2), "new/x.png", []Present{{dir + "/lib/lantern.png", "a3"}}, 0},
		{"like one whose content is still there", reportOf("a2", 5, 10.2, 20.2, 30.2), "new/x.png", []Present{{dir + "/else.png", "aa"}}, 0},
		{"waived then, not now", reportOf("cc", 5, 10), "lib/waived.png", nil, 0},
		{"content before name", reportOf("bb", 5, 12, 22), "lib/lantern.png", nil, 2},
	}
	for _, tt := range tests {
		path := dir + "/" + tt.path
		b, err := Read(dir+"/b.json", append(tt.library, Present{path, tt.rep.Artwork.SHA256}))
		if err != nil {
			t.Fatal(err)
		}
		got := 0
		for _, k := range b.Known(tt.rep, path, make([]bool, len(tt.rep.Findings))) {
			if k {
				got++
			}
		}
		if got != tt.want {
			t.Errorf("%s: %d known, want %d", tt.name, got, tt.want)
		}
	}
}

// TestKeep: what was not judged is kept while its file is there; of the rest, what is not found again is counted.
func TestKeep(t *testing.T) {
	dir := t.TempDir()
	name := dir + "/b.json"
	old, err := NewWriter(name)
	if err != nil {
		t.Fatal(err)
	}
	old.Add(reportOf("aa", 5, 10, 20, 30), dir+"/mended.png")
	old.Add(reportOf("bb", 5, 10, 20), dir+"/elsewhere.png")
	old.Add(reportOf("cc", 5, 10, 20, 30, 40), dir+"/gone.png")
	old.Add(reportOf("dd", 5, 10), dir+"/renamed.png")
	if err := old.Write(t.Context()); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(dir+"/elsewhere.png", nil, 0o666); err != nil {
		t.Fatal(err)
	}
	w, err := NewWriter(name)
	if err != nil {
		t.Fatal(err)
	}
	w.Add(reportOf("a2", 5, 10.2, 50), dir+"/mended.png")
	w.Add(reportOf("dd", 5, 10), dir+"/new/name.png")
	if kept, gone := w.Keep(); kept != 2 || gone != 2+4 {
		t.Errorf("%d kept and %d gone, want 2 and 6", kept, gone)
	}
	if w.Count() != 2+1+2 {
		t.Errorf("%d findings, want 5", w.Count())
	}
}
