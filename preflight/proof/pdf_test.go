package proof

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/pdfcpu/pdfcpu/pkg/api"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/preflight"
)

func writtenPDF(t *testing.T, in Input) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := WritePDF(&out, in, "a mark"); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// tool runs a program of another maker; a test that needs it fails without it.
func tool(t *testing.T, name string, args ...string) []byte {
	t.Helper()
	if _, err := exec.LookPath(name); err != nil {
		t.Fatalf("%s is missing: apt-get install ghostscript qpdf mupdf-tools", name)
	}
	out, err := exec.Command(name, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, out)
	}
	return out
}

// quietly is pdfcpu's configuration without the folder that it otherwise makes in the user's home.
func quietly() *model.Configuration {
	api.DisableConfigDir()
	return model.NewDefaultConfiguration()
}

func saved(t *testing.T, name string, data []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, data, 0o666); err != nil {
		t.Fatal(err)
	}
	return path
}

// rendered has Ghostscript draw both pages.
func rendered(t *testing.T, data []byte, ppi int) [2]image.Image {
	t.Helper()
	path := saved(t, "in.pdf", data)
	pattern := filepath.Join(filepath.Dir(path), "page%d.png")
	tool(t, "gs", "-q", "-dNOPAUSE", "-dBATCH", "-dSAFER", "-sDEVICE=png16m", fmt.Sprintf("-r%d", ppi), "-sOutputFile="+pattern, path)
	return [2]image.Image{readPNG(t, fmt.Sprintf(pattern, 1)), readPNG(t, fmt.Sprintf(pattern, 2))}
}

// layerOff switches the layer off by default: the same bytes with the lists of what is on and off changed about.
func layerOff(t *testing.T, data []byte) []byte {
	t.Helper()
	lists := regexp.MustCompile(`/OFF\[\]/ON\[(\d+ 0 R)\]`)
	if len(lists.FindAll(data, -1)) != 1 {
		t.Fatal("the layer is not on by default")
	}
	return lists.ReplaceAll(data, []byte("/OFF[$1]/ON[]"))
}

func rgb(m image.Image, x, y int) color.RGBA { return color.RGBAModel.Convert(m.At(x, y)).(color.RGBA) }

// TestPDFIsSound has qpdf look at the structure of every case, and pdfcpu at the size: that of the artwork and of the margin.
func TestPDFIsSound(t *testing.T) {
	for name, drawn := range cases() {
		in := bare(drawn.Report)
		data := writtenPDF(t, in)
		tool(t, "qpdf", "--check", saved(t, "in.pdf", data))
		dims, err := api.PageDims(bytes.NewReader(data), quietly())
		if err != nil || len(dims) != 2 {
			t.Fatalf("%s: %d pages, %v", name, len(dims), err)
		}
		a := in.Report.Artwork
		const within = 0.01
		w, h := dims[0].Width*25.4/72, dims[0].Height*25.4/72
		extra := h - a.HeightMM - 2*PDFMarginMM
		if math.Abs(w-a.WidthMM-2*PDFMarginMM) > within || extra < -within || extra > within && name != "tiny-cap" && name != "banner-off-sheet" {
			t.Errorf("%s: page of %.3f x %.3f mm for artwork of %.3f x %.3f", name, w, h, a.WidthMM, a.HeightMM)
		}
		if !bytes.HasPrefix(data, []byte("%PDF-1.7\n%\xe2\xe3\xcf\xd3\n%a mark\n")) {
			t.Errorf("%s: begins with %q", name, data[:40])
		}
		if !bytes.Equal(data, writtenPDF(t, in)) {
			t.Errorf("%s: written again it differs", name)
		}
	}
}

// TestPDFLayer reads the layer back with pdfcpu: ISO 32000-1, 8.11.2 (the group), 8.11.4 (on by default, and offered to the reader).
func TestPDFLayer(t *testing.T) {
	ctx, err := api.ReadContext(bytes.NewReader(writtenPDF(t, bare(cases()["many-findings"].Report))), quietly())
	if err != nil {
		t.Fatal(err)
	}
	root, err := ctx.Catalog()
	if err != nil {
		t.Fatal(err)
	}
	properties, err := ctx.DereferenceDict(root["OCProperties"])
	if err != nil {
		t.Fatal(err)
	}
	d, err := ctx.DereferenceDict(properties["D"])
	if err != nil {
		t.Fatal(err)
	}
	for name, list := range map[string]types.Object{"OCGs": properties["OCGs"], "ON": d["ON"], "Order": d["Order"]} {
		a, err := ctx.DereferenceArray(list)
		if err != nil || len(a) != 1 {
			t.Fatalf("%s: %v, %v", name, a, err)
		}
		group, err := ctx.DereferenceDict(a[0])
		if err != nil || group["Type"] != types.Name("OCG") || group["Name"] != types.StringLiteral("Findings") {
			t.Errorf("%s: group %v, %v", name, group, err)
		}
	}
}

// TestPDFLayerCanBeSwitchedOff has Ghostscript draw the pages with the layer on and off. Off, they are those of a report without findings, which
// is READY: a verdict would be about nothing that can be seen. On, every finding is outlined and the list is there.
func TestPDFLayerCanBeSwitchedOff(t *testing.T) {
	const ppi = 60
	for _, name := range []string{"many-findings", "tall-artwork", "no-size"} {
		in := striped(cases()[name].Report)
		none := *in.Report
		none.Findings, none.Counts, none.Verdict = nil, preflight.Counts{}, preflight.Ready
		data := writtenPDF(t, in)
		on, off := rendered(t, data, ppi), rendered(t, layerOff(t, data), ppi)
		bare := rendered(t, layerOff(t, writtenPDF(t, striped(&none))), ppi)
		for i := range off {
			differing(t, name, off[i], bare[i], func(x, y int) { t.Fatalf("%s, page %d: with the layer off a mark is left at (%d,%d)", name, i+1, x, y) })
		}
		var marks []image.Point
		differing(t, name, on[0], off[0], func(x, y int) { marks = append(marks, image.Pt(x, y)) })
		px := func(mm float64) float64 { return (mm + PDFMarginMM) * ppi / 25.4 }
		for _, f := range in.Report.Findings {
			b := f.BoxMM
			const near = 2 // mm: what is small is outlined with room around it
			box := image.Rect(int(px(b.X-near)), int(px(b.Y-near)), int(px(b.X+b.W+near))+1, int(px(b.Y+b.H+near))+1)
			if !anyIn(marks, box) {
				t.Errorf("%s: nothing marks finding %d at %v", name, f.ID, b)
			}
		}
		for which, data := range map[string][]byte{"on": data, "off": layerOff(t, data)} { // as MuPDF reads it
			words := string(tool(t, "mutool", "draw", "-q", "-F", "text", saved(t, "in.pdf", data)))
			told := strings.Contains(words, "HOLD") || strings.Contains(words, "REVIEW")
			if told != (which == "on") || strings.Contains(words, "is switched off here") != (which == "off") {
				t.Errorf("%s: with the layer %s the pages say: %s", name, which, words)
			}
		}
		listed := 0
		differing(t, name, on[1], off[1], func(int, int) { listed++ })
		if listed < 200 {
			t.Errorf("%s: the list has %d pixels", name, listed)
		}
	}
}

// striped is an input whose artwork is drawn quickly: slanted stripes on cloth.
func striped(rep *preflight.Report) Input {
	return Input{Report: rep, Preview: func(_ image.Point, part image.Rectangle) (*image.NRGBA, *image.Gray) {
		look := image.NewNRGBA(part)
		for y := part.Min.Y; y < part.Max.Y; y++ {
			for x := part.Min.X; x < part.Max.X; x++ {
				k := color.NRGBA(cloth)
				if (x+y)/200%2 == 1 {
					k = color.NRGBA{40, 150, 130, 255}
				}
				look.SetNRGBA(x, y, k)
			}
		}
		return look, image.NewGray(part)
	}}
}

func anyIn(points []image.Point, r image.Rectangle) bool {
	for _, p := range points {
		if p.In(r) {
			return true
		}
	}
	return false
}

func differing(t *testing.T, name string, a, b image.Image, each func(x, y int)) {
	t.Helper()
	if a.Bounds() != b.Bounds() {
		t.Fatalf("%s: pictures of %v and %v", name, a.Bounds(), b.Bounds())
	}
	for y := range a.Bounds().Dy() {
		for x := range a.Bounds().Dx() {
			if rgb(a, x, y) != rgb(b, x, y) {
				each(x, y)
			}
		}
	}
}

// TestPDFArtworkLiesAtTrueSize has Ghostscript draw ten pixels a millimetre: cloth begins and ends where the artwork does, to one pixel.
func TestPDFArtworkLiesAtTrueSize(t *testing.T) {
	in := bare(shirt.report())
	page := rendered(t, writtenPDF(t, in), 254)[0]
	want := color.RGBA{cloth.R, cloth.G, cloth.B, 255}
	across, down := 0, 0
	for x := range page.Bounds().Dx() {
		if rgb(page, x, 10*PDFMarginMM+700) == want {
			across++
		}
	}
	for y := range page.Bounds().Dy() {
		if rgb(page, 10*PDFMarginMM+900, y) == want {
			down++
		}
	}
	if math.Abs(float64(across)-10*shirt.w) > 1 || math.Abs(float64(down)-10*shirt.h) > 1 {
		t.Errorf("%d x %d pixels of 0.1 mm, want %v x %v mm", across, down, shirt.w, shirt.h)
	}
	for _, at := range []image.Point{{251, 251}, {250 + 1798, 251}, {251, 250 + 1398}, {250 + 1798, 250 + 1398}} {
		if got := rgb(page, at.X, at.Y); got != want {
			t.Errorf("at %v: %v, want cloth", at, got)
		}
	}
}

// TestPDFWordsCanBeRead has Ghostscript take the text out of the pages: glyphs lead back to characters, of all alphabets the font has.
func TestPDFWordsCanBeRead(t *testing.T) {
	in := bare(noSize().Report)
	in.Report.Artwork.File = "orders/Späte Лампа ☃.png"
	path := saved(t, "in.pdf", writtenPDF(t, in))
	out := path + ".txt"
	tool(t, "gs", "-q", "-dNOPAUSE", "-dBATCH", "-dSAFER", "-sDEVICE=txtwrite", "-sOutputFile="+out, path)
	text, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	words := strings.Join(strings.Fields(string(text)), " ")
	for _, want := range []string{"Späte", "Лампа", "The size is not known; shown as 180.0 x 140.0 mm.", "What was found", "Ask for the printed width", "Not examined:"} {
		if !strings.Contains(words, want) {
			t.Errorf("no %q in %s", want, words)
		}
	}
}

// TestPDFNumbersAreTheProofs takes the numbers in the words of the first page, and expects those of the picture.
func TestPDFNumbersAreTheProofs(t *testing.T) {
	for name, drawn := range cases() {
		in := bare(drawn.Report)
		out := saved(t, "out.txt", nil)
		tool(t, "gs", "-q", "-dNOPAUSE", "-dBATCH", "-dSAFER", "-sDEVICE=txtwrite", "-dLastPage=1", "-sOutputFile="+out, saved(t, "in.pdf", writtenPDF(t, in)))
		text, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		words := " " + strings.Join(strings.Fields(string(text)), " ") + " "
		for _, n := range Draw(in).Numbers() {
			if !strings.Contains(words, fmt.Sprintf(" %d ", n)) {
				t.Errorf("%s: number %d is not on the page: %s", name, n, words)
			}
		}
	}
}

func TestPDFWriteErrorIsReturned(t *testing.T) {
	full := errors.New("no space left")
	if err := WritePDF(failing{full}, bare(shirt.report())); !errors.Is(err, full) {
		t.Errorf("got %v", err)
	}
}

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }
