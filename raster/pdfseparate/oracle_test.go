package pdfseparate_test

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/draw"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"text/tabwriter"
	"time"

	"golang.org/x/image/tiff"

	"peelcheck/raster"
	"peelcheck/raster/pdfpage"
)

const (
	oraclePPI = 150
	// mostAreaError, mostLevels and leastWithin are how near each plane must come to Ghostscript's.
	mostAreaError = 0.005
	mostLevels    = 2
	leastWithin   = 0.99
	leastFiles    = 25
)

// reference says where the values for a file come from if not from tiffsep with its fast colours.
type reference struct {
	why string
	// managed leaves out -dUseFastColor: CMYK and spot colours stay as they are, RGB would go through profiles.
	managed bool
	// inRGB draws in RGB and turns each pixel into CMYK by ISO 32000-1, 10.3.4.
	inRGB bool
	// points are computed by hand from the standard, for what Ghostscript draws otherwise.
	points []point
	// cutsOff says that the shades of tiffsep are up to a level too light throughout: besides the points its pixels count, but not their sum.
	cutsOff bool
	// mixed is as cutsOff and points, where no spot colour has a plane.
	mixed []point
	// amiss are points that are known not to come out as the standard has them; the note tells of them.
	amiss []point
	// note is a part of what must be said to the person.
	note string
}

// point is what one pixel must have: cyan, magenta, yellow, black, and the first spot colour.
type point struct {
	x, y int
	ink  []int
}

var references = map[string]reference{
	"hand-overprint-process": {managed: true, why: "with fast colours Ghostscript 10.00 takes OPM 1 for OPM 0; 8.6.7"},
	"hand-overprint-spots":   {managed: true, why: "as hand-overprint-process, where no spot colour has a plane"},
	"qpdf-object-streams":    {managed: true, why: "hand-overprint-spots saved anew"},
	"hand-blend-rgb":         {inRGB: true, why: "a page group in DeviceRGB blends in RGB and becomes CMYK afterwards (11.4.7); Ghostscript 10.00 uses profiles for that, whatever it is told"},
	"rsvg-mist":              {inRGB: true, why: "a page group in DeviceRGB, as hand-blend-rgb"},
	"pdftocairo-tilings": {why: "tiffsep cuts off where it turns the RGB of a page group into CMYK, a level of the 39 to 65 of these tints; 10.3.4", cutsOff: true,
		points: []point{{60, 140, []int{0, 4, 3, 220}}, {90, 110, []int{39, 0, 37, 22}}, {230, 100, []int{0, 132, 34, 73}}, {30, 300, []int{49, 0, 45, 28}}, {280, 300, []int{65, 0, 56, 37}}}},
	"hand-layer-form-off": {why: "Ghostscript 10.00 draws a form whose OC is a group in OFF; 8.11.3.3",
		points: []point{{100, 200, []int{255, 0, 0, 0}}, {300, 200, []int{0, 204, 0, 0}}}},
	"hand-initial-colour": {why: "Ghostscript 10.00 keeps the tint when the same space is set again; 8.6.6.4: cs sets it to 1",
		points: []point{{100, 200, []int{0, 0, 0, 0, 102}}, {260, 200, []int{0, 0, 0, 0, 255}}}},
	"hand-fill-stroke-alpha": {why: "B is a knockout group of fill and stroke (11.7.4.4): an opaque stroke hides what lies under it; Ghostscript 10.00 mixes them",
		points: []point{{85, 200, []int{0, 255, 0, 0}}, {110, 200, []int{0, 255, 0, 0}}, {165, 200, []int{153, 0, 102, 0}}, {250, 200, []int{0, 0, 102, 0}}}},
	"hand-tilings-stroke-alpha": {why: "Ghostscript 10.00's tiffsep strokes the second line with a pattern as opaque as the first, its pamcmyk32 does not; CA of Table 58",
		points: []point{{60, 200, []int{153, 153, 0, 0}}, {90, 200, nil}, {160, 200, []int{51, 51, 0, 0}}, {300, 200, []int{0, 0, 153, 0}}}},
	"hand-layers-white": {why: "Ghostscript 10.00 knows nothing of layers marked as white: they lay down that plane alone, tints as they are, CMYK as dark as it is (10.3.5, 10.3.2)",
		points: []point{{75, 100, []int{255, 0, 0, 0, 255}}, {300, 137, []int{255, 0, 0, 0, 153}}, {62, 237, []int{0, 0, 0, 255, 0}}, {300, 300, []int{255, 0, 0, 0, 120}}}},
	"hand-softmasks": {why: "where the soft mask is a ramp, Ghostscript 10.00 cuts off, 6.8 to 6 and 95.5 to 95; and ours is up to a level too dark where it is flat, 16.3 to 17; 11.3.6, 11.6.5.3",
		mixed: []point{{26, 150, []int{7, 0, 7}}, {200, 150, []int{51, 0, 51}}, {374, 150, []int{95, 0, 95}}, {100, 340, []int{65, 0, 65}}, {200, 340, []int{16, 0, 16}}}},
	"hand-group-knockout-isolated": {why: "the renderer mixes the elements of a knockout group, 11.4.6, which a note says; the rest is right", note: "each should hide",
		points: []point{{50, 50, []int{0, 0, 255, 0}}, {100, 300, []int{153, 0, 102, 0}}, {200, 330, []int{153, 0, 0, 0}}, {300, 100, []int{0, 153, 0, 0}}},
		amiss:  []point{{160, 200, []int{0, 153, 102, 0}}, {220, 200, []int{0, 153, 0, 0}}}},
	"hand-group-knockout": {why: "as hand-group-knockout-isolated; moreover Ghostscript 10.00 forgets the initial backdrop of a knockout group that is not isolated", note: "each should hide",
		points: []point{{75, 300, []int{153, 0, 102, 0}}, {300, 100, []int{0, 153, 0, 0}}},
		amiss:  []point{{170, 200, []int{0, 153, 102, 0}}, {220, 200, []int{0, 153, 0, 0}}}},
}

// TestCorpusPlates compares the planes of every file of the corpus with those of an independent renderer. ISO 32000-1 is cited by clause; what
// Ghostscript does was tried with version 10.00.0.
func TestCorpusPlates(t *testing.T) {
	needGhostscript(t)
	files := corpus(t, "testdata/*.pdf", leastFiles)
	for name := range references {
		if !slices.Contains(files, filepath.Join("testdata", name+".pdf")) {
			t.Errorf("there is a reference for %q but no such file", name)
		}
	}
	for _, file := range files {
		name := strings.TrimSuffix(filepath.Base(file), ".pdf")
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			ref := references[name]
			ours := mustPlanes(t, file, nil)
			checkNotes(t, ours.notes, ref.note)
			for _, p := range ref.amiss {
				if differences(ours, p) == nil {
					t.Errorf("(%d,%d) has come right: take it for a point", p.x, p.y)
				}
			}
			switch {
			case ref.cutsOff:
				comparePoints(t, ours, ref.points)
				comparePlanes(t, ours, plates(t, file, ref.managed), false)
			case ref.points != nil:
				comparePoints(t, ours, ref.points)
			case ref.inRGB:
				comparePlanes(t, ours, inRGB(t, file), true)
			default:
				comparePlanes(t, ours, plates(t, file, ref.managed), true)
			}
		})
	}
}

// TestCorpusAlternates compares files with spot colours once more, this time with none that has a plane: all are mixed by their tint
// transforms.
func TestCorpusAlternates(t *testing.T) {
	needGhostscript(t)
	compared := 0
	for _, file := range corpus(t, "testdata/*.pdf", leastFiles) {
		name := strings.TrimSuffix(filepath.Base(file), ".pdf")
		ref := references[name]
		spots := mustPlanes(t, file, nil).spots
		if len(spots) == 0 || ref.points != nil {
			continue
		}
		compared++
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			ours := mustPlanes(t, file, []string{})
			alternates := slices.Clone(ours.alternates)
			slices.Sort(alternates)
			slices.Sort(spots)
			if !slices.Equal(alternates, spots) {
				t.Errorf("alternates %q, want %q", alternates, spots)
			}
			comparePoints(t, ours, ref.mixed)
			comparePlanes(t, ours, composite(t, file, ref.managed), ref.mixed == nil)
		})
	}
	if compared < 10 {
		t.Errorf("only %d files have spot colours", compared)
	}
}

// broken says what must come of a file that is broken: an error that has refused in it, or the points and a note, if something is assumed.
type broken struct {
	refused string
	note    string
	points  []point
}

// The pictures and rectangles of these files are of 0 0 0 1 k or full White, or of the samples that the file does have.
var bad = map[string]broken{
	"deep-nesting":             {refused: "saves its graphics state too often"},
	"devicen-64":               {refused: "64 spot colours"},
	"form-bomb":                {refused: "repeats them too often"},
	"form-of-itself":           {note: "draws itself", points: []point{{100, 300, []int{0, 0, 0, 0, 255}}, {80, 120, []int{0, 0, 255, 0, 0}}, {300, 100, []int{0, 0, 0, 255}}}},
	"function-of-itself":       {points: []point{{100, 300, []int{0, 0, 0, 0, 255}}}},
	"icc-damaged":              {note: "colour profile is damaged", points: []point{{100, 300, []int{0, 0, 0, 255}}}},
	"icc-wrong-count":          {refused: "colour profile does not say how many components"},
	"image-huge":               {refused: "1000000 x 1000000 points is too large"},
	"image-short":              {note: "ends before its last row", points: []point{{100, 227, []int{128, 128, 128, 128}}, {300, 100, nil}}},
	"image-softmask-of-itself": {note: "is its own mask", points: []point{{300, 100, nil}}},
	"image-wrong-components":   {refused: "3 components, where its colour space has 4"},
	"indexed-short-table":      {points: []point{{40, 240, []int{0, 255, 0, 255}}, {300, 100, nil}}},
	"operators-short":          {note: "lacks some of its numbers", points: []point{{100, 300, []int{0, 0, 0, 0, 255}}}},
	"pattern-of-itself":        {note: "draws itself", points: []point{{60, 338, []int{0, 0, 0, 255}}, {300, 100, nil}}},
	"shading-no-function":      {refused: "has no colours"},
	"softmask-of-itself":       {note: "soft mask refers to itself", points: []point{{300, 100, nil}}},
	"spot-damaged-transform":   {points: []point{{100, 300, []int{0, 0, 0, 0, 255}}}},
	"spot-looping-alternate":   {points: []point{{100, 300, []int{0, 0, 0, 0, 255}}}},
	"spot-no-transform":        {refused: "spot colour is incomplete"},
	"type3-of-itself":          {note: "draws itself", points: []point{{40, 360, []int{0, 0, 0, 255}}, {300, 100, nil}}},
}

// badWithoutPlanes says what must come of those whose spot colours have no plane, so that their broken mixture is asked for.
var badWithoutPlanes = map[string]broken{
	"function-of-itself":     {refused: "refers to itself"},
	"spot-damaged-transform": {refused: "not a valid program"},
	"spot-looping-alternate": {refused: "refers to itself"},
	"spot-no-transform":      {refused: "spot colour is incomplete"},
}

// TestCorpusBad wants files that are broken or hostile judged as far as possible, or refused in one line, and soon.
func TestCorpusBad(t *testing.T) {
	for _, file := range corpus(t, "testdata/bad/*.pdf", len(bad)) {
		name := strings.TrimSuffix(filepath.Base(file), ".pdf")
		t.Run(name, func(t *testing.T) {
			want, ok := bad[name]
			if !ok {
				t.Fatal("it is not said what must come of it")
			}
			checkBad(t, file, nil, want)
		})
		if want, ok := badWithoutPlanes[name]; ok {
			t.Run(name+"/mixed", func(t *testing.T) { checkBad(t, file, []string{}, want) })
		}
	}
}

func checkBad(t *testing.T, file string, spots []string, want broken) {
	t.Helper()
	const soon = time.Minute
	type result struct {
		p   *planes
		err error
	}
	done := make(chan result, 1)
	go func() {
		p, err := tryPlanes(file, spots)
		done <- result{p, err}
	}()
	var got result
	select {
	case got = <-done:
	case <-time.After(soon):
		t.Fatalf("nothing came of it in %v", soon)
	}
	switch {
	case want.refused == "" && got.err != nil:
		t.Errorf("refused: %v", got.err)
	case want.refused == "":
		comparePoints(t, got.p, want.points)
		checkNotes(t, got.p.notes, want.note)
	case got.err == nil:
		t.Errorf("judged, want it refused: %s", want.refused)
	default:
		checkRefusal(t, got.err, want.refused)
	}
}

// checkNotes wants one note that has a text in it, or none if that is empty.
func checkNotes(t *testing.T, notes []string, want string) {
	t.Helper()
	if want == "" && len(notes) > 0 || want != "" && (len(notes) != 1 || !strings.Contains(notes[0], want)) {
		t.Errorf("notes %q, want one that says %q", notes, want)
	}
}

func checkRefusal(t *testing.T, err error, want string) {
	t.Helper()
	message := err.Error()
	if !strings.Contains(message, want) || strings.ContainsAny(message, "\n\r") || len(message) > 200 {
		t.Errorf("error %q, want one line that says %q", message, want)
	}
	var fault *raster.Fault
	if !errors.As(err, &fault) || fault.Remedy == "" {
		t.Errorf("error %q does not say what to do", message)
	}
}

// corpus lists the files of a pattern; too few fail the test.
func corpus(t *testing.T, pattern string, least int) []string {
	t.Helper()
	files, err := filepath.Glob(pattern)
	if err != nil {
		t.Fatal(err)
	}
	if len(files) < least {
		t.Fatalf("%d files match %s, want at least %d", len(files), pattern, least)
	}
	return files
}

// planes are what each ink of a page lays down, 255 for full ink, by colorant.
type planes struct {
	of                       map[string]*image.Gray
	spots, alternates, notes []string
}

// tryPlanes are the planes of a file's first page; spots are those that have one, nil for all. A page of RGB and grey alone is not taken apart:
// its picture is turned into CMYK pixel by pixel.
func tryPlanes(file string, spots []string) (*planes, error) {
	data, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	d, err := pdfpage.Open(data, pdfpage.Options{})
	if err != nil {
		return nil, err
	}
	defer d.Close()
	s, err := d.Separations(1, oraclePPI, pdfpage.SeparationOptions{Spot: func(name string) bool { return spots == nil || slices.Contains(spots, name) }})
	if err != nil {
		return nil, err
	}
	if s == nil {
		page, err := d.Page(1, oraclePPI)
		if err != nil {
			return nil, err
		}
		return &planes{of: byFormula(onWhite(page.Pix))}, nil
	}
	out := &planes{of: map[string]*image.Gray{"Cyan": pixels(s.Cyan), "Magenta": pixels(s.Magenta), "Yellow": pixels(s.Yellow), "Black": pixels(s.Black)}, alternates: s.Alternates, notes: s.Notes}
	for _, spot := range s.Spots {
		out.of[spot.Name] = pixels(spot.Plane)
		out.spots = append(out.spots, spot.Name)
	}
	return out, nil
}

func mustPlanes(t *testing.T, file string, spots []string) *planes {
	t.Helper()
	p, err := tryPlanes(file, spots)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func onWhite(pix *image.NRGBA) image.Image {
	out := image.NewRGBA(pix.Rect)
	draw.Draw(out, out.Rect, image.White, image.Point{}, draw.Src)
	draw.Draw(out, out.Rect, pix, image.Point{}, draw.Over)
	return out
}

// processNames are the process colorants in the order of CMYK pixels.
var processNames = [4]string{"Cyan", "Magenta", "Yellow", "Black"}

func pixels(p *raster.Plane) *image.Gray {
	out := image.NewGray(image.Rect(0, 0, p.W, p.H))
	p.Read(out.Pix, out.Rect)
	return out
}

// comparePoints holds separations against pixels.
func comparePoints(t *testing.T, got *planes, points []point) {
	t.Helper()
	for _, p := range points {
		for _, d := range differences(got, p) {
			t.Error(d)
		}
	}
}

// differences tells of the inks that a pixel has otherwise; an ink that is not given is 0.
func differences(got *planes, p point) (out []string) {
	for i, name := range append(processNames[:], got.spots...) {
		want := 0
		if i < len(p.ink) {
			want = p.ink[i]
		}
		if v := int(got.of[name].GrayAt(p.x, p.y).Y); max(v-want, want-v) > mostLevels {
			out = append(out, fmt.Sprintf("%s at (%d,%d) is %d, want %d", name, p.x, p.y, v, want))
		}
	}
	return out
}

// comparePlanes holds separations against those of the oracle, 255 for full ink, by colorant; sums says whether their sums count.
func comparePlanes(t *testing.T, got *planes, want map[string]*image.Gray, sums bool) {
	t.Helper()
	for name := range got.of {
		if want[name] == nil {
			t.Errorf("there is a plane %q that the oracle has not", name)
		}
	}
	table := new(strings.Builder)
	tab := tabwriter.NewWriter(table, 0, 0, 2, ' ', tabwriter.AlignRight)
	for _, name := range sortedNames(want) {
		if got.of[name] == nil {
			t.Errorf("there is no plane %q", name)
			continue
		}
		c, err := compare(got.of[name], want[name])
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		fmt.Fprintf(tab, "%s\t%.3f %%\t%.3f %%\t%s\t\n", name, 100*c.areaError, 100*c.within, c.verdict(sums))
		if c.verdict(sums) != "" {
			t.Errorf("%s: area %+.3f %%, %.3f %% within %d levels; first other pixel (%d,%d) is %d, want %d",
				name, 100*c.areaError, 100*c.within, mostLevels, c.first.X, c.first.Y, c.got, c.want)
		}
	}
	tab.Flush()
	t.Logf("plane, area error, share within %d levels\n%s", mostLevels, table)
}

func sortedNames(planes map[string]*image.Gray) []string {
	var names []string
	for name := range planes {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// comparison is how near a plane comes to the one wanted: the error of the sum of its ink as a share of that, and the share of pixels within
// mostLevels, with the first other one.
type comparison struct {
	areaError, within float64
	first             image.Point
	got, want         uint8
}

func (c comparison) verdict(sums bool) string {
	if sums && (c.areaError > mostAreaError || c.areaError < -mostAreaError) || c.within < leastWithin {
		return "too far"
	}
	return ""
}

func compare(got, want *image.Gray) (comparison, error) {
	if got.Rect.Size() != want.Rect.Size() {
		return comparison{}, fmt.Errorf("it is %v, want %v", got.Rect.Size(), want.Rect.Size())
	}
	var c comparison
	var gotSum, wantSum, within, others int
	for y := range got.Rect.Dy() {
		for x := range got.Rect.Dx() {
			a, b := got.GrayAt(x, y).Y, want.GrayAt(x, y).Y
			gotSum += int(a)
			wantSum += int(b)
			if max(a, b)-min(a, b) <= mostLevels {
				within++
			} else if others++; others == 1 {
				c.first, c.got, c.want = image.Pt(x, y), a, b
			}
		}
	}
	c.areaError = float64(gotSum-wantSum) / float64(max(wantSum, 1))
	c.within = float64(within) / float64(max(len(got.Pix), 1))
	return c, nil
}

func needGhostscript(t *testing.T) {
	t.Helper()
	if _, err := exec.LookPath("gs"); err != nil {
		t.Fatal("ghostscript is missing: apt-get install ghostscript")
	}
}

// ghostscript draws a file with a device into a new folder and gives that. Black is generated and undercolour removed wholly, and coverage is
// what each pixel has in 4 x 4 samples: by its own rule a shape covers all pixels that it touches, which makes every edge fatter.
func ghostscript(t *testing.T, file, device string, managed bool) string {
	t.Helper()
	dir := t.TempDir()
	args := []string{"-q", "-dNOPAUSE", "-dBATCH", "-dSAFER", "-dUseCropBox", "-dTextAlphaBits=4", "-dGraphicsAlphaBits=4",
		fmt.Sprintf("-r%d", oraclePPI), "-sDEVICE=" + device, "-sOutputFile=" + filepath.Join(dir, "p.tif")}
	if !managed {
		args = append(args, "-dUseFastColor=true")
	}
	args = append(args, "-c", "{} setblackgeneration {} setundercolorremoval 0 0 .setfilladjust2", "-f", file)
	if out, err := exec.Command("gs", args...).CombinedOutput(); err != nil || len(out) > 0 {
		t.Fatalf("gs: %v\n%s", err, out)
	}
	return dir
}

// plates are the separations by Ghostscript's tiffsep.
func plates(t *testing.T, file string, managed bool) map[string]*image.Gray {
	t.Helper()
	dir := ghostscript(t, file, "tiffsep", managed)
	names, err := filepath.Glob(filepath.Join(dir, "p(*).tif"))
	if err != nil || len(names) < len(processNames) {
		t.Fatalf("tiffsep wrote %d plates: %v", len(names), err)
	}
	out := map[string]*image.Gray{}
	for _, name := range names {
		gray, ok := readTIFF(t, name).(*image.Gray)
		if !ok {
			t.Fatalf("%s is not grey", name)
		}
		for i, v := range gray.Pix {
			gray.Pix[i] = 255 - v
		}
		out[strings.TrimSuffix(strings.TrimPrefix(filepath.Base(name), "p("), ").tif")] = gray
	}
	return out
}

// composite has four planes, spot colours mixed in.
func composite(t *testing.T, file string, managed bool) map[string]*image.Gray {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(ghostscript(t, file, "pamcmyk32", managed), "p.tif"))
	if err != nil {
		t.Fatal(err)
	}
	head, pix, found := bytes.Cut(data, []byte("ENDHDR\n"))
	var w, h int
	_, err = fmt.Sscanf(string(head), "P7\nWIDTH %d\nHEIGHT %d\nDEPTH 4\nMAXVAL 255\n", &w, &h)
	if err != nil || !found || len(pix) != 4*w*h {
		t.Fatalf("pamcmyk32 wrote %d bytes of a head %q: %v", len(pix), head, err)
	}
	return planesOf(&image.CMYK{Pix: pix, Stride: 4 * w, Rect: image.Rect(0, 0, w, h)})
}

// inRGB has the four planes of a page drawn in RGB.
func inRGB(t *testing.T, file string) map[string]*image.Gray {
	t.Helper()
	return byFormula(readTIFF(t, filepath.Join(ghostscript(t, file, "tiff24nc", false), "p.tif")))
}

// byFormula turns a picture into planes by c = 1-r, m = 1-g, y = 1-b, k = min(c, m, y), taken off wholly (10.3.4).
func byFormula(picture image.Image) map[string]*image.Gray {
	out := image.NewCMYK(picture.Bounds())
	for y := range out.Rect.Dy() {
		for x := range out.Rect.Dx() {
			r, g, b, _ := picture.At(x, y).RGBA()
			k := 255 - uint8(max(r, g, b)>>8)
			copy(out.Pix[out.PixOffset(x, y):], []uint8{255 - uint8(r>>8) - k, 255 - uint8(g>>8) - k, 255 - uint8(b>>8) - k, k})
		}
	}
	return planesOf(out)
}

func planesOf(picture *image.CMYK) map[string]*image.Gray {
	out := map[string]*image.Gray{}
	for i, name := range processNames {
		plane := image.NewGray(picture.Rect)
		for at := range plane.Pix {
			plane.Pix[at] = picture.Pix[4*at+i]
		}
		out[name] = plane
	}
	return out
}

func readTIFF(t *testing.T, name string) image.Image {
	t.Helper()
	file, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	picture, err := tiff.Decode(file)
	if err != nil {
		t.Fatalf("%s: %v", filepath.Base(name), err)
	}
	return picture
}
