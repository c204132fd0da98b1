package pdffacts_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/pdfcpu/pdfcpu/pkg/api"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"golang.org/x/sync/errgroup"

	"peelcheck/raster"
	"peelcheck/raster/pdffacts"
)

// sources are the modules whose PDFs are compared; all are open source. pdfcpu is Apache-2.0, fpdf MIT, dslipak/pdf BSD-3-Clause.
var sources = []string{"github.com/pdfcpu/pdfcpu", "github.com/go-pdf/fpdf@v0.9.0", "github.com/dslipak/pdf@v0.0.2"}

// mostPages of each file are compared.
const mostPages = 3

func moduleDir(t *testing.T, module string) string {
	t.Helper()
	args := []string{"mod", "download", "-json", module}
	if !strings.Contains(module, "@") {
		args = []string{"list", "-m", "-json", module}
	}
	out, err := exec.Command("go", args...).Output()
	var m struct{ Dir string }
	if err == nil {
		err = json.Unmarshal(out, &m)
	}
	if err != nil || m.Dir == "" {
		t.Fatalf("finding %s: %v", module, err)
	}
	return m.Dir
}

// corpus are the different PDFs of the sources, by content.
func corpus(t *testing.T) (files []string) {
	t.Helper()
	seen := map[string]bool{}
	for _, module := range sources {
		dir := moduleDir(t, module)
		_ = filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
			if err != nil || d.IsDir() || strings.ToLower(filepath.Ext(path)) != ".pdf" {
				return nil
			}
			data, err := os.ReadFile(path)
			if err == nil && !seen[string(data)] {
				seen[string(data)] = true
				files = append(files, path)
			}
			return nil
		})
	}
	return files
}

// tool runs a program of Debian's poppler-utils or mupdf-tools; a missing one fails, as does one that says nothing.
func tool(t *testing.T, name string, args ...string) (string, bool) {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Fatalf("%s is needed for this test: install poppler-utils and mupdf-tools", name)
	}
	var stderr bytes.Buffer
	cmd := exec.Command(path, args...)
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	return string(out), err == nil
}

func open(path string) (*model.Context, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	conf := model.NewDefaultConfiguration()
	conf.Offline = true
	ctx, err := api.ReadContext(bytes.NewReader(data), conf)
	if err == nil {
		err = ctx.EnsurePageCount()
	}
	return ctx, err
}

// amiss says of which files an oracle tells what the file does not, or in another way, and why.
var amiss = map[string]string{
	"FreeTextAnnotation.pdf fonts":            "pdffonts makes up an appearance for a note that has none",
	"FreeTextAnnotation.pdf text sizes":       "so does mutool",
	"FreeTextAnnotation.pdf letters":          "so does mutool",
	"LineAnnotation.pdf fonts":                "as FreeTextAnnotation.pdf",
	"AnnotationDemo.pdf fonts":                "as FreeTextAnnotation.pdf",
	"AnnotationDemo.pdf text sizes":           "as FreeTextAnnotation.pdf",
	"AnnotationDemo.pdf letters":              "as FreeTextAnnotation.pdf",
	"VectorApple.pdf images":                  "pdfimages lists the pictures within soft masks too, which are no pictures of the page",
	"ResourceDictInheritanceDemo.pdf letters": "two fonts are not in the resources of the page; mutool draws with others",
	"arabic.pdf letters":                      "fields that do not print; and mutool puts letters of Arabic together",
	"listbox.pdf letters":                     "fields that do not print",
	"GridFromPDFWithCropBox.pdf letters":      "mutool counts what is clipped away",
	"NUpFromPDFWithCropBox.pdf letters":       "mutool counts what is clipped away",
	"PdfWithCropBox.pdf letters":              "mutool counts what is clipped away",
	"Fpdf_ClipText.pdf letters":               "mutool counts what is clipped away",
	"Fpdf_ClippedTableCells.pdf letters":      "a row of which a part is clipped away counts whole",
	"sample01.pdf text sizes":                 "for narrowed letters mutool gives the mean of width and height",
	"jphysiol01396-0132.pdf text sizes":       "for narrowed letters mutool gives the mean of width and height",
}

// TestCorpusFacts compares pages with pdfinfo, pdffonts and pdfimages -list of poppler-utils 22.12 and with mutool 1.21, as Debian 12 has them.
func TestCorpusFacts(t *testing.T) {
	api.DisableConfigDir()
	var compared struct{ files, refused, pages, fonts, images, letters atomic.Int64 }
	files := corpus(t)
	var group errgroup.Group
	group.SetLimit(runtime.NumCPU())
	for _, path := range files {
		group.Go(func() error {
			ctx, err := open(path)
			if err != nil {
				compared.refused.Add(1)
				return nil
			}
			compared.files.Add(1)
			c := &comparison{t: t, path: path, pages: min(mostPages, ctx.PageCount)}
			doc := pdffacts.NewDocument(ctx.XRefTable, ctx.PageCount)
			for n := 1; n <= c.pages; n++ {
				facts, err := doc.Page(n)
				if err != nil {
					t.Errorf("%s, page %d: %v", path, n, err)
					return nil
				}
				c.facts = append(c.facts, facts)
			}
			c.run()
			compared.pages.Add(int64(c.pages))
			compared.fonts.Add(int64(c.fonts))
			compared.images.Add(int64(c.images))
			compared.letters.Add(int64(c.letters))
			return nil
		})
	}
	group.Wait()
	t.Logf("%d files compared, %d not opened by pdfcpu; %d pages, %d fonts, %d pictures, %d letters", compared.files.Load(), compared.refused.Load(),
		compared.pages.Load(), compared.fonts.Load(), compared.images.Load(), compared.letters.Load())
	if compared.files.Load() < 400 || compared.pages.Load() < 900 || compared.images.Load() < 1000 || compared.fonts.Load() < 2500 {
		t.Error("fewer than there were: has the corpus gone?")
	}
}

// comparison is of the first pages of one file.
type comparison struct {
	t                      *testing.T
	path                   string
	pages                  int
	facts                  []*raster.Facts
	fonts, images, letters int
}

func (c *comparison) run() {
	last := strconv.Itoa(c.pages)
	if out, ok := tool(c.t, "pdfinfo", "-f", "1", "-l", last, c.path); ok {
		c.compareSizes(out)
	}
	if out, ok := tool(c.t, "mutool", "pages", c.path, "1-"+last); ok {
		c.compareUnits(out)
	}
	if out, ok := tool(c.t, "pdfimages", "-f", "1", "-l", last, "-list", c.path); ok {
		c.compareImages(out)
	}
	for n := range c.pages {
		page := strconv.Itoa(n + 1)
		if out, ok := tool(c.t, "pdffonts", "-f", page, "-l", page, c.path); ok {
			c.compareFonts(n, out)
		}
	}
	if out, ok := tool(c.t, "mutool", "draw", "-q", "-F", "stext", "-o", "-", c.path, "1-"+last); ok {
		c.compareText(out)
	}
}

func (c *comparison) errorf(kind string, n int, format string, args ...any) {
	c.t.Helper()
	if _, known := amiss[filepath.Base(c.path)+" "+kind]; !known {
		c.t.Errorf("%s, page %d, %s: %s", c.path, n+1, kind, fmt.Sprintf(format, args...))
	}
}

var (
	sizeLine   = regexp.MustCompile(`(?m)^Page +(\d+) size: +([\d.]+) x ([\d.]+) pts`)
	rotateLine = regexp.MustCompile(`(?m)^Page +(\d+) rot: +(\d+)`)
	pageTag    = regexp.MustCompile(`(?s)<page pagenum="(\d+)">.*?</page>`)
	unitTag    = regexp.MustCompile(`<UserUnit v="([\d.]+)"`)
	fontLine   = regexp.MustCompile(`^(.*?) +((?:CID )?(?:Type 0C|Type 0|Type 1C|Type 1|Type 3|TrueType|unknown))(?: \(OT\))? +\S+ +(yes|no) +(yes|no) +(?:yes|no) +`)
	charTag    = regexp.MustCompile(`<(page|font name="[^"]*" size="([\d.]+)"|char [^>]* c="([^"]*)")`)
)

func number(s string) float64 {
	v, _ := strconv.ParseFloat(s, 64)
	return v
}

// compareSizes: pdfinfo gives a page before it is turned, and without its unit.
func (c *comparison) compareSizes(out string) {
	turned := map[string]bool{}
	for _, m := range rotateLine.FindAllStringSubmatch(out, -1) {
		turned[m[1]] = m[2] == "90" || m[2] == "270"
	}
	for _, m := range sizeLine.FindAllStringSubmatch(out, -1) {
		n, _ := strconv.Atoi(m[1])
		w, h := number(m[2])*25.4/72, number(m[3])*25.4/72
		if turned[m[1]] {
			w, h = h, w
		}
		f := c.facts[n-1]
		if unit := f.WidthMM / w; math.Abs(f.HeightMM/h-unit) > 1e-3 || math.Abs(unit-1) > 1e-3 && filepath.Base(c.path) != "AnnotationDemo.pdf" {
			c.errorf("size", n-1, "%.2f x %.2f mm, pdfinfo has %.2f x %.2f", f.WidthMM, f.HeightMM, w, h)
		}
	}
}

// compareUnits: mutool gives the unit, which makes pages larger than their boxes.
func (c *comparison) compareUnits(out string) {
	for _, page := range pageTag.FindAllStringSubmatch(out, -1) {
		n, _ := strconv.Atoi(page[1])
		if unit := unitTag.FindStringSubmatch(page[0]); unit != nil && n <= c.pages {
			box := regexp.MustCompile(`<ArtBox l="([-\d.]+)" b="([-\d.]+)" r="([-\d.]+)"`).FindStringSubmatch(page[0])
			if box == nil {
				continue
			}
			want := (number(box[3]) - number(box[1])) * number(unit[1]) * 25.4 / 72
			if got := c.facts[n-1].WidthMM; math.Abs(got-want) > 0.02 {
				c.errorf("unit", n-1, "%.2f mm wide, want %.2f by a unit of %s", got, want, unit[1])
			}
		}
	}
}

func (c *comparison) compareFonts(n int, out string) {
	var got, want []string
	for _, f := range c.facts[n].Fonts {
		got = append(got, fmt.Sprintf("%s, %s %s %s", f.Name, f.Kind, yes(f.Embedded), yes(f.Subset)))
	}
	for line := range strings.Lines(out) {
		m := fontLine.FindStringSubmatch(line)
		if m == nil {
			continue
		}
		name := m[1]
		if m[4] == "yes" && len(name) > 7 && name[6] == '+' {
			name = name[7:]
		}
		if name == "[none]" {
			name = ""
		}
		want = append(want, fmt.Sprintf("%s, %s %s %s", name, m[2], m[3], m[4]))
	}
	slices.Sort(got)
	slices.Sort(want)
	c.fonts += len(want)
	if !slices.Equal(got, want) {
		c.errorf("fonts", n, "got %q, want %q", got, want)
	}
}

// placed is a picture with its resolution.
type placed struct{ w, h, x, y int }

func (c *comparison) compareImages(out string) {
	want := make([][]placed, c.pages)
	for line := range strings.Lines(out) {
		f := strings.Fields(line)
		if len(f) < 14 || f[2] != "image" && f[2] != "stencil" {
			continue
		}
		var v [5]int
		for i, at := range []int{0, 3, 4, len(f) - 4, len(f) - 3} {
			v[i], _ = strconv.Atoi(f[at])
		}
		want[v[0]-1] = append(want[v[0]-1], placed{v[1], v[2], v[3], v[4]})
	}
	for n, list := range want {
		c.images += len(list)
		var extra []string
		for _, i := range c.facts[n].Images {
			at := slices.IndexFunc(list, func(p placed) bool {
				return p.w == i.WidthPx && p.h == i.HeightPx && math.Abs(float64(p.x)-i.PPIX) <= 1 && math.Abs(float64(p.y)-i.PPIY) <= 1
			})
			if at < 0 {
				extra = append(extra, fmt.Sprintf("%d x %d at %.1f x %.1f", i.WidthPx, i.HeightPx, i.PPIX, i.PPIY))
				continue
			}
			list = slices.Delete(list, at, at+1)
		}
		if len(extra) > 0 || len(list) > 0 {
			c.errorf("images", n, "only ours %q, only pdfimages' %v", extra, list)
		}
	}
}

// compareText: every size that a twentieth of the letters have must be found by both, to 2 %, and as many letters in all, to a tenth.
func (c *comparison) compareText(out string) {
	n, size := -1, 0.0
	want := make([]sizes, c.pages)
	for _, m := range charTag.FindAllStringSubmatch(out, -1) {
		switch {
		case m[1] == "page":
			n++
		case m[2] != "":
			size = number(m[2])
		case n >= 0 && n < c.pages && strings.TrimSpace(m[3]) != "":
			want[n] = append(want[n], size)
			c.letters++
		}
	}
	for n, f := range c.facts {
		var got sizes
		for _, t := range f.Texts {
			for range strings.Join(strings.Fields(t.Text), "") {
				got = append(got, t.SizeMM*72/25.4)
			}
		}
		if missing := want[n].without(got); len(missing) > 0 {
			c.errorf("text sizes", n, "none of ours has %v points", missing)
		}
		if extra := got.without(want[n]); len(extra) > 0 {
			c.errorf("text sizes", n, "%v points only among ours", extra)
		}
		if a, b := float64(len(got)), float64(len(want[n])); math.Abs(a-b) > 0.1*max(a, b) {
			c.errorf("letters", n, "%.0f, mutool has %.0f", a, b)
		}
	}
}

// sizes has one of the font sizes, in points, for each letter.
type sizes []float64

// without are the common sizes that another list has none near of.
func (s sizes) without(other sizes) (out []float64) {
	count := map[float64]int{}
	for _, v := range s {
		count[math.Round(v*10)/10]++
	}
	for v, n := range count {
		if 20*n > len(s) && !slices.ContainsFunc(other, func(o float64) bool { return math.Abs(o-v) <= 0.02*v+0.1 }) {
			out = append(out, v)
		}
	}
	return out
}

func yes(v bool) string {
	if v {
		return "yes"
	}
	return "no"
}
