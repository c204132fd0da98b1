package preflight

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
)

func TestBuiltInProcesses(t *testing.T) {
	full := []Plane{White, Cyan, Magenta, Yellow, Black}
	tests := []struct {
		id     string
		source WhiteSource
		drawn  string
		planes []Plane
		choke  float64
		mirror string
		margin float64
		line   float64
		tint   string
	}{
		{"toner-white-for-black", WhiteFromBlack, "black", full[:4], 0, "driver", 4.2, 0.35, "0.2153"},
		{"toner-underbase", WhiteUnderbase, "white", full, 0.1, "driver", 4.2, 0.35, "0.2153"},
		{"film-underbase", WhiteUnderbase, "white", full, 0.15, "file", 3, 0.3, "0.1500"},
		{"toner-white-only", WhiteOnly, "black", full[:1], 0, "driver", 4.2, 0.35, "0.2153"},
	}
	all := Processes()
	if len(all) != len(tests) {
		t.Fatalf("%d processes, want %d", len(all), len(tests))
	}
	for i, tt := range tests {
		p := all[i]
		if p.ID != tt.id || p.WhiteSource != tt.source || p.WhiteDrawnAs != tt.drawn || !slices.Equal(p.Planes, tt.planes) ||
			p.ChokeMM != tt.choke || p.Mirror != tt.mirror || p.MarginMM != tt.margin || p.Limits["line"].Value != tt.line {
			t.Errorf("%s: %+v", tt.id, p)
		}
		if got := fmt.Sprintf("%.4f", p.Limits["tint"].Value); got != tt.tint {
			t.Errorf("%s: tint limit %s, want %s", p.ID, got, tt.tint)
		}
		for name, want := range map[string]float64{"gap": 0.35, "dot": 0.6, "hole": 0.5, "stray": 0.25, "ppi": 150, "text": 1.2, "clearance": 5} {
			if l := p.Limits[name]; l.Value != want || l.From != "built in" || l.Unit != LimitUnits[name] {
				t.Errorf("%s: %s is %+v, want %g, built in", p.ID, name, l, want)
			}
		}
		for _, x := range []float64{0, 0.3, 1} {
			if p.BlackGeneration.At(x) != x || p.UndercolourRemoval.At(x) != x {
				t.Errorf("%s: black generation or undercolour removal is not the identity at %g", p.ID, x)
			}
		}
		if p.DefaultSheet() != "a4" || p.DefaultFabric() != "cotton" || p.Title == "" || p.About == "" {
			t.Errorf("%s: sheet %q, fabric %q, title %q", p.ID, p.DefaultSheet(), p.DefaultFabric(), p.Title)
		}
		for _, name := range p.Sheets {
			if _, err := SheetByName(name, p, nil); err != nil {
				t.Errorf("%s: %v", p.ID, err)
			}
		}
	}
}

// The bounds are common practice, no source: first press of a two-step sheet about 160 degrees for 120 s; garment
// pressed bare for 5 to 10 s, then about 30 s for cotton, at 100 to 120 degrees and shorter for sensitive cloth; cooled to
// the touch; pressed again for 5 to 15 s.
func TestPressSteps(t *testing.T) {
	for _, p := range Processes() {
		var names []string
		for _, f := range p.Fabrics {
			names = append(names, f.Name)
			checkOrder(t, p.ID, f, "Trim loosely", "bare garment", "face down", "cool to the touch", "silicone")
			for _, s := range f.Steps {
				switch {
				case strings.Contains(s.Do, "adhesive sheet on"):
					if s.TemperatureC != 160 || s.Seconds != 120 || s.Pressure != "medium to strong" {
						t.Errorf("%s, %s: first press %+v", p.ID, f.Name, s)
					}
				case strings.Contains(s.Do, "bare garment"):
					within(t, p.ID+" "+f.Name+" bare press, s", s.Seconds, 5, 10)
				case strings.Contains(s.Do, "silicone"):
					within(t, p.ID+" "+f.Name+" last press, s", s.Seconds, 5, 15)
				case strings.Contains(s.Do, "face down") && f.Name == "nylon-bag" && p.WhiteSource != WhiteUnderbase:
					within(t, p.ID+" nylon, degrees", s.TemperatureC, 100, 120)
					within(t, p.ID+" nylon, s", s.Seconds, 1, 29)
				case strings.Contains(s.Do, "face down") && f.Name == "cotton" && p.Mirror == "driver":
					within(t, p.ID+" cotton, s", s.Seconds, 30, 30)
				}
			}
		}
		if !slices.Equal(names, []string{"cotton", "polyester", "nylon-bag", "cap"}) {
			t.Errorf("%s: fabrics %v", p.ID, names)
		}
	}
}

func checkOrder(t *testing.T, id string, f Fabric, phrases ...string) {
	t.Helper()
	at := 0
	for _, s := range f.Steps {
		if at < len(phrases) && strings.Contains(s.Do, phrases[at]) {
			at++
		}
	}
	if at < len(phrases) {
		t.Errorf("%s, %s: no step says %q in its place", id, f.Name, phrases[at])
	}
}

func within(t *testing.T, what string, got, low, high float64) {
	t.Helper()
	if got < low || got > high {
		t.Errorf("%s: %g, want %g to %g", what, got, low, high)
	}
}

// No temperature is promised to be safe: ISO 13732-1 gives thresholds for burns, and all press settings are above them.
func TestCautions(t *testing.T) {
	for _, p := range Processes() {
		all := strings.Join(p.Cautions, "\n")
		for _, phrase := range []string{"burn skin on the briefest touch", "Air the room", "Keep hands clear", "let them cool", "local rules", "scrap garment", "starting point"} {
			if !strings.Contains(all, phrase) {
				t.Errorf("%s: no caution says %q", p.ID, phrase)
			}
		}
		if strings.ContainsAny(all, "0123456789°") {
			t.Errorf("%s: a caution gives a number:\n%s", p.ID, all)
		}
		if strings.Contains(strings.ToLower(strings.Join(p.PrintNotes, "\n")), "mirror") {
			t.Errorf("%s: the print notes speak of mirroring, which the ticket says once", p.ID)
		}
	}
}

func TestProcessesAreCopies(t *testing.T) {
	p := Processes()[0]
	p.ID = "changed"
	p.Planes[0], p.Sheets[0], p.PrintNotes[0], p.Cautions[0] = Black, "changed", "changed", "changed"
	p.BlackGeneration[0][1], p.UndercolourRemoval[0][1] = 1, 1
	p.Limits["line"] = Limit{}
	p.Fabrics[0].Steps[0].Do = "changed"
	fresh, err := ProcessByID(DefaultProcess)
	if err != nil {
		t.Fatal(err)
	}
	again, err := ProcessByID(DefaultProcess)
	if err != nil {
		t.Fatal(err)
	}
	again.Planes[0] = Black
	if !reflect.DeepEqual(fresh, Processes()[0]) || fresh.Planes[0] != White || fresh.Fabrics[0].Steps[0].Do == "changed" || fresh.Limits["line"].Value == 0 || fresh.BlackGeneration[0][1] != 0 {
		t.Error("changing a process changes the built-in one")
	}
}

func TestProcessByIDUnknown(t *testing.T) {
	_, err := ProcessByID("toner-underbas")
	for _, want := range append(slices.Clone(builtInIDs), `did you mean "toner-underbase"?`) {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want it to say %s", err, want)
		}
	}
}

// TestKeysAreTheTags holds the tables of keys against the yaml tags by which a process is written out.
func TestKeysAreTheTags(t *testing.T) {
	checkTags(t, reflect.TypeFor[Process](), sortedKeys(processKeys), "based_on")
	checkTags(t, reflect.TypeFor[Screen](), sortedKeys(screenKeys))
	checkTags(t, reflect.TypeFor[LimitValues](), sortedKeys(limitKeys))
	checkTags(t, reflect.TypeFor[Fabric](), sortedKeys(fabricKeys))
	checkTags(t, reflect.TypeFor[PressStep](), sortedKeys(stepKeys))
}

func checkTags(t *testing.T, typ reflect.Type, got []string, more ...string) {
	t.Helper()
	want := more
	for f := range typ.NumField() {
		if tag, _, _ := strings.Cut(typ.Field(f).Tag.Get("yaml"), ","); tag != "-" {
			want = append(want, tag)
		}
	}
	slices.Sort(want)
	if !slices.Equal(got, want) {
		t.Errorf("%s: keys %v, tags %v", typ.Name(), got, want)
	}
}
