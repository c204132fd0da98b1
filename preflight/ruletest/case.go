package ruletest

import (
	"bytes"
	"cmp"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"io/fs"
	"math"
	"path"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/tools/txtar"

	"peelcheck/preflight"
	"peelcheck/raster"
)

// testCase is one file of testdata: an artwork, the job it is judged for and what the rule must find.
type testCase struct {
	name string
	art  preflight.Artwork
	job  preflight.Job
	want []expectation
	// mixedSpot is a spot colour that prints as a mixture; the planes are then empty.
	mixedSpot string
	skipped   bool // the rule must say that it cannot look
}

// expectation is one finding that must come.
type expectation struct {
	level    preflight.Level
	box      preflight.BoxMM
	measured bool
	value    float64
	plane    preflight.Plane
	says     string // a part of the message
	line     string
}

// readCases reads every file of a testdata folder. A file that belongs to no case is an error.
func readCases(dir fs.FS) ([]*testCase, error) {
	entries, err := fs.ReadDir(dir, ".")
	if err != nil {
		return nil, err
	}
	var out []*testCase
	for _, e := range entries {
		stem := strings.TrimSuffix(e.Name(), path.Ext(e.Name()))
		var picture []byte
		switch path.Ext(e.Name()) {
		case ".txtar":
		case ".want":
			picture, err = fs.ReadFile(dir, stem+".png")
		case ".png":
			if _, err := fs.Stat(dir, stem+".want"); err != nil {
				return nil, fmt.Errorf("%s: no %s.want beside it", e.Name(), stem)
			}
			continue
		default:
			return nil, fmt.Errorf("%s: neither .txtar nor .png with .want", e.Name())
		}
		if err != nil {
			return nil, err
		}
		text, err := fs.ReadFile(dir, e.Name())
		if err != nil {
			return nil, err
		}
		c, err := parseCase(text, picture)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", e.Name(), err)
		}
		c.name, c.art.File = e.Name(), e.Name()
		out = append(out, c)
	}
	return out, nil
}

// parseCase reads one archive; picture is the PNG that stands for its art section, if any.
func parseCase(text, picture []byte) (*testCase, error) {
	archive := txtar.Parse(text)
	if why := strings.TrimSpace(string(archive.Comment)); !strings.HasSuffix(why, ".") || len(why) < 20 {
		return nil, fmt.Errorf("it must begin with a sentence that says why")
	}
	sections := map[string]string{}
	for _, f := range archive.Files {
		if _, twice := sections[f.Name]; twice || !slices.Contains([]string{"job", "art", "pdf", "want"}, f.Name) {
			return nil, fmt.Errorf("section %q: there is one job, one art or pdf, one want", f.Name)
		}
		sections[f.Name] = string(f.Data)
	}
	art, drawn := sections["art"]
	page, isPDF := sections["pdf"]
	want, ok := sections["want"]
	if given := map[bool]int{true: 1}; !ok || given[drawn]+given[isPDF]+given[picture != nil] != 1 {
		return nil, fmt.Errorf("it needs a want section, and one of an art section, a pdf section and a PNG")
	}
	c := &testCase{}
	pic, err := c.readJob(sections["job"])
	if err != nil {
		return nil, err
	}
	format := "png"
	switch {
	case isPDF:
		format = "pdf"
		pic, err = drawPDF(page, cmp.Or(pic.PPIX, unknownPPI))
	case drawn:
		pic.Pix, err = drawArt(art, cmp.Or(pic.PPIX, unknownPPI))
	default:
		pic.Pix, err = decodePNG(picture)
	}
	if err != nil {
		return nil, err
	}
	if c.mixedSpot != "" {
		w, h := pic.Pix.Rect.Dx(), pic.Pix.Rect.Dy()
		plane := raster.NewPlane(w, h)
		pic.Separations = &raster.Separations{Cyan: plane, Magenta: plane, Yellow: plane, Black: plane, Alternates: []string{c.mixedSpot}}
	}
	for i := 3; i < len(pic.Pix.Pix); i += 4 {
		pic.HasAlpha = pic.HasAlpha || pic.Pix.Pix[i] != 255
	}
	c.art = preflight.Artwork{Format: format, Page: 1, PageCount: 1, Picture: pic}
	return c, c.readWant(want)
}

// unknownPPI is how artwork of unknown size is drawn; preflight assumes the same.
const unknownPPI = 300

func decodePNG(data []byte) (*image.NRGBA, error) {
	m, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	if p, ok := m.(*image.NRGBA); ok && p.Rect.Min == (image.Point{}) {
		return p, nil
	}
	out := image.NewNRGBA(image.Rect(0, 0, m.Bounds().Dx(), m.Bounds().Dy()))
	draw.Draw(out, out.Rect, m, m.Bounds().Min, draw.Src)
	return out, nil
}

// readJob reads a job section: "KEY VALUE" a line, every key optional, "limit NAME VALUE" as often as needed.
func (c *testCase) readJob(text string) (*raster.Picture, error) {
	set := map[string]string{"process": preflight.DefaultProcess, "ppi": "300", "garment": "black", "background": preflight.BackgroundAuto}
	limits := map[string]float64{}
	for line := range strings.Lines(text) {
		f := strings.Fields(line)
		switch {
		case len(f) == 0:
		case len(f) == 3 && f[0] == "limit":
			v, err := strconv.ParseFloat(f[2], 64)
			if err != nil {
				return nil, err
			}
			limits[f[1]] = v
		case len(f) == 2 && slices.Contains([]string{"process", "ppi", "garment", "background", "sheet", "place", "white-drawn-as", "width", "height", "vector", "lossy", "mixed-spot", "mirrored"}, f[0]):
			set[f[0]] = f[1]
		default:
			return nil, fmt.Errorf("job: %q is not understood", strings.TrimSpace(line))
		}
	}
	c.mixedSpot = set["mixed-spot"]
	if err := c.setJob(set, limits); err != nil {
		return nil, fmt.Errorf("job: %w", err)
	}
	pic := &raster.Picture{Vector: set["vector"] == "yes", Lossy: set["lossy"] == "yes"}
	if set["ppi"] != "unknown" {
		v, err := strconv.ParseFloat(set["ppi"], 64)
		if err != nil || !(v > 0) {
			return nil, fmt.Errorf("job: a ppi of %q", set["ppi"])
		}
		pic.PPIX, pic.PPIY, pic.PPIFrom = v, v, "pHYs"
	}
	return pic, nil
}

func (c *testCase) setJob(set map[string]string, limits map[string]float64) (err error) {
	j := &c.job
	if j.Process, err = preflight.ProcessByID(set["process"]); err != nil {
		return err
	}
	if j.Garment, err = preflight.ParseGarment(set["garment"]); err != nil {
		return err
	}
	if j.Sheet, err = preflight.SheetByName(cmp.Or(set["sheet"], j.Process.DefaultSheet()), j.Process, nil); err != nil {
		return err
	}
	if j.Place, err = preflight.PlaceByName(set["place"], nil); err != nil {
		return err
	}
	if j.Limits, err = j.Process.ResolveLimits(nil, "", limits); err != nil {
		return err
	}
	j.WhiteDrawnAs, j.Background, j.Mirrored = set["white-drawn-as"], set["background"], set["mirrored"] == "yes"
	for key, into := range map[string]*preflight.Length{"width": &j.Width, "height": &j.Height} {
		if set[key] == "" {
			continue
		}
		if *into, err = preflight.ParseLength(set[key]); err != nil {
			return err
		}
	}
	return nil
}

// readWant reads a want section: "LEVEL X Y W H [= MEASURE] [PLANE] [: PART OF THE MESSAGE]" a line, or "skipped" alone.
func (c *testCase) readWant(text string) error {
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		what, says, _ := strings.Cut(line, " : ")
		f := strings.Fields(what)
		switch {
		case len(f) == 0:
		case line == "skipped":
			c.skipped = true
		default:
			e, err := parseExpectation(f)
			if err != nil {
				return fmt.Errorf("want: %q: %w", line, err)
			}
			e.says, e.line = strings.TrimSpace(says), line
			c.want = append(c.want, e)
		}
	}
	if c.skipped && len(c.want) > 0 {
		return fmt.Errorf("want: a rule that is skipped finds nothing")
	}
	return nil
}

func parseExpectation(f []string) (expectation, error) {
	e := expectation{level: preflight.Level(f[0])}
	if last := preflight.Plane(f[len(f)-1]); slices.Contains(preflight.AllPlanes, last) {
		e.plane, f = last, f[:len(f)-1]
	}
	if e.level.Rank() == 0 || len(f) != 5 && (len(f) != 7 || f[5] != "=") {
		return e, fmt.Errorf("it is not LEVEL X Y W H [= MEASURE] [PLANE]")
	}
	for i, into := range []*float64{&e.box.X, &e.box.Y, &e.box.W, &e.box.H} {
		v, err := strconv.ParseFloat(f[i+1], 64)
		if err != nil {
			return e, err
		}
		*into = v
	}
	if len(f) == 5 {
		return e, nil
	}
	v, err := strconv.ParseFloat(f[6], 64)
	e.measured, e.value = true, v
	return e, err
}

// metBy reports whether a finding is the one expected. pxMM is the size of a pixel in millimetres.
func (e expectation) metBy(f preflight.Finding, group string, pxMM float64) bool {
	edge := 0.5
	if group == "detail" {
		edge = 0.2
	}
	near := func(a, b float64) bool { return math.Abs(a-b) <= edge+1e-9 }
	g, w := f.BoxMM, e.box
	if f.Level != e.level || f.Plane != e.plane || !strings.Contains(f.Message, e.says) || !near(g.X, w.X) || !near(g.Y, w.Y) || !near(g.X+g.W, w.X+w.W) || !near(g.Y+g.H, w.Y+w.H) {
		return false
	}
	if f.Measure.Quantity == "" || !e.measured {
		return f.Measure.Quantity == "" && !e.measured
	}
	tolerance := 0.05 * math.Abs(e.value)
	if f.Measure.Quantity == "width" {
		tolerance = max(0.02, 0.1*pxMM)
	}
	return math.Abs(f.Measure.Value-e.value) <= tolerance+1e-9
}
