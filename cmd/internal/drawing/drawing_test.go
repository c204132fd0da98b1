package drawing

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"regexp"
	"strconv"
	"testing"

	"golang.org/x/image/font/gofont/gobold"
)

var ink = color.NRGBA{A: 255}

// areaOf is the area that the path covers on a canvas, in square millimetres.
func areaOf(p Path) float64 {
	c := New(60, 60, 300)
	m := c.Mask(p)
	sum := 0.0
	for y := m.Rect.Min.Y; y < m.Rect.Max.Y; y++ {
		for x := m.Rect.Min.X; x < m.Rect.Max.X; x++ {
			sum += float64(m.AlphaAt(x, y).A) / 255
		}
	}
	return sum * 25.4 * 25.4 / (300 * 300)
}

// TestAreas compares covered areas with plane geometry.
func TestAreas(t *testing.T) {
	const w = 1.4
	h := w / 2
	tests := []struct {
		name   string
		path   Path
		wantMM float64
	}{
		{"rectangle", Rect(3.03, 4.07, 20.2, 10.9), 20.2 * 10.9},
		{"circle", Circle(30.1, 29.7, 12), math.Pi * 144},
		{"circle with a hole", Join(Circle(30, 30, 12), Circle(29, 31, 5).Hole()), math.Pi * (144 - 25)},
		// The lens that two circles of radius r at distance r share is r^2 (2 pi / 3 - sqrt 3 / 2).
		{"two circles unite", Join(Circle(20, 30, 8), Circle(28, 30, 8)), 64 * (2*math.Pi - (2*math.Pi/3 - math.Sqrt(3)/2))},
		{"mirrored circle unites", Join(Circle(28, 30, 8), Circle(-20, 30, 8).Transform(-1, 1, 0, 0, 0)), 64 * (2*math.Pi - (2*math.Pi/3 - math.Sqrt(3)/2))},
		{"ellipse", Ellipse(30, 30, 14, 6), math.Pi * 14 * 6},
		{"rounded rectangle", RoundRect(10, 10, 30, 20, 4), 600 - (4-math.Pi)*16},
		{"straight stroke", Straight(Point{5, 5}, Point{45, 35}).Stroke(w), 50*w + math.Pi*h*h},
		{"hairline stroke", Straight(Point{5, 5}, Point{45, 35}).Stroke(0.12), 50*0.12 + math.Pi*0.06*0.06},
		// Two arms of 20, round ends, a quarter disc outside the corner, a square counted twice inside it.
		{"right angle to the right", Straight(Point{10, 10}, Point{30, 10}, Point{30, 30}).Stroke(w), 40*w + math.Pi*h*h*1.25 - h*h},
		{"right angle to the left", Straight(Point{10, 30}, Point{30, 30}, Point{30, 10}).Stroke(w), 40*w + math.Pi*h*h*1.25 - h*h},
		{"ring", Ring(30, 30, 15).Stroke(w), 2 * math.Pi * 15 * w},
		{"half ring", Arc(30, 30, 15, 180, 360).Stroke(w), math.Pi*15*w + math.Pi*h*h},
		{"off the canvas to the left", Rect(-5, 10, 15, 10), 100},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := areaOf(tt.path); math.Abs(got-tt.wantMM) > 0.004*tt.wantMM {
				t.Errorf("covers %.4f mm2, want %.4f", got, tt.wantMM)
			}
		})
	}
}

func TestBounds(t *testing.T) {
	got := Circle(10, 20, 5).Bounds()
	for i, d := range []float64{got.X - 5, got.Y - 15, got.W - 10, got.H - 10} {
		if math.Abs(d) > 0.01 {
			t.Errorf("bounds %+v, number %d is off by %g mm", got, i, d)
		}
	}
	if got := (Path{}).Bounds(); got != (Box{}) {
		t.Errorf("bounds of nothing are %+v", got)
	}
}

// TestGrown checks that growing a disc by d gives the disc of radius r+d.
func TestGrown(t *testing.T) {
	c := New(60, 60, 300)
	got := c.BoxOf(c.Grown(Circle(30, 30, 10), 2.5), 128)
	if math.Abs(got.W-25) > 0.1 || math.Abs(got.X-17.5) > 0.1 {
		t.Errorf("grown disc lies in %+v, want 25 mm wide from 17.5", got)
	}
}

// TestOver checks the compositing of straight alpha by Porter and Duff, Compositing Digital Images (1984), operator over.
func TestOver(t *testing.T) {
	tests := []struct {
		below, col color.NRGBA
		a          float64
		want       color.NRGBA
	}{
		{color.NRGBA{}, color.NRGBA{10, 20, 30, 255}, 0.5, color.NRGBA{10, 20, 30, 128}},
		{color.NRGBA{200, 100, 0, 255}, color.NRGBA{0, 0, 0, 255}, 0.25, color.NRGBA{150, 75, 0, 255}},
		{color.NRGBA{200, 100, 0, 255}, color.NRGBA{1, 2, 3, 255}, 1, color.NRGBA{1, 2, 3, 255}},
		// 0.5 over an alpha of 0.4: alpha 0.7, colour (0.5*100 + 0.2*200)/0.7.
		{color.NRGBA{200, 200, 200, 102}, color.NRGBA{100, 100, 100, 255}, 0.5, color.NRGBA{129, 129, 129, 179}},
	}
	for _, tt := range tests {
		p := []uint8{tt.below.R, tt.below.G, tt.below.B, tt.below.A}
		over(p, tt.col, tt.a)
		if got := (color.NRGBA{p[0], p[1], p[2], p[3]}); got != tt.want {
			t.Errorf("%v at %g over %v gives %v, want %v", tt.col, tt.a, tt.below, got, tt.want)
		}
	}
}

func TestEraseAndMasks(t *testing.T) {
	c := New(20, 20, 254)
	c.Ground(ink)
	c.Erase(Without(c.Mask(Rect(0, 0, 10, 20)), c.Mask(Rect(5, 0, 15, 20))))
	if got := c.Drawn(); math.Abs(got.X-5) > 1e-9 || math.Abs(got.W-15) > 1e-9 {
		t.Errorf("what is left lies in %+v, want from 5 mm, 15 mm wide", got)
	}
	if got := c.BoxOf(Both(c.Mask(Rect(2, 2, 8, 8)), c.Mask(Rect(5, 5, 9, 9))), 128); got != (Box{5, 5, 5, 5}) {
		t.Errorf("what two squares share is %+v", got)
	}
}

func TestBlurredKeepsTheMiddle(t *testing.T) {
	c := New(40, 40, 100)
	m := c.Mask(Rect(15, 15, 10, 10))
	b := c.Blurred(m, 1)
	var sum, sx, before float64
	for y := b.Rect.Min.Y; y < b.Rect.Max.Y; y++ {
		for x := b.Rect.Min.X; x < b.Rect.Max.X; x++ {
			v := float64(b.AlphaAt(x, y).A)
			sum, sx, before = sum+v, sx+v*(float64(x)+0.5)*0.254, before+float64(m.AlphaAt(x, y).A)
		}
	}
	if math.Abs(sum/before-1) > 0.01 || math.Abs(sx/sum-20) > 0.02 {
		t.Errorf("blurring keeps %.3f of the ink with its middle at %.3f mm, want 1 and 20", sum/before, sx/sum)
	}
	if b.Rect.Dx() <= m.Rect.Dx() {
		t.Error("blurring spreads nothing")
	}
}

func TestText(t *testing.T) {
	f, err := ParseFont(gobold.TTF)
	if err != nil {
		t.Fatal(err)
	}
	if got := f.Text("H", 12, 0).Bounds(); math.Abs(got.H-12) > 0.001 || math.Abs(got.Y+12) > 0.001 {
		t.Errorf("H of 12 mm lies in %+v", got)
	}
	if got := f.TextFitted("Walk", 70, 0.1, 50, 40).Bounds(); math.Abs(got.W-70) > 0.001 || math.Abs(got.X-15) > 0.001 {
		t.Errorf("text fitted to 70 mm about 50 lies in %+v", got)
	}
	top := f.TextOnArc("HIH", 5, 1, 50, 50, 30, -90, false).Bounds()
	foot := f.TextOnArc("HIH", 5, 1, 50, 50, 30, 90, true).Bounds()
	if math.Abs(top.Y-15) > 0.3 || math.Abs(foot.Y+foot.H-80) > 0.3 {
		t.Errorf("text on a circle of 30 mm about (50,50) reaches up to %g and down to %g, want 15 and 80", top.Y, foot.Y+foot.H)
	}
	if _, err := ParseFont([]byte("no font")); err == nil {
		t.Error("garbage parses as a font")
	}
}

// TestPNGResolution: 300 and 600 ppi are 11811 and 23622 pixels a metre (one inch is 0.0254 m).
func TestPNGResolution(t *testing.T) {
	for ppi, want := range map[float64]uint32{300: 11811, 600: 23622, 0: 0} {
		var buf bytes.Buffer
		if err := WritePNG(&buf, image.NewNRGBA(image.Rect(0, 0, 3, 2)), ppi); err != nil {
			t.Fatal(err)
		}
		data := buf.Bytes()
		at := bytes.Index(data, []byte("pHYs"))
		if ppi == 0 {
			if at >= 0 {
				t.Error("ppi 0 still writes a pHYs chunk")
			}
			continue
		}
		if at < 0 || at > bytes.Index(data, []byte("IDAT")) {
			t.Fatalf("pHYs is at %d, must come before IDAT", at)
		}
		x, y, unit := binary.BigEndian.Uint32(data[at+4:]), binary.BigEndian.Uint32(data[at+8:]), data[at+12]
		if x != want || y != want || unit != 1 {
			t.Errorf("%g ppi: pHYs says %d x %d, unit %d; want %d, unit 1", ppi, x, y, unit, want)
		}
		if _, err := png.Decode(&buf); err != nil {
			t.Errorf("%g ppi: %v", ppi, err)
		}
	}
}

// TestJPEGResolution reads the fields of APP0 at their places in ITU-T T.871, 10.1.
func TestJPEGResolution(t *testing.T) {
	var buf bytes.Buffer
	if err := WriteJPEG(&buf, image.NewGray(image.Rect(0, 0, 9, 9)), 80, 60); err != nil {
		t.Fatal(err)
	}
	want := []byte{0xff, 0xd8, 0xff, 0xe0, 0, 16, 'J', 'F', 'I', 'F', 0, 1, 2, 1, 0, 60, 0, 60, 0, 0}
	if got := buf.Bytes()[:len(want)]; !bytes.Equal(got, want) {
		t.Errorf("file begins % x, want % x", got, want)
	}
	if _, err := jpeg.Decode(&buf); err != nil {
		t.Error(err)
	}
}

// TestPDFStructure follows startxref to the table and the table to every object (ISO 32000-1, 7.5.4 and 7.5.5).
func TestPDFStructure(t *testing.T) {
	one, two := NewPDFPage(200, 100), NewPDFPage(72, 25.4)
	one.Fill(Circle(50, 50, 10), CMYK{0, 0, 0, 1})
	two.Stroke(Straight(Point{0, 0}, Point{25.4, 25.4}), 0.25, CMYK{0, 0.2, 1, 0})
	var buf bytes.Buffer
	if err := WritePDF(&buf, one, two); err != nil {
		t.Fatal(err)
	}
	data := buf.Bytes()
	start := regexp.MustCompile(`startxref\n(\d+)\n%%EOF\n$`).FindSubmatch(data)
	if start == nil {
		t.Fatal("no startxref at the end")
	}
	at, _ := strconv.Atoi(string(start[1]))
	if !bytes.HasPrefix(data[at:], []byte("xref\n0 7\n0000000000 65535 f \n")) {
		t.Fatalf("startxref leads to %q", data[at:at+30])
	}
	entries := regexp.MustCompile(`(\d{10}) 00000 n \n`).FindAllSubmatch(data[at:], -1)
	if len(entries) != 6 {
		t.Fatalf("%d objects in the table, want 6", len(entries))
	}
	for i, e := range entries {
		offset, _ := strconv.Atoi(string(e[1]))
		if want := fmt.Sprintf("%d 0 obj\n", i+1); !bytes.HasPrefix(data[offset:], []byte(want)) {
			t.Errorf("object %d: the table leads to %q", i+1, data[offset:offset+10])
		}
	}
	for _, m := range regexp.MustCompile(`(?s)/Length (\d+) >>\nstream\n(.*?)endstream`).FindAllSubmatch(data, -1) {
		if n, _ := strconv.Atoi(string(m[1])); n != len(m[2]) {
			t.Errorf("a stream of %d bytes says %d", len(m[2]), n)
		}
	}
	// 25.4 mm are 72 points; y grows upwards in a PDF.
	if want := []byte("0 0.2 1 0 K\n0.25 w 1 J 1 j\n0 72 m\n72 0 l\nS\n"); !bytes.Contains(data, want) {
		t.Errorf("the second page does not hold %q", want)
	}
}

// TestPDFSpot: an ink with a name is a Separation space of the page (ISO 32000-1, 8.6.6.4), told once and used by name; a blank in
// a name goes in as #20 (7.3.5).
func TestPDFSpot(t *testing.T) {
	page := NewPDFPage(50, 50)
	for x := range 2 {
		page.FillSpot(Circle(10+20*float64(x), 20, 5), "Pale Glow", CMYK{0.1, 0, 0.9, 0})
	}
	page.FillSpot(Circle(20, 40, 5), "Varnish", CMYK{0, 0, 0, 0.2})
	var buf bytes.Buffer
	if err := WritePDF(&buf, page); err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string]int{
		"/Spot0 [/Separation /Pale#20Glow /DeviceCMYK << /FunctionType 2 /Domain [0 1] /C0 [0 0 0 0] /C1 [0.1 0 0.9 0] /N 1 >>]": 1,
		"/Separation": 2, "/Spot0 cs 1 scn\n": 2, "/Spot1 cs 1 scn\n": 1,
	} {
		if n := bytes.Count(buf.Bytes(), []byte(text)); n != want {
			t.Errorf("%q is there %d times, want %d", text, n, want)
		}
	}
}
