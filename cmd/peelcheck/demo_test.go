package main

import (
	"bytes"
	"encoding/json"
	"image"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"peelcheck/preflight"
)

const demoDir = "../../testdata/demo"

// demoFault is one deliberate fault of the demo artwork, with the box and the measure of the code that drew it.
type demoFault struct {
	File, Rule, Note, Process, Garment, Place string
	Page                                      int
	Box                                       *preflight.BoxMM `json:"box_mm"`
	ValueMM                                   *float64         `json:"value_mm"`
	Value                                     any
}

// judgeDemo runs the command itself over one file.
func judgeDemo(t *testing.T, file, process, garment, place string) []preflight.Report {
	t.Helper()
	var out, errs bytes.Buffer
	args := []string{"check", "--no-cache", "--format", "json", "--no-proof", "--out", t.TempDir(), "--fail-on", "never"}
	if process != "" {
		args = append(args, "--process", process)
	}
	if garment != "" {
		args = append(args, "--garment", garment)
	}
	if place != "" {
		args = append(args, "--place", place)
	}
	if code := run(t.Context(), append(args, filepath.Join(demoDir, file)), terminal{out: &out, err: &errs}); code != 0 {
		t.Fatalf("%s: exit %d: %s", file, code, errs.String())
	}
	var reports []preflight.Report
	if strings.HasPrefix(out.String(), "{") {
		reports = make([]preflight.Report, 1)
		if err := json.Unmarshal(out.Bytes(), &reports[0]); err != nil {
			t.Fatalf("%s: %v", file, err)
		}
		return reports
	}
	if err := json.Unmarshal(out.Bytes(), &reports); err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	return reports
}

// TestDemoFaultsAreFound: every deliberate fault of the demo is flagged by its rule, in the right place to within half a
// millimetre, lines, gaps, dots and holes with their width to within 0.02 mm, and large solids with theirs to within 1.5 mm.
func TestDemoFaultsAreFound(t *testing.T) {
	data, err := os.ReadFile(filepath.Join(demoDir, "truth.json"))
	if err != nil {
		t.Fatal(err)
	}
	var faults []demoFault
	if err := json.Unmarshal(data, &faults); err != nil || len(faults) < 20 {
		t.Fatalf("%d faults: %v", len(faults), err)
	}
	judged := map[string][]preflight.Report{}
	for _, f := range faults {
		key := f.File + " " + f.Process + " " + f.Garment + " " + f.Place
		if judged[key] == nil {
			judged[key] = judgeDemo(t, f.File, f.Process, f.Garment, f.Place)
		}
		page := max(1, f.Page)
		if page > len(judged[key]) {
			t.Fatalf("%s: no page %d", f.File, page)
		}
		found := judged[key][page-1].Findings
		if f.Rule == "soft-edge" {
			found = f.gathered(found)
		}
		if near := f.nearest(found); near != "" {
			t.Errorf("%s, page %d: %s (%s) at %+v: %s", f.File, page, f.Rule, f.Note, f.Box, near)
		}
	}
}

// tolerance is in millimetres: a fade has no edge, and its faintest slivers beside other shapes are faint-tint's.
func (f demoFault) tolerance() float64 {
	if f.Rule == "soft-edge" {
		return 4
	}
	return 0.5
}

// gathered joins the findings of the rule that lie within the fault: an effect that the shapes over it cut into pieces.
func (f demoFault) gathered(found []preflight.Finding) []preflight.Finding {
	var all *preflight.Finding
	for _, g := range found {
		b := g.BoxMM
		if g.Rule != f.Rule || b.X < f.Box.X-1 || b.Y < f.Box.Y-1 || b.X+b.W > f.Box.X+f.Box.W+1 || b.Y+b.H > f.Box.Y+f.Box.H+1 {
			continue
		}
		if all == nil {
			all = &g
			continue
		}
		x, y := min(all.BoxMM.X, b.X), min(all.BoxMM.Y, b.Y)
		all.BoxMM = preflight.BoxMM{X: x, Y: y, W: max(all.BoxMM.X+all.BoxMM.W, b.X+b.W) - x, H: max(all.BoxMM.Y+all.BoxMM.H, b.Y+b.H) - y}
	}
	if all == nil {
		return nil
	}
	return []preflight.Finding{*all}
}

// nearest returns nothing if a finding matches the fault, else the finding that comes closest.
func (f demoFault) nearest(found []preflight.Finding) string {
	best, off := "not reported", math.Inf(1)
	for _, g := range found {
		if g.Rule != f.Rule {
			continue
		}
		d := 0.0
		if f.Box != nil {
			b := g.BoxMM
			d = max(math.Abs(b.X-f.Box.X), math.Abs(b.Y-f.Box.Y), math.Abs(b.X+b.W-f.Box.X-f.Box.W), math.Abs(b.Y+b.H-f.Box.Y-f.Box.H))
		}
		if d >= off {
			continue
		}
		off = d
		if d <= f.tolerance() && f.agreesWith(g) {
			return ""
		}
		text, _ := json.Marshal(g)
		best = string(text)
	}
	return best
}

// agreesWith compares lengths, as far as the rule's measure is the length drawn, and the names of inks.
func (f demoFault) agreesWith(g preflight.Finding) bool {
	if slack, ok := slackMM[g.Measure.Quantity]; ok && f.ValueMM != nil {
		return math.Abs(g.Measure.Value-*f.ValueMM) <= slack
	}
	ink, isName := f.Value.(string)
	return f.Rule != "spot-unknown" || isName && strings.Contains(g.Message, strconv.Quote(ink))
}

// slackMM is how far a measure may be off, by what is measured. The widest disc is counted in cells of half a millimetre that are
// printed throughout: up to one is lost at either end, and half a one in the counting.
var slackMM = map[string]float64{"width": 0.02, "diameter": 0.02, "widest disc": 1.5}

// TestCleanDemoIsReady: the clean designs raise nothing at all.
func TestCleanDemoIsReady(t *testing.T) {
	for _, file := range []string{"clean-lantern-shirt.png", "two-page.pdf"} {
		rep := judgeDemo(t, file, "", "", "")[0]
		if rep.Verdict != preflight.Ready || len(rep.Findings) != 0 {
			t.Errorf("%s: %s, %+v", file, rep.Verdict, rep.Findings)
		}
	}
}

// TestReadmePicture: the proof that the README shows is the one that the program draws. UPDATE=1 renews it.
func TestReadmePicture(t *testing.T) {
	const shown = "../../docs/proof.png"
	dir := t.TempDir()
	var out, errs bytes.Buffer
	if code := run(t.Context(), []string{"check", "--no-cache", "--out", dir, filepath.Join(demoDir, "hairline-reeds.png")}, terminal{out: &out, err: &errs}); code != exitFindings {
		t.Fatalf("exit %d: %s", code, errs.String())
	}
	got, err := os.ReadFile(filepath.Join(dir, "hairline-reeds.proof.png"))
	if err != nil {
		t.Fatal(err)
	}
	if os.Getenv("UPDATE") != "" {
		if err := os.WriteFile(shown, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(shown)
	if err != nil {
		t.Fatal(err)
	}
	a, b := decodePNG(t, got), decodePNG(t, want)
	if a.Bounds() != b.Bounds() {
		t.Fatalf("the proof is %v, docs/proof.png %v; UPDATE=1 go test ./cmd/peelcheck renews it", a.Bounds(), b.Bounds())
	}
	off := 0
	for y := range a.Bounds().Dy() {
		for x := range a.Bounds().Dx() {
			r0, g0, b0, _ := a.At(x, y).RGBA()
			r1, g1, b1, _ := b.At(x, y).RGBA()
			if max(levels(r0, r1), levels(g0, g1), levels(b0, b1)) > 2 {
				off++
			}
		}
	}
	if off > 0 {
		t.Errorf("%d pixels of docs/proof.png differ from what the program draws; UPDATE=1 go test ./cmd/peelcheck renews it", off)
	}
}

func levels(a, b uint32) uint32 { return max(a, b)>>8 - min(a, b)>>8 }

func decodePNG(t *testing.T, data []byte) image.Image {
	t.Helper()
	m, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	return m
}
