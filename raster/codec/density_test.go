package codec

import (
	"bytes"
	"image"
	"math"
	"path/filepath"
	"testing"
)

func physBody(x, y uint32, unit byte) []byte {
	return append(be.AppendUint32(be.AppendUint32(nil, x), y), unit)
}

func near(got, want float64) bool { return math.Abs(got-want) <= 1e-9*want }

func checkDensity(t *testing.T, data []byte, x, y float64, from string) {
	t.Helper()
	p := mustPage(t, data)
	if !near(p.PPIX, x) || !near(p.PPIY, y) || p.PPIFrom != from {
		t.Errorf("got %v x %v from %q, want %v x %v from %q", p.PPIX, p.PPIY, p.PPIFrom, x, y, from)
	}
}

// Pixels per metre as writers round them (PNG, third edition, 11.3.4.3; 1 inch = 0.0254 m); 2834 and 3779 are cut off
// instead, as some writers do.
func TestPHYs(t *testing.T) {
	file := encodePNG(t, painted(4, 3, false))
	perMetre := map[uint32]float64{
		2835: 72, 3780: 96, 5906: 150, 7874: 200, 9449: 240, 10000: 254, 11811: 300, 14173: 360, 23622: 600, 28346: 720,
		47244: 1200, 2834: 72, 3779: 96,
	}
	for v, ppi := range perMetre {
		p := mustPage(t, withChunk(file, "pHYs", physBody(v, v, 1)))
		if math.Abs(p.PPIX-ppi) > 0.03 || p.PPIX != p.PPIY || p.PPIFrom != "pHYs" {
			t.Errorf("%d a metre: got %v x %v from %q, want %v", v, p.PPIX, p.PPIY, p.PPIFrom, ppi)
		}
	}
	p := mustPage(t, withChunk(file, "pHYs", physBody(11811, 11811, 1)))
	if math.Abs(p.PPIX-299.9994) > 1e-9 {
		t.Errorf("11811 a metre is %v, want 299.9994", p.PPIX)
	}
	checkDensity(t, withChunk(file, "pHYs", physBody(11811, 23622, 1)), 299.9994, 599.9988, "pHYs")
}

func TestPNGDensityUnknown(t *testing.T) {
	file := encodePNG(t, painted(4, 3, false))
	for name, body := range map[string][]byte{
		"shape only": physBody(11811, 11811, 0), "zero": physBody(0, 0, 1), "one zero": physBody(11811, 0, 1),
		"one": physBody(1, 1, 1), "absurd": physBody(4e9, 4e9, 1), "unknown unit": physBody(11811, 11811, 2),
		"short": physBody(11811, 11811, 1)[:8],
	} {
		t.Run(name, func(t *testing.T) { checkDensity(t, withChunk(file, "pHYs", body), 0, 0, "") })
	}
	t.Run("none", func(t *testing.T) { checkDensity(t, file, 0, 0, "") })
}

func TestPNGDensityFromEXIF(t *testing.T) {
	block := tiffBytes(le, nil, rational(tagXResolution, 150, 1), rational(tagYResolution, 150, 1))
	file := withChunk(encodePNG(t, painted(4, 3, false)), "eXIf", block)
	checkDensity(t, file, 150, 150, "EXIF")
	checkDensity(t, withChunk(file, "pHYs", physBody(10000, 10000, 1)), 254, 254, "pHYs")
}

// Pictures of the Go source tree, their tags read by hand.
func TestDensityOfGoTree(t *testing.T) {
	tree := goTree(t)
	for _, tt := range []struct {
		file string
		ppi  float64
		from string
	}{
		{"testdata/video-001.221212.png", 0, ""}, // 72 with unit 0
		{"testdata/video-005.gray.png", 0, ""},   // 100 with unit 0
		{"png/testdata/benchGray.png", 2835 * 0.0254, "pHYs"},
		{"png/testdata/pngsuite/basn3p04-31i.png", 2835 * 0.0254, "pHYs"},
		{"testdata/video-001.jpeg", 72, "JFIF"},
		{"testdata/video-001.progressive.jpeg", 28 * 2.54, "JFIF"},
		{"testdata/video-001.221212.jpeg", 0, ""}, // 1:1 with unit 0
		{"testdata/video-001.rgb.jpeg", 0, ""},    // no JFIF
	} {
		t.Run(filepath.Base(tt.file), func(t *testing.T) {
			checkDensity(t, load(t, tree, filepath.FromSlash(tt.file)), tt.ppi, tt.ppi, tt.from)
		})
	}
}

// Units by ITU-T T.871, 10.1, and by EXIF 2.3, tags 282, 283 and 296.
func TestJPEGDensity(t *testing.T) {
	file := encodeJPEG(t, painted(16, 8, false))
	res := func(over, under uint32, unit ...field) []byte {
		return exif(append([]field{rational(tagXResolution, over, under), rational(tagYResolution, over, under)}, unit...)...)
	}
	for _, tt := range []struct {
		name     string
		segments [][]byte
		x, y     float64
		from     string
	}{
		{"none", nil, 0, 0, ""},
		{"per inch", [][]byte{jfif(1, 300, 600)}, 300, 600, "JFIF"},
		{"per centimetre", [][]byte{jfif(2, 118, 118)}, 299.72, 299.72, "JFIF"},
		{"shape only", [][]byte{jfif(0, 300, 300)}, 0, 0, ""},
		{"1 x 1 per inch", [][]byte{jfif(1, 1, 1)}, 0, 0, ""},
		{"1 x 1 per centimetre", [][]byte{jfif(2, 1, 1)}, 0, 0, ""},
		{"zero", [][]byte{jfif(1, 0, 0)}, 0, 0, ""},
		{"EXIF, unit left out", [][]byte{res(3000000, 10000)}, 300, 300, "EXIF"},
		{"EXIF per inch", [][]byte{res(72, 1, short(tagResolutionUnit, 2))}, 72, 72, "EXIF"},
		{"EXIF per centimetre", [][]byte{res(118, 1, short(tagResolutionUnit, 3))}, 299.72, 299.72, "EXIF"},
		{"EXIF without unit", [][]byte{res(300, 1, short(tagResolutionUnit, 1))}, 0, 0, ""},
		{"EXIF over zero", [][]byte{res(300, 0)}, 0, 0, ""},
		{"both, JFIF has a unit", [][]byte{jfif(1, 150, 150), res(300, 1)}, 150, 150, "JFIF"},
		{"both, JFIF has none", [][]byte{jfif(0, 1, 1), res(300, 1)}, 300, 300, "EXIF"},
		{"both, JFIF is a placeholder", [][]byte{jfif(1, 1, 1), res(300, 1)}, 300, 300, "EXIF"},
		{"after a fill byte and a comment", [][]byte{segment(0xfe, []byte("lantern")), {0xff}, jfif(1, 300, 300)}, 300, 300, "JFIF"},
		{"too short", [][]byte{segment(0xe0, []byte("JFIF\x00\x01\x02"))}, 0, 0, ""},
		{"EXIF cut off", [][]byte{segment(0xe1, []byte("Exif\x00\x00MM\x00*\x00"))}, 0, 0, ""},
		{"both, EXIF first", [][]byte{res(300, 1), jfif(1, 150, 150)}, 150, 150, "JFIF"},
	} {
		t.Run(tt.name, func(t *testing.T) { checkDensity(t, withSegments(file, tt.segments...), tt.x, tt.y, tt.from) })
	}
}

// TIFF 6.0, section 8, XResolution, YResolution and ResolutionUnit.
func TestTIFFDensity(t *testing.T) {
	for _, tt := range []struct {
		name   string
		fields []field
		x, y   float64
		from   string
	}{
		{"none", nil, 0, 0, ""},
		{"inch", []field{rational(282, 3000000, 10000), rational(283, 600, 1), short(296, 2)}, 300, 600, "TIFF tags"},
		{"inch by default", []field{rational(282, 300, 1), rational(283, 300, 1)}, 300, 300, "TIFF tags"},
		{"centimetre", []field{rational(282, 118, 1), rational(283, 118, 1), short(296, 3)}, 299.72, 299.72, "TIFF tags"},
		{"no unit", []field{rational(282, 300, 1), rational(283, 300, 1), short(296, 1)}, 0, 0, ""},
		{"1 x 1", []field{rational(282, 1, 1), rational(283, 1, 1), short(296, 2)}, 0, 0, ""},
		{"only one way", []field{rational(282, 300, 1)}, 0, 0, ""},
	} {
		for name, order := range map[string]appendOrder{"little": le, "big": be} {
			t.Run(tt.name+", "+name+"-endian", func(t *testing.T) {
				checkDensity(t, greyTIFF(order, 3, 2, []byte{1, 2, 3, 4, 5, 6}, 1, tt.fields...), tt.x, tt.y, tt.from)
			})
		}
	}
}

func TestBMPDensity(t *testing.T) {
	file := load(t, imageModule(t), "testdata", "video-001.bmp")
	set := func(perMetre uint32) []byte {
		data := bytes.Clone(file)
		le.PutUint32(data[38:], perMetre)
		le.PutUint32(data[42:], perMetre)
		return data
	}
	checkDensity(t, set(11811), 299.9994, 299.9994, "BMP header")
	checkDensity(t, set(0), 0, 0, "")
}

func TestWebPDensity(t *testing.T) {
	block := tiffBytes(le, nil, short(tagOrientation, 6), rational(282, 300, 1), rational(283, 150, 1))
	file := load(t, imageModule(t), "testdata", "blue-purple-pink.lossless.webp")
	for name, body := range map[string][]byte{"bare": block, "marked": append([]byte("Exif\x00\x00"), block...)} {
		t.Run(name, func(t *testing.T) {
			data := append(bytes.Clone(file), "EXIF"...)
			data = append(le.AppendUint32(data, uint32(len(body))), body...)
			le.PutUint32(data[4:], uint32(len(data)-8))
			checkDensity(t, data, 150, 300, "EXIF")
			if got, want := mustPage(t, data).Pix, orient(mustPage(t, file).Pix, 6); difference(got, want) != "" {
				t.Error(difference(got, want))
			}
		})
	}
}

// How a picture stored as [[1 2 3] [4 5 6]] is to be shown (EXIF 2.3, tag 274; one public implementation gave the same
// eight pictures).
var shown = map[int][][]byte{
	1: {{1, 2, 3}, {4, 5, 6}},
	2: {{3, 2, 1}, {6, 5, 4}},
	3: {{6, 5, 4}, {3, 2, 1}},
	4: {{4, 5, 6}, {1, 2, 3}},
	5: {{1, 4}, {2, 5}, {3, 6}},
	6: {{4, 1}, {5, 2}, {6, 3}},
	7: {{6, 3}, {5, 2}, {4, 1}},
	8: {{3, 6}, {2, 5}, {1, 4}},
}

func TestOrientation(t *testing.T) {
	blocks := image.NewGray(image.Rect(0, 0, 24, 16))
	for i := range blocks.Pix {
		blocks.Pix[i] = uint8(40 * (1 + i%24/8 + 3*(i/24/8)))
	}
	photo := encodeJPEG(t, blocks)
	for o, want := range shown {
		x, y := 300.0, 600.0
		if o >= 5 {
			x, y = y, x
		}
		fields := []field{rational(282, 300, 1), rational(283, 600, 1)}

		data := greyTIFF(le, 3, 2, []byte{1, 2, 3, 4, 5, 6}, uint32(o), fields...)
		checkDensity(t, data, x, y, "TIFF tags")
		checkShown(t, o, mustPage(t, data).Pix, want, 1, 1, 0)

		data = withSegments(photo, exif(append([]field{short(tagOrientation, uint32(o))}, fields...)...))
		checkDensity(t, data, x, y, "EXIF")
		checkShown(t, o, mustPage(t, data).Pix, want, 8, 40, 2)
		if notes := mustPage(t, data).Notes; (len(notes) == 1) != (o > 1) {
			t.Errorf("orientation %d: notes %q", o, notes)
		}
	}
}

// checkShown looks at one pixel in each square of side pixels, whose grey is to be a multiple of step, give or take off.
func checkShown(t *testing.T, orientation int, p *image.NRGBA, want [][]byte, side, step, off int) {
	t.Helper()
	if size := image.Pt(len(want[0])*side, len(want)*side); p.Rect.Size() != size {
		t.Fatalf("orientation %d: size %v, want %v", orientation, p.Rect.Size(), size)
	}
	for y := range want {
		for x := range want[y] {
			got := int(p.NRGBAAt(x*side+side/2, y*side+side/2).R)
			if d := got - int(want[y][x])*step; d < -off || d > off {
				t.Errorf("orientation %d at (%d,%d): %d, want %d", orientation, x, y, got, int(want[y][x])*step)
			}
		}
	}
}

func TestOrientationOutOfRange(t *testing.T) {
	for _, o := range []uint32{0, 9, 65535} {
		p := mustPage(t, greyTIFF(be, 3, 2, []byte{1, 2, 3, 4, 5, 6}, o))
		checkShown(t, int(o), p.Pix, shown[1], 1, 1, 0)
	}
}

// Whatever a directory points to outside the data counts as absent.
func TestDirectoryPointsOutside(t *testing.T) {
	block := tiffBytes(le, nil, short(tagBitsPerSample, 8, 8, 8), rational(tagXResolution, 300, 1))
	whole, ok := parseTIFF(block)
	if !ok || whole.uint(tagBitsPerSample, 1) != 8 || whole.rational(tagXResolution) != 300 {
		t.Fatalf("whole: %v, %d bits, %v", ok, whole.uint(tagBitsPerSample, 1), whole.rational(tagXResolution))
	}
	const valuesAt = 8 + 2 + 2*entryBytes + 4
	cut, ok := parseTIFF(block[:valuesAt])
	if !ok || cut.uint(tagBitsPerSample, 1) != 1 || cut.rational(tagXResolution) != 0 {
		t.Errorf("cut: %v, %d bits, %v", ok, cut.uint(tagBitsPerSample, 1), cut.rational(tagXResolution))
	}
	le.PutUint32(block[4:], uint32(len(block)))
	if _, ok := parseTIFF(block); ok {
		t.Error("a directory beyond the end was read")
	}
}
