package impose

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"peelcheck/preflight"
)

var a4 = Sheet{WidthMM: 210, HeightMM: 297, MarginMM: 4.2, ClearanceMM: 5, SpacingMM: 10} // designs within 200 x 287 mm

func TestLayByHand(t *testing.T) {
	tests := []struct {
		name    string
		designs []Design
		sheet   Sheet
		turn    Turning
		sheets  int
		bound   int
		share   float64 // of the first sheet
	}{
		// 90 x 90 with 10 between: two across (190 of 200), two down (190; a third would end at 290 of 287).
		{"grid", []Design{{"a", 90, 90, 4}}, a4, TurnEach, 1, 1, 4 * 90 * 90 / (201.6 * 288.6)},
		{"one more than a sheet", []Design{{"a", 90, 90, 5}}, a4, TurnEach, 2, 1, 4 * 90 * 90 / (201.6 * 288.6)},
		// Each is more than half the sheet both ways, however it lies, so no two share one.
		{"large", []Design{{"a", 150, 160, 3}, {"b", 160, 150, 2}}, a4, TurnEach, 5, 5, 150 * 160 / (201.6 * 288.6)},
		// 200 x 90, three down: 90 + 10 + 90 + 10 + 90 = 290 of 287; two.
		{"strips", []Design{{"a", 200, 90, 2}}, a4, TurnNone, 1, 1, 2 * 200 * 90 / (201.6 * 288.6)},
		// Lies only turned.
		{"turned", []Design{{"a", 287, 200, 1}}, a4, TurnAlike, 1, 1, 287 * 200 / (201.6 * 288.6)},
		// Without spacing and margin the four parts are the whole sheet.
		{"exact", []Design{{"a", 60, 100, 1}, {"b", 40, 60, 1}, {"c", 40, 40, 1}}, Sheet{WidthMM: 100, HeightMM: 100}, TurnNone, 1, 1, 1},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			l, err := Lay(tt.designs, tt.sheet, tt.turn)
			if err != nil {
				t.Fatal(err)
			}
			if len(l.Sheets) != tt.sheets || l.Bound != tt.bound || math.Abs(l.Sheets[0].Share-tt.share) > 1e-9 {
				t.Errorf("%d sheets of at least %d, share %g; want %d, %d, %g", len(l.Sheets), l.Bound, l.Sheets[0].Share, tt.sheets, tt.bound, tt.share)
			}
			if fault := faults(l, tt.designs, tt.sheet, tt.turn); fault != "" {
				t.Error(fault)
			}
		})
	}
}

// faults looks for anything that a layout must not have.
func faults(l *Layout, designs []Design, sheet Sheet, turn Turning) string {
	const slip = fitTolerance/1000.0 + 1e-6
	inset := max(sheet.MarginMM, sheet.ClearanceMM)
	seen := map[[2]int]bool{}
	turns := map[int]int{}
	for n, s := range l.Sheets {
		if len(s.Placements) == 0 {
			return fmt.Sprintf("sheet %d is empty", n+1)
		}
		share := 0.0
		for i, p := range s.Placements {
			if key := [2]int{p.Design, p.Copy}; seen[key] {
				return fmt.Sprintf("copy %v stands twice", key)
			} else {
				seen[key] = true
			}
			if was, ok := turns[p.Design]; ok && turn == TurnAlike && was != p.TurnDeg || turn == TurnNone && p.TurnDeg != 0 || p.TurnDeg != 0 && p.TurnDeg != 90 {
				return fmt.Sprintf("turned by %d degrees", p.TurnDeg)
			}
			turns[p.Design] = p.TurnDeg
			share += designs[p.Design].WidthMM * designs[p.Design].HeightMM
			w, h := placed(p, designs)
			if p.XMM < inset-1e-9 || p.YMM < inset-1e-9 || p.XMM+w > sheet.WidthMM-inset+slip || p.YMM+h > sheet.HeightMM-inset+slip {
				return fmt.Sprintf("%+v, %g x %g, is not within the sheet", p, w, h)
			}
			for _, o := range s.Placements[:i] {
				ow, oh := placed(o, designs)
				gap := max(p.XMM-o.XMM-ow, o.XMM-p.XMM-w, p.YMM-o.YMM-oh, o.YMM-p.YMM-h)
				if gap < sheet.SpacingMM-0.002 { // sizes are rounded to a micrometre
					return fmt.Sprintf("%+v and %+v are %g mm apart", p, o, gap)
				}
			}
		}
		printable := (sheet.WidthMM - 2*sheet.MarginMM) * (sheet.HeightMM - 2*sheet.MarginMM)
		if math.Abs(s.Share-share/printable) > 1e-9 {
			return fmt.Sprintf("share %g, want %g", s.Share, share/printable)
		}
	}
	total := 0
	for d, n := range l.Counts {
		for c := range n {
			if !seen[[2]int{d, c}] {
				return fmt.Sprintf("copy %d of design %d is missing", c, d)
			}
		}
		total += n
	}
	switch {
	case total != len(seen):
		return fmt.Sprintf("%d placed, %d counted", len(seen), total)
	case len(l.Sheets) < l.Bound:
		return fmt.Sprintf("%d sheets, fewer than the bound of %d", len(l.Sheets), l.Bound)
	case len(l.Sheets) > total:
		return fmt.Sprintf("%d sheets for %d copies", len(l.Sheets), total)
	}
	return ""
}

func placed(p Placement, designs []Design) (w, h float64) {
	d := designs[p.Design]
	if p.TurnDeg == 90 {
		return d.HeightMM, d.WidthMM
	}
	return d.WidthMM, d.HeightMM
}

func drawJob(t *rapid.T) ([]Design, Sheet, Turning) {
	length := func(low, high int, name string) float64 {
		return float64(rapid.IntRange(low, high).Draw(t, name)) / 100
	}
	sheet := Sheet{WidthMM: length(8_000, 21_000, "width"), HeightMM: length(8_000, 29_700, "height"),
		MarginMM: length(0, 500, "margin"), ClearanceMM: length(0, 800, "clearance"), SpacingMM: length(0, 1_000, "spacing")}
	designs := make([]Design, rapid.IntRange(1, 3).Draw(t, "designs"))
	for i := range designs {
		designs[i] = Design{fmt.Sprint("design ", i), length(900, 6_400, "w"), length(900, 6_400, "h"), rapid.IntRange(1, 4).Draw(t, "copies")}
	}
	return designs, sheet, Turning(rapid.IntRange(0, 2).Draw(t, "turn"))
}

func TestLayProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		designs, sheet, turn := drawJob(t)
		l, err := Lay(designs, sheet, turn)
		if err != nil {
			t.Fatal(err)
		}
		if fault := faults(l, designs, sheet, turn); fault != "" {
			t.Fatal(fault)
		}
		for i, d := range designs {
			if l.Counts[i] != d.Copies {
				t.Fatalf("%d copies of design %d, want %d", l.Counts[i], i, d.Copies)
			}
		}
		if again, err := Lay(designs, sheet, turn); err != nil || !reflect.DeepEqual(l, again) {
			t.Fatal("the same job gives another layout")
		}
	})
}

func TestFillProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		designs, sheet, turn := drawJob(t)
		for i := range designs {
			designs[i].WidthMM, designs[i].HeightMM = 20+designs[i].WidthMM/2, 20+designs[i].HeightMM/2
		}
		l, err := Fill(designs, sheet, turn)
		if err != nil {
			if len(designs) > 1 && strings.Contains(err.Error(), "do not fit on one sheet together") {
				return
			}
			t.Fatal(err)
		}
		if fault := faults(l, designs, sheet, turn); fault != "" {
			t.Fatal(fault)
		}
		if len(l.Sheets) != 1 {
			t.Fatalf("%d sheets", len(l.Sheets))
		}
		if low, high := extremes(l.Counts); low < 1 || len(designs) == 1 && low != high {
			t.Fatalf("counts %v", l.Counts)
		}
	})
}

func extremes(counts []int) (low, high int) {
	low = counts[0]
	for _, n := range counts {
		low, high = min(low, n), max(high, n)
	}
	return low, high
}

// TestFillInTurns: three designs of one size get the same number of copies, to one.
func TestFillInTurns(t *testing.T) {
	same := []Design{{Name: "a", WidthMM: 40, HeightMM: 55}, {Name: "b", WidthMM: 40, HeightMM: 55}, {Name: "c", WidthMM: 55, HeightMM: 40}}
	l, err := Fill(same, a4, TurnEach)
	if err != nil {
		t.Fatal(err)
	}
	low, high := extremes(l.Counts)
	if total := l.Counts[0] + l.Counts[1] + l.Counts[2]; high-low > 1 || total < 16 { // plain rows hold 4 x 4
		t.Errorf("counts %v", l.Counts)
	}
	// A design too large for a second turn leaves its room to the small one.
	l, err = Fill([]Design{{Name: "large", WidthMM: 150, HeightMM: 180}, {Name: "small", WidthMM: 30, HeightMM: 30}}, a4, TurnEach)
	if err != nil || l.Counts[0] != 1 || l.Counts[1] < 10 { // five beside the large one, five under it
		t.Errorf("counts %v, %v", l.Counts, err)
	}
}

// TestNotWorseThanPlace: what the report promises as copies a sheet is kept.
func TestNotWorseThanPlace(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		box := preflight.SizeMM{W: float64(rapid.IntRange(300, 1980).Draw(t, "w")) / 10, H: float64(rapid.IntRange(300, 2850).Draw(t, "h")) / 10}
		clearance := float64(rapid.IntRange(0, 12).Draw(t, "clearance"))
		sheet := preflight.Sheet{Name: "a4", Width: 210, Height: 297, Margin: 4.2}
		place := preflight.Place(box, sheet, clearance)
		l, err := Fill([]Design{{Name: "a", WidthMM: box.W, HeightMM: box.H}}, Sheet{210, 297, 4.2, clearance, 2 * clearance}, TurnEach)
		if err != nil {
			if place.CopiesPerSheet > 1 {
				t.Fatalf("%d copies promised: %v", place.CopiesPerSheet, err)
			}
			return // it fits the printable area, but without the clearance
		}
		if l.Counts[0] < place.CopiesPerSheet {
			t.Fatalf("%d copies, %d promised", l.Counts[0], place.CopiesPerSheet)
		}
	})
}

// TestLayAgainstSearch compares with the least number of sheets found by trying every way to share out a few pieces and every place for
// them. 200 jobs drawn with a fixed seed.
func TestLayAgainstSearch(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 7))
	worse := 0
	for range 200 {
		designs := make([]Design, 3+random.IntN(3))
		for i := range designs {
			designs[i] = Design{fmt.Sprint(i), float64(1 + random.IntN(5)), float64(1 + random.IntN(5)), 1}
		}
		l, err := Lay(designs, Sheet{WidthMM: 6, HeightMM: 6}, TurnEach)
		if err != nil {
			t.Fatal(err)
		}
		want := leastBins(designs, nil)
		if len(l.Sheets) < want || l.Bound > want {
			t.Fatalf("%v: %d sheets, bound %d, but the least is %d", designs, len(l.Sheets), l.Bound, want)
		}
		if len(l.Sheets) > want {
			worse++
		}
	}
	if worse > 0 {
		t.Errorf("%d of 200 jobs take more sheets than needed", worse)
	}
}

// leastBins shares the designs left out among sheets of 6 x 6 cells.
func leastBins(left []Design, bins [][]Design) int {
	if len(left) == 0 {
		return len(bins)
	}
	best := math.MaxInt
	for i := range bins {
		with := append(append([]Design(nil), bins[i]...), left[0])
		if fitsTogether(with, [6]uint8{}) {
			was := bins[i]
			bins[i] = with
			best = min(best, leastBins(left[1:], bins))
			bins[i] = was
		}
	}
	return min(best, leastBins(left[1:], append(append([][]Design(nil), bins...), left[:1])))
}

func fitsTogether(designs []Design, rows [6]uint8) bool {
	if len(designs) == 0 {
		return true
	}
	for _, s := range []size{{int(designs[0].WidthMM), int(designs[0].HeightMM)}, {int(designs[0].HeightMM), int(designs[0].WidthMM)}} {
		for y := 0; y+s.h <= 6; y++ {
			for x := 0; x+s.w <= 6; x++ {
				mask, free, then := uint8(1<<s.w-1)<<x, true, rows
				for r := y; r < y+s.h; r++ {
					free = free && rows[r]&mask == 0
					then[r] |= mask
				}
				if free && fitsTogether(designs[1:], then) {
					return true
				}
			}
		}
	}
	return false
}

// TestCutUpCorpus lays the parts of sheets that were cut up without waste, on sheets a little larger: the area bound is the least number
// as long as the surplus of all is less than a sheet. How often it is met is measured; one sheet more is allowed.
func TestCutUpCorpus(t *testing.T) {
	const jobs = 40
	for _, tt := range []struct {
		surplus float64 // of each side
		met     int     // at least
	}{{0, 0}, {0.04, 30}} {
		random := rand.New(rand.NewPCG(3, 3))
		met := 0
		for range jobs {
			var designs []Design
			for s := range 3 {
				for i, p := range cutUp(random, size{200, 280}, 3) {
					designs = append(designs, Design{fmt.Sprint(s, "-", i), float64(p.w), float64(p.h), 1})
				}
			}
			l, err := Lay(designs, Sheet{WidthMM: 200 * (1 + tt.surplus), HeightMM: 280 * (1 + tt.surplus)}, TurnEach)
			if err != nil {
				t.Fatal(err)
			}
			if l.Bound > 3 || len(l.Sheets) > 4 {
				t.Errorf("%d sheets, bound %d, for 3 cut up into %d parts", len(l.Sheets), l.Bound, len(designs))
			}
			if len(l.Sheets) == 3 {
				met++
			}
		}
		t.Logf("sides larger by %g: %d of %d at the bound", tt.surplus, met, jobs)
		if met < tt.met {
			t.Errorf("sides larger by %g: only %d of %d at the bound", tt.surplus, met, jobs)
		}
	}
}

// cutUp cuts an area in two so many times over.
func cutUp(random *rand.Rand, area size, times int) []size {
	if times == 0 || min(area.w, area.h) < 30 {
		return []size{area}
	}
	a, b := area, area
	if random.IntN(area.w+area.h) < area.w {
		a.w = area.w/4 + random.IntN(area.w/2)
		b.w = area.w - a.w
	} else {
		a.h = area.h/4 + random.IntN(area.h/2)
		b.h = area.h - a.h
	}
	return append(cutUp(random, a, times-1), cutUp(random, b, times-1)...)
}

func TestRefusals(t *testing.T) {
	good := []Design{{"lantern", 80, 100, 2}}
	tests := []struct {
		want    string
		designs []Design
		sheet   Sheet
		turn    Turning
	}{
		{`design "lantern" is 400 x 200 mm and the sheet takes 200.0 x 287.0 mm: the largest that fits is 287.0 x 143.5 mm, turned by 90 degrees`, []Design{{"lantern", 400, 200, 1}}, a4, TurnEach},
		{`the largest that fits is 200.0 x 100.0 mm`, []Design{{"lantern", 400, 200, 1}}, a4, TurnNone},
		{"no designs", nil, a4, TurnEach},
		{`design "lantern": 0 copies`, []Design{{"lantern", 80, 100, 0}}, a4, TurnEach},
		{"more than 10000 copies", []Design{{"lantern", 80, 100, math.MaxInt}, {"star", 9, 9, math.MaxInt}}, a4, TurnEach},
		{`design "lantern" is 0 x 100 mm`, []Design{{"lantern", 0, 100, 1}}, a4, TurnEach},
		{"is NaN x 100 mm", []Design{{"lantern", math.NaN(), 100, 1}}, a4, TurnEach},
		{"each side must be more than 0", good, Sheet{}, TurnEach},
		{"leave no room", good, Sheet{WidthMM: 210, HeightMM: 297, ClearanceMM: 105}, TurnEach},
		{"spacing -1 mm", good, Sheet{WidthMM: 210, HeightMM: 297, SpacingMM: -1}, TurnEach},
		{"no way of turning 3", good, a4, 3},
	}
	for _, tt := range tests {
		_, err := Lay(tt.designs, tt.sheet, tt.turn)
		if err == nil || !strings.HasPrefix(err.Error(), "impose: ") || !strings.Contains(err.Error(), tt.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%v, want it to say %q", err, tt.want)
		}
	}
	_, err := Fill([]Design{{Name: "a", WidthMM: 150, HeightMM: 200}, {Name: "b", WidthMM: 150, HeightMM: 200}}, a4, TurnEach)
	if err == nil || !strings.Contains(err.Error(), "the 2 designs do not fit on one sheet together") {
		t.Errorf("%v", err)
	}
}

func BenchmarkLay(b *testing.B) {
	jobs := map[string][]Design{
		"one of 200":       {{"a", 43, 61, 200}},
		"one small":        {{"a", 7.3, 11.9, 2000}},
		"12 designs of 10": nil,
	}
	for i := range 12 {
		jobs["12 designs of 10"] = append(jobs["12 designs of 10"], Design{fmt.Sprint(i), 30 + 7*float64(i%5), 25 + 9*float64(i%7), 10})
	}
	for name, designs := range jobs {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Lay(designs, a4, TurnEach); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
	b.Run("fill with 4", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := Fill(jobs["12 designs of 10"][:4], a4, TurnEach); err != nil {
				b.Fatal(err)
			}
		}
	})
}
