package pdffacts_test

import (
	"fmt"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"peelcheck/raster"
	"peelcheck/raster/pdfpage"
)

// conditions are membership dictionaries of moth, which is on, and lamp, which is off. Whether each shows follows from ISO 32000-1, Table 99
// and 8.11.2.2; name is empty where nothing is hidden.
var conditions = []struct {
	dict  string
	shows bool
	name  string
}{
	{"/OCGs [M M] /P /AllOn", true, `"moth" is on and "moth" is on`},
	{"/OCGs [M L] /P /AllOn", false, `"moth" is on and "lamp" is on`},
	{"/OCGs [L L] /P /AllOn", false, `"lamp" is on and "lamp" is on`},
	{"/OCGs [M L] /P /AnyOn", true, `"moth" is on or "lamp" is on`},
	{"/OCGs [L L] /P /AnyOn", false, `"lamp" is on or "lamp" is on`},
	{"/OCGs [M M] /P /AnyOff", false, `"moth" is off or "moth" is off`},
	{"/OCGs [M L] /P /AnyOff", true, `"moth" is off or "lamp" is off`},
	{"/OCGs [M L] /P /AllOff", false, `"moth" is off and "lamp" is off`},
	{"/OCGs [L L] /P /AllOff", true, `"lamp" is off and "lamp" is off`},
	{"/OCGs M", true, "moth"},
	{"/OCGs L", false, "lamp"},
	{"/OCGs [L]", false, "lamp"},
	{"/OCGs L /P /AllOff", true, `"lamp" is off`},
	{"/OCGs []", true, ""},
	{"/OCGs [null L] /P /AllOn", false, "lamp"},
	{"/VE [/Not M]", false, `"moth" is off`},
	{"/VE [/Not L]", true, `"lamp" is off`},
	{"/VE [/And M L]", false, `"moth" is on and "lamp" is on`},
	{"/VE [/And L M]", false, `"lamp" is on and "moth" is on`},
	{"/VE [/Or L M]", true, `"lamp" is on or "moth" is on`},
	{"/VE [/Or M L]", true, `"moth" is on or "lamp" is on`},
	{"/VE [/And M [/Not L]]", true, `"moth" is on and "lamp" is off`},
	{"/VE [/Or L [/And M L]]", false, `"lamp" is on or ("moth" is on and "lamp" is on)`},
	{"/VE [/Not [/Or L L]]", true, `not ("lamp" is on or "lamp" is on)`},
	{"/VE [/Not [/And M [/Not [/Or M L]]]]", true, `not ("moth" is on and not ("moth" is on or "lamp" is on))`},
	{"/VE [/Not [/Not L]]", false, `not ("lamp" is off)`},
	{"/OCGs [M] /P /AllOff /VE [/Or M L]", true, `"moth" is on or "lamp" is on`}, // the expression counts
}

const square = 10 // points, of which 8 are painted

func conditionsFile(t *testing.T) []byte {
	t.Helper()
	var properties, content strings.Builder
	for i, c := range conditions {
		fmt.Fprintf(&properties, "/C%d << /Type /OCMD %s >> ", i, strings.NewReplacer("M", "5 0 R", "L", "6 0 R").Replace(c.dict))
		fmt.Fprintf(&content, "/OC /C%d BDC %d 1 8 8 re f EMC\n", i, square*i+1)
	}
	return pdf("/OCProperties << /OCGs [5 0 R 6 0 R] /D << /OFF [6 0 R] >> >>",
		fmt.Sprintf("/MediaBox [0 0 %d %d] /Resources << /Properties << %s >> >> ", square*len(conditions), square, properties.String()),
		content.String(), "<< /Type /OCG /Name (moth) >>", "<< /Type /OCG /Name (lamp) >>")
}

func TestMemberships(t *testing.T) {
	f := factsOf(t, conditionsFile(t))
	for i, c := range conditions {
		x := (square*float64(i) + 1) * 25.4 / 72
		at := slices.IndexFunc(f.Layers, func(l raster.FactLayer) bool { return l.Name == c.name })
		if at < 0 {
			if c.name != "" {
				t.Errorf("%s: no layer %q", c.dict, c.name)
			}
			continue
		}
		l := f.Layers[at]
		if l.Prints != c.shows || l.Screen != c.shows || l.Formula != strings.Contains(c.name, `"`) || !(l.Box.X <= x+0.01 && x < l.Box.X+l.Box.W) {
			t.Errorf("%s: %+v, want shown %v", c.dict, l, c.shows)
		}
	}
}

// departures are where a program does not draw what the standard says: Ghostscript 10.00 knows no expressions; it and poppler 22.12 take an
// empty list for hidden, where Table 99 has it without effect; poppler and PDFium apply no policy to a group that stands alone. Of MuPDF
// 1.21, which knows no expressions either and turns AllOn and AnyOff round, nothing can be learnt.
var departures = map[string]func(dict string) bool{
	"gs":       func(dict string) bool { return strings.Contains(dict, "/VE") || dict == "/OCGs []" },
	"pdftoppm": func(dict string) bool { return dict == "/OCGs L /P /AllOff" || dict == "/OCGs []" },
	"pdfpage":  func(dict string) bool { return dict == "/OCGs L /P /AllOff" },
}

// TestMembershipsAgainstOthers compares with the drawings of Ghostscript and pdftoppm, and with our own.
func TestMembershipsAgainstOthers(t *testing.T) {
	data, dir := conditionsFile(t), t.TempDir()
	file := filepath.Join(dir, "conditions.pdf")
	if err := os.WriteFile(file, data, 0o666); err != nil {
		t.Fatal(err)
	}
	tool(t, "gs", "-q", "-dBATCH", "-dNOPAUSE", "-dSAFER", "-sDEVICE=png16m", "-r72", "-o", filepath.Join(dir, "gs.png"), file)
	tool(t, "pdftoppm", "-r", "72", "-png", "-singlefile", file, filepath.Join(dir, "pdftoppm"))
	for _, name := range []string{"gs", "pdftoppm"} {
		in, err := os.Open(filepath.Join(dir, name+".png"))
		if err != nil {
			t.Fatal(err)
		}
		m, err := png.Decode(in)
		in.Close()
		if err != nil {
			t.Fatal(err)
		}
		compareShown(t, name, func(x, y int) color.Color { return m.At(x, y) })
	}
	cache, err := os.UserCacheDir()
	if err != nil {
		t.Fatal(err)
	}
	doc, err := pdfpage.Open(data, pdfpage.Options{CacheDir: filepath.Join(cache, "peelcheck")})
	if err != nil {
		t.Fatal(err)
	}
	defer doc.Close()
	pic, err := doc.Page(1, 72)
	if err != nil {
		t.Fatal(err)
	}
	compareShown(t, "pdfpage", func(x, y int) color.Color {
		if pic.Pix.NRGBAAt(x, y).A == 0 {
			return color.White
		}
		return pic.Pix.At(x, y)
	})
}

func compareShown(t *testing.T, who string, at func(x, y int) color.Color) {
	t.Helper()
	for i, c := range conditions {
		if departures[who](c.dict) {
			continue
		}
		if shown := color.GrayModel.Convert(at(square*i+5, 5)).(color.Gray).Y < 128; shown != c.shows {
			t.Errorf("%s draws %s as shown %v, want %v", who, c.dict, shown, c.shows)
		}
	}
}

// TestHostileMemberships: what refers to itself, or to the same twice in each of many levels, ends.
func TestHostileMemberships(t *testing.T) {
	objects := []string{"<< /Type /OCG /Name (moth) >>"}
	for i := range 40 {
		objects = append(objects, fmt.Sprintf("[/And %d 0 R %d 0 R]", 7+i, 7+i))
	}
	objects = append(objects, "[/Or 46 0 R 5 0 R]")
	f := factsOf(t, pdf("/OCProperties << /OCGs [5 0 R] /D << /OFF [5 0 R] >> >>",
		inch+"/Resources << /Properties << /C << /Type /OCMD /OCGs 5 0 R /VE 6 0 R >> >> >>", "/OC /C BDC 0 0 9 9 re f EMC", objects...))
	if len(f.Layers) != 1 || f.Layers[0].Name != "moth" || f.Layers[0].Prints {
		t.Errorf("%+v: want what the policy says", f.Layers)
	}
}
