package report_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"reflect"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"peelcheck/preflight"
	"peelcheck/preflight/report"
	"peelcheck/preflight/rules"
	"peelcheck/raster"
)

// artwork draws a block, a line of three pixels and a dot of two on a transparent ground.
func artwork() *image.NRGBA {
	m := image.NewNRGBA(image.Rect(0, 0, 400, 300))
	fill := func(r image.Rectangle, c color.NRGBA) {
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				m.SetNRGBA(x, y, c)
			}
		}
	}
	fill(image.Rect(40, 40, 200, 200), color.NRGBA{A: 255})
	fill(image.Rect(260, 40, 263, 240), color.NRGBA{A: 255})
	fill(image.Rect(300, 60, 302, 62), color.NRGBA{A: 255})
	fill(image.Rect(300, 120, 380, 200), color.NRGBA{R: 255, G: 255, B: 255, A: 255})
	return m
}

// judged returns real reports: with findings, without, without a size, too large for the sheet, and of every process.
func judged(t *testing.T) map[string]*preflight.Report {
	t.Helper()
	out := map[string]*preflight.Report{}
	for _, p := range preflight.Processes() {
		out[p.ID] = judge(t, p, artwork(), 300, 0)
	}
	p := preflight.Processes()[0]
	out["blank"] = judge(t, p, image.NewNRGBA(image.Rect(0, 0, 50, 50)), 300, 0)
	out["no size"] = judge(t, p, artwork(), 0, 0)
	out["large"] = judge(t, p, artwork(), 0, 900)
	return out
}

func judge(t *testing.T, p *preflight.Process, m *image.NRGBA, ppi float64, width preflight.Length) *preflight.Report {
	t.Helper()
	sheet, err := preflight.SheetByName("a4", p, nil)
	if err != nil {
		t.Fatal(err)
	}
	limits, err := p.ResolveLimits(nil, "", nil)
	if err != nil {
		t.Fatal(err)
	}
	garment, err := preflight.ParseGarment("black")
	if err != nil {
		t.Fatal(err)
	}
	from := ""
	if ppi > 0 {
		from = "pHYs"
	}
	rep, _, err := preflight.Judge(
		preflight.Artwork{File: "lantern.png", SHA256: strings.Repeat("0", 64), Format: "png", Page: 1, PageCount: 1,
			Picture: &raster.Picture{Pix: m, HasAlpha: true, PPIX: ppi, PPIY: ppi, PPIFrom: from}},
		preflight.Job{Process: p, Sheet: sheet, Garment: garment, Fabric: p.DefaultFabric(), Limits: limits, Background: preflight.BackgroundAuto, Width: width},
		rules.All())
	if err != nil {
		t.Fatal(err)
	}
	return rep
}

func schema(t *testing.T) *jsonschema.Schema { return compiled(t, "report.schema.json") }

func partSchema(t *testing.T) *jsonschema.Schema {
	return compiled(t, "report.schema.json#/$defs/part")
}

func compiled(t *testing.T, where string) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(report.Schema))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	if err := c.AddResource("report.schema.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile(where)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func encoded(t *testing.T, array bool, reps ...*preflight.Report) []byte {
	t.Helper()
	var out bytes.Buffer
	w := report.NewJSON(&out, array)
	for _, r := range reps {
		if err := w.Add(r); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func decoded(t *testing.T, text []byte) any {
	t.Helper()
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// TestSchemaAcceptsReports validates real reports with an independent implementation of JSON Schema draft 2020-12.
func TestSchemaAcceptsReports(t *testing.T) {
	s := schema(t)
	findings := 0
	for name, rep := range judged(t) {
		findings += len(rep.Findings)
		if err := s.Validate(decoded(t, encoded(t, false, rep))); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	if findings == 0 {
		t.Error("none of the reports has a finding, so the schema of findings was not tried")
	}
	if err := s.Validate(decoded(t, encoded(t, false, &preflight.Report{}))); err == nil {
		t.Error("an empty report is accepted")
	}
}

// TestSchemaRefuses changes one thing of a real report at a time.
func TestSchemaRefuses(t *testing.T) {
	s := schema(t)
	rep := judged(t)["toner-white-for-black"]
	if len(rep.Findings) == 0 {
		t.Fatal("the report has no finding")
	}
	tests := []struct {
		name   string
		change func(m map[string]any)
	}{
		{"schema version", func(m map[string]any) { m["schema_version"] = 2 }},
		{"no verdict", func(m map[string]any) { delete(m, "verdict") }},
		{"unknown verdict", func(m map[string]any) { m["verdict"] = "fine" }},
		{"null findings", func(m map[string]any) { m["findings"] = nil }},
		{"level", func(m map[string]any) { m["findings"].([]any)[0].(map[string]any)["level"] = "fatal" }},
		{"box in words", func(m map[string]any) { m["findings"].([]any)[0].(map[string]any)["box_mm"] = "left" }},
		{"half a pixel", func(m map[string]any) {
			m["findings"].([]any)[0].(map[string]any)["box_px"].(map[string]any)["x"] = 0.5
		}},
		{"share over 1", func(m map[string]any) { m["planes"].([]any)[0].(map[string]any)["share_of_artwork"] = 1.5 }},
		{"sheet without width", func(m map[string]any) { delete(m["job"].(map[string]any)["sheet"].(map[string]any), "width_mm") }},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			m := decoded(t, encoded(t, false, rep)).(map[string]any)
			tt.change(m)
			if err := s.Validate(m); err == nil {
				t.Error("accepted")
			}
		})
	}
}

// TestSchemaNamesEveryField compares the schema with the Go types, both ways.
func TestSchemaNamesEveryField(t *testing.T) {
	var root map[string]any
	if err := json.Unmarshal(report.Schema, &root); err != nil {
		t.Fatal(err)
	}
	compareFields(t, root, root, reflect.TypeFor[preflight.Report](), "report")
	compareFields(t, root, map[string]any{"$ref": "#/$defs/part"}, reflect.TypeFor[report.Part](), "part")
}

func compareFields(t *testing.T, root, node map[string]any, typ reflect.Type, at string) {
	t.Helper()
	if ref, ok := node["$ref"].(string); ok {
		node = root["$defs"].(map[string]any)[strings.TrimPrefix(ref, "#/$defs/")].(map[string]any)
	}
	switch typ.Kind() {
	case reflect.Slice:
		compareFields(t, root, node["items"].(map[string]any), typ.Elem(), at+"[]")
	case reflect.Map:
		compareFields(t, root, node["additionalProperties"].(map[string]any), typ.Elem(), at+"{}")
	case reflect.Struct:
		properties := node["properties"].(map[string]any)
		known := map[string]bool{}
		var required []string
		for _, r := range node["required"].([]any) {
			required = append(required, r.(string))
		}
		for i := range typ.NumField() {
			name, rest, _ := strings.Cut(typ.Field(i).Tag.Get("json"), ",")
			child, ok := properties[name].(map[string]any)
			if !ok {
				t.Errorf("%s: the schema lacks %q", at, name)
				continue
			}
			known[name] = true
			if want := rest != "omitempty"; slices.Contains(required, name) != want {
				t.Errorf("%s.%s: required is %v, want %v", at, name, !want, want)
			}
			compareFields(t, root, child, typ.Field(i).Type, at+"."+name)
		}
		for name := range properties {
			if known[name] {
				continue
			}
			t.Errorf("%s: the schema has %q, the report does not", at, name)
		}
	}
}

// A part is reports and then what it says of itself, also if it is empty.
func TestSchemaAcceptsParts(t *testing.T) {
	rep := judged(t)["blank"]
	for _, reps := range [][]*preflight.Report{nil, {rep}, {rep, rep}} {
		text := written(t, func(out *bytes.Buffer) report.Writer {
			return report.NewJSONPart(out, report.PartNumber{Number: 3, Of: 16})
		}, reps, troubles...)
		list := decoded(t, []byte(text)).([]any)
		if len(list) != len(reps)+1 {
			t.Fatalf("%d elements for %d reports", len(list), len(reps))
		}
		last := list[len(reps)].(map[string]any)
		if err := partSchema(t).Validate(last); err != nil {
			t.Error(err)
		}
		if n := len(last["not_judged"].([]any)); n != len(troubles) {
			t.Errorf("%d troubles of %d", n, len(troubles))
		}
		delete(last, "part")
		if partSchema(t).Validate(last) == nil {
			t.Error("a part without its number is accepted")
		}
	}
}

func TestJSONShape(t *testing.T) {
	rep := judged(t)["blank"]
	tests := []struct {
		name  string
		array bool
		reps  []*preflight.Report
		want  int // elements, -1 for a bare object
	}{
		{"one", false, []*preflight.Report{rep}, -1},
		{"none in an array", true, nil, 0},
		{"one in an array", true, []*preflight.Report{rep}, 1},
		{"three in an array", true, []*preflight.Report{rep, rep, rep}, 3},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := -1
			switch v := decoded(t, encoded(t, tt.array, tt.reps...)).(type) {
			case []any:
				got = len(v)
			case map[string]any:
			default:
				t.Fatalf("got %T", v)
			}
			if got != tt.want {
				t.Errorf("got %d elements, want %d", got, tt.want)
			}
		})
	}
	w := report.NewJSON(&bytes.Buffer{}, false)
	if err := w.Add(rep); err != nil {
		t.Fatal(err)
	}
	if w.Add(rep) == nil {
		t.Error("two bare objects were written one after the other")
	}
}

// sample is a report made by hand, so that the golden text depends on this package alone.
func sample() *preflight.Report {
	find := func(id int, rule string, level preflight.Level, x, value float64) preflight.Finding {
		return preflight.Finding{ID: id, Rule: rule, Level: level, Message: fmt.Sprintf("A line %.2f mm wide.", value),
			Remedy: "Thicken the line to at least the limit, or take it out.",
			BoxPx:  preflight.BoxPx{X: int(10 * x), Y: 20, W: 30, H: 40}, BoxMM: preflight.BoxMM{X: x, Y: 2, W: 3, H: 4},
			Measure: preflight.Measure{Quantity: "width", Value: value, Limit: 0.35, Unit: "mm"}}
	}
	rep := &preflight.Report{
		Artwork: preflight.ArtworkInfo{File: "lantern\x1b[31m.pdf", Format: "pdf", Page: 2, PageCount: 3, WidthPx: 1000, HeightPx: 500,
			PPIX: 254, PPIY: 254, PPIFrom: "the flag --width", WidthMM: 100, HeightMM: 50, PrintedBoxMM: preflight.BoxMM{X: 5, Y: 5, W: 90, H: 40},
			Notes: []string{"The page is larger than the pixel limit and was drawn at 254 pixels an inch."}},
		Job: preflight.JobInfo{Process: "toner-white-for-black", WhiteDrawnAs: "black", Garment: "navy", Fabric: "cotton",
			Sheet:  preflight.SheetInfo{Name: "a4", WidthMM: 210, HeightMM: 297, MarginMM: 4.2},
			Limits: map[string]preflight.Limit{"line": {Value: 0.35, Unit: "mm", From: "the file peelcheck.yaml"}}},
		Verdict: preflight.Hold, Counts: preflight.Counts{Error: 1, Warning: 8},
		Planes:            []preflight.PlaneInfo{{Plane: preflight.White, AreaMM2: 1234.5, ShareOfArtwork: 0.2469, MeanStrength: 1}},
		WhiteRegionsTotal: 3,
		Background:        preflight.Background{Found: true, Colour: "#fefefe", AreaShare: 0.613, LeftOut: true},
		Placement:         preflight.Placement{Fits: true, TurnDeg: 90, Notes: []string{"It fits only when turned by 90 degrees."}},
		Mirror:            preflight.Mirror{Reads: "unknown", PrintMirrored: true},
		Skipped:           []preflight.Skipped{{Rule: "small-text", Reason: "the page has no text"}, {Rule: "font-missing", Reason: "the page has no text"}},
		Instructions: preflight.Ticket{
			Print:    []string{"Switch mirror printing ON."},
			Press:    []preflight.PressStep{{Do: "Press.", TemperatureC: 160, Seconds: 120, Pressure: "medium", Note: "About two minutes."}, {Do: "Let it cool."}},
			Cautions: []string{"Hot plates burn."}},
	}
	rep.Findings = append(rep.Findings, find(1, "thin-gap", preflight.LevelError, 1, 0.05))
	for i := range 8 {
		rep.Findings = append(rep.Findings, find(i+2, "hairline", preflight.LevelWarning, float64(10*i), 0.3-0.01*float64(i)))
	}
	return rep
}

var sampleRules = []*preflight.Rule{
	{ID: "hairline", Title: "line too thin to hold", Limit: preflight.LimitSpec{Name: "line", Sense: preflight.AtLeast}},
	{ID: "thin-gap", Title: "gap so narrow that it fills in"},
}

func text(t *testing.T, colour bool, reps ...*preflight.Report) string {
	t.Helper()
	var out bytes.Buffer
	w := report.NewText(&out, report.TextOptions{Colour: colour, Rules: sampleRules})
	for _, r := range reps {
		if err := w.Add(r); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// TestTextGolden is renewed with UPDATE=1.
func TestTextGolden(t *testing.T) {
	second := sample()
	second.Artwork.File, second.Artwork.PageCount, second.Findings = "moth.png", 1, nil
	second.Counts, second.Verdict = preflight.Counts{}, preflight.Ready
	second.Instructions.Print = []string{"Switch mirror printing ON.", "Turn the artwork by 90 degrees."}
	var ticket bytes.Buffer
	if err := report.Ticket(&ticket, sample(), false); err != nil {
		t.Fatal(err)
	}
	for name, got := range map[string]string{
		"one.txt":    text(t, false, sample()),
		"two.txt":    text(t, false, sample(), second),
		"colour.txt": text(t, true, sample()),
		"ticket.txt": ticket.String(),
	} {
		golden(t, name, got)
	}
}

// The list of findings alone is a part of the whole text, without the artwork's facts before it and the instructions after it.
func TestFindingsArePartOfText(t *testing.T) {
	var out bytes.Buffer
	if err := report.Findings(&out, sample(), report.TextOptions{Rules: sampleRules}); err != nil {
		t.Fatal(err)
	}
	whole := text(t, false, sample())
	if got := out.String(); !strings.Contains(whole, got) || !strings.Contains(got, "line too thin to hold (rule hairline; 8 places") ||
		strings.Contains(got, "Size") || strings.Contains(got, "How to print") {
		t.Errorf("got %q of %q", got, whole)
	}
}

// TestTextWidth holds for whatever the rules say of real artwork.
func TestTextWidth(t *testing.T) {
	for name, rep := range judged(t) {
		for line := range strings.Lines(text(t, false, rep)) {
			if n := utf8.RuneCountInString(strings.TrimSuffix(line, "\n")); n > 100 {
				t.Errorf("%s: line of %d columns: %s", name, n, line)
			}
		}
	}
}

func TestTextHasNoControlCharacters(t *testing.T) {
	got := text(t, false, sample())
	if i := strings.IndexFunc(got, func(r rune) bool { return r < ' ' && r != '\n' }); i >= 0 {
		t.Errorf("control character %q at byte %d", got[i], i)
	}
}

func TestPrintable(t *testing.T) {
	tests := []struct{ in, want string }{
		{"lantern.png", "lantern.png"},
		{"Späte Lampe №1.png", "Späte Lampe №1.png"},
		{`say "hi".png`, `say "hi".png`},
		{"a\x1b[31mb", `a\x1b[31mb`},
		{"a\nb", `a\nb`},
		{"a\xffb", `a\xffb`},
		{"a\u202eb", `a\u202eb`},
	}
	for _, tt := range tests {
		if got := report.Printable(tt.in); got != tt.want {
			t.Errorf("Printable(%q) = %s, want %s", tt.in, got, tt.want)
		}
	}
}

func TestWrap(t *testing.T) {
	long := strings.TrimSpace(strings.Repeat("lantern ", 20))
	got := report.Wrap("Title\n\n- " + long + "\n12. " + long + "\n")
	want := "Title\n\n- " + strings.Repeat("lantern ", 11) + "lantern\n  " + strings.TrimSpace(strings.Repeat("lantern ", 8)) +
		"\n12. " + strings.Repeat("lantern ", 11) + "lantern\n    " + strings.TrimSpace(strings.Repeat("lantern ", 8)) + "\n"
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// full refuses every write, as a full disk does.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, fmt.Errorf("no space left") }

func TestWriteErrorIsReturned(t *testing.T) {
	for name, w := range map[string]report.Writer{
		"text": report.NewText(full{}, report.TextOptions{}), "json": report.NewJSON(full{}, false), "array": report.NewJSON(full{}, true),
		"sarif": report.NewSARIF(full{}, sampleRules), "junit": report.NewJUnit(full{}, report.JUnitOptions{FailOn: "error"}),
		"annotations": report.NewAnnotations(full{}, report.AnnotationOptions{Rules: sampleRules}), "summary": report.NewSummary(full{}),
	} {
		if err := errors.Join(w.Add(sample()), w.Close()); err == nil || !strings.Contains(err.Error(), "no space left") {
			t.Errorf("%s: got %v", name, err)
		}
	}
}

// A report of what does not fit keeps its sizes, its sheets and the schema.
func TestSchemaAcceptsWhatDoesNotFit(t *testing.T) {
	p, err := preflight.ProcessByID(preflight.DefaultProcess)
	if err != nil {
		t.Fatal(err)
	}
	m := image.NewNRGBA(image.Rect(0, 0, 400, 300))
	draw.Draw(m, image.Rect(10, 10, 390, 290), image.NewUniform(color.Black), image.Point{}, draw.Src)
	rep := judge(t, p, m, 25.4, 0)
	if len(rep.Placement.FittingSizes) != 2 || rep.Placement.Tiled == nil || len(rep.Placement.LargerSheets) == 0 {
		t.Fatalf("380 x 280 mm on a4: %+v", rep.Placement)
	}
	text := encoded(t, false, rep)
	if err := schema(t).Validate(decoded(t, text)); err != nil {
		t.Error(err)
	}
	var back preflight.Report
	if err := json.Unmarshal(text, &back); err != nil || !reflect.DeepEqual(back.Placement, rep.Placement) || !reflect.DeepEqual(back.Sizes, rep.Sizes) {
		t.Errorf("read back: %+v, %+v, %v; want %+v, %+v", back.Placement, back.Sizes, err, rep.Placement, rep.Sizes)
	}
	// What the customer is told is what the report says.
	if want := fmt.Sprintf("the whole picture at %.1f x %.1f mm would fit", rep.Sizes.MostAsItLies().PictureMM.W, rep.Sizes.MostAsItLies().PictureMM.H); !strings.Contains(report.Reply(rep), want) {
		t.Errorf("%q is not in the reply:\n%s", want, report.Reply(rep))
	}
}

// Text and page tell the size for all in the same words, ticket and reply in theirs: 127 mm at 40 pixels an inch, times 40 of 150, are 33.87 mm.
func TestSizeForAllIsToldAlike(t *testing.T) {
	p, err := preflight.ProcessByID(preflight.DefaultProcess)
	if err != nil {
		t.Fatal(err)
	}
	m := image.NewNRGBA(image.Rect(0, 0, 200, 200))
	draw.Draw(m, m.Rect, image.NewUniform(color.Black), image.Point{}, draw.Src)
	rep := judge(t, p, m, 40, 0)
	const want = "rinted at most 33.8 mm wide (33.8 mm high), it fits the sheet (a4) with room to trim and has enough pixels."
	var text, page, ticket bytes.Buffer
	w := report.NewText(&text, report.TextOptions{})
	if err := errors.Join(w.Add(rep), w.Close(), report.HTML(&page, report.HTMLPage{Report: rep}), report.Ticket(&ticket, rep, false)); err != nil {
		t.Fatal(err)
	}
	for name, got := range map[string]string{"text": text.String(), "page": page.String()} {
		if !strings.Contains(strings.Join(strings.Fields(got), " "), want) {
			t.Errorf("%s does not say %q:\n%s", name, want, got)
		}
	}
	if want := "Size to print up to 33.8 x 33.8 mm.\n"; !strings.Contains(ticket.String(), want) {
		t.Errorf("the ticket does not say %q:\n%s", want, ticket.String())
	}
	const told = "printed at 33.8 x 33.8 mm or less, the design suits our sheet and the pixels that it has. Fine detail shrinks with it"
	if reply := report.Reply(rep); !strings.Contains(reply, told) {
		t.Errorf("the reply does not say %q:\n%s", told, reply)
	}
}

// A limit says what it bounds where its unit does not tell.
func TestBound(t *testing.T) {
	for id, want := range map[string]string{
		"blends-with-garment": "at least 10 of 100 in colour difference",
		"hairline":            "at least 0.35 mm",
	} {
		p, err := preflight.ProcessByID("toner-white-for-black")
		if err != nil {
			t.Fatal(err)
		}
		rule := rules.All()[slices.IndexFunc(rules.All(), func(r *preflight.Rule) bool { return r.ID == id })]
		if got := report.Bound(rule, p.Limits[rule.Limit.Name]); got != want {
			t.Errorf("%s: %q, want %q", id, got, want)
		}
	}
}

// Of an icon of 32 pixels at 90 mm there is no print of use: 5.4 mm. Nobody is told to make it, and all are told to ask for a larger one.
func TestTooSmallToBeOfUse(t *testing.T) {
	p, err := preflight.ProcessByID(preflight.DefaultProcess)
	if err != nil {
		t.Fatal(err)
	}
	m := image.NewNRGBA(image.Rect(0, 0, 32, 32))
	draw.Draw(m, m.Rect, image.NewUniform(color.Black), image.Point{}, draw.Src)
	rep := judge(t, p, m, 32/(90/25.4), 0)
	if !rep.Sizes.OfNoUse() || rep.ShrinksDetail() || strings.Contains(rep.SizesInShort(), "5.4") {
		t.Errorf("%+v: %q", rep.Sizes, rep.SizesInShort())
	}
	var text, ticket bytes.Buffer
	w := report.NewText(&text, report.TextOptions{Rules: rules.All()})
	if err := errors.Join(w.Add(rep), w.Close(), report.Ticket(&ticket, rep, false)); err != nil {
		t.Fatal(err)
	}
	for want, got := range map[string]string{
		"Mend: It cannot be used at this size: ask for the artwork with more pixels or as a vector PDF.":              text.String(),
		"The picture cannot be used at this size: it has enough pixels only up to 5.4 mm wide. Ask for a larger one.": text.String(),
		"Size to print none of use: the picture has too few pixels. Ask for a larger one.":                            ticket.String(),
		"at least 532 pixels across, or as the drawing itself in a PDF: as it is, we cannot use it at this size.":     report.Reply(rep),
	} {
		got = strings.Join(strings.Fields(got), " ")
		if !strings.Contains(got, want) || strings.Contains(got, "print it at 6.0 %") || strings.Contains(got, "Judge it again") || strings.Contains(got, "About the size") {
			t.Errorf("want %q in:\n%s", want, got)
		}
	}
}
