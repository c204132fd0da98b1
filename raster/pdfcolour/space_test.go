package pdfcolour

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster"
)

var cmykWhite = Planes{"Cyan", "Magenta", "Yellow", "Black", "White"}

// object parses an object as it stands in a file.
func object(t testing.TB, text string) types.Object {
	t.Helper()
	o, err := model.ParseObject(&text)
	if err != nil {
		t.Fatalf("%s: %v", text, err)
	}
	return o
}

func shares(s Space, c ...float64) []float64 { return s.Paint(c).Share }

func closeTo(got, want []float64, by float64) bool {
	return slices.EqualFunc(got, want, func(a, b float64) bool { return near(a, b, by) })
}

// Worked values of ISO 32000-1, 10.3.4; the first colour is the clause's own example, the rest is its formula worked by hand and seen to
// agree with Ghostscript 10 (tiffsep, fast colour) to 1 level in 255.
func TestRGB(t *testing.T) {
	zero := func(float64) float64 { return 0 }
	half := func(k float64) float64 { return k / 2 }
	curves := []Curves{{}, {UCR: zero}, {BG: half, UCR: half}}
	tests := []struct {
		rgb  []float64
		want [3][]float64 // c, m, y, k for each of the curves
	}{
		{[]float64{.2, .7, .4}, [3][]float64{{.5, 0, .3, .3}, {.8, .3, .6, .3}, {.65, .15, .45, .15}}},
		{[]float64{1, 1, 1}, [3][]float64{{0, 0, 0, 0}, {0, 0, 0, 0}, {0, 0, 0, 0}}},
		{[]float64{0, 0, 0}, [3][]float64{{0, 0, 0, 1}, {1, 1, 1, 1}, {.5, .5, .5, .5}}},
		{[]float64{.5, .5, .5}, [3][]float64{{0, 0, 0, .5}, {.5, .5, .5, .5}, {.25, .25, .25, .25}}},
		{[]float64{1, 0, 0}, [3][]float64{{0, 1, 1, 0}, {0, 1, 1, 0}, {0, 1, 1, 0}}},
		{[]float64{.6, .3, .9}, [3][]float64{{.3, .6, 0, .1}, {.4, .7, .1, .1}, {.35, .65, .05, .05}}},
		{[]float64{.8, .8, .5}, [3][]float64{{0, 0, .3, .2}, {.2, .2, .5, .2}, {.1, .1, .4, .1}}},
		{[]float64{7, -1, 0}, [3][]float64{{0, 1, 1, 0}, {0, 1, 1, 0}, {0, 1, 1, 0}}},
	}
	x := open(t, pdf(""))
	for i, c := range curves {
		s, err := NewReader(x, cmyk, c).Space(types.Name("DeviceRGB"), nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, test := range tests {
			if got := shares(s, test.rgb...); !closeTo(got, test.want[i], 1e-12) {
				t.Errorf("curves %d: %v is %v, want %v", i, test.rgb, got, test.want[i])
			}
		}
	}
	// Undercolour removal may be negative, and is then clamped (10.3.4).
	s, err := NewReader(x, cmyk, Curves{UCR: func(k float64) float64 { return -k }}).Space(types.Name("DeviceRGB"), nil)
	if err != nil {
		t.Fatal(err)
	}
	if got := shares(s, 0, 0, 0); !closeTo(got, []float64{1, 1, 1, 1}, 0) {
		t.Errorf("black with UCR -k: %v", got)
	}
}

// tint is a transform of one input to CMYK.
const tint = "<< /FunctionType 2 /Domain [0 1] /C0 [0 0 0 0] /C1 [0.5 1 0 0.2] /N 1 >>"

func TestSpaces(t *testing.T) {
	process := []bool{true, true, true, true, false}
	white := []bool{false, false, false, false, true}
	two := stream("/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1]", []byte("{ 0 0 4 2 roll }")) // to yellow and black
	tests := []struct {
		name, space string
		color       []float64
		want        []float64 // cyan, magenta, yellow, black, white
		sets        []bool
	}{
		{"grey", "/DeviceGray", []float64{.25}, []float64{0, 0, 0, .75, 0}, process},
		{"grey as list", "[/DeviceGray]", []float64{.25}, []float64{0, 0, 0, .75, 0}, process},
		{"cmyk", "/DeviceCMYK", []float64{.1, .2, .3, .4}, []float64{.1, .2, .3, .4, 0}, process},
		{"out of range", "/DeviceCMYK", []float64{-1, 2, .3, .4}, []float64{0, 1, .3, .4, 0}, process},
		{"too few", "/DeviceCMYK", []float64{.5}, []float64{.5, 0, 0, 0, 0}, process},
		{"calgray", "[/CalGray << /WhitePoint [0.9505 1 1.089] /Gamma 2.2 >>]", []float64{.25}, []float64{0, 0, 0, .75, 0}, process},
		{"calrgb", "[/CalRGB << /WhitePoint [0.9505 1 1.089] >>]", []float64{1, 0, 0}, []float64{0, 1, 1, 0, 0}, process},
		{"icc of 4", "[/ICCBased 12 0 R]", []float64{.1, .2, .3, .4}, []float64{.1, .2, .3, .4, 0}, process},
		{"icc without N", "[/ICCBased 14 0 R]", []float64{.25}, []float64{0, 0, 0, .75, 0}, process},
		{"separation", "[/Separation /White /DeviceCMYK 10 0 R]", []float64{.3}, []float64{0, 0, 0, 0, .3}, white},
		{"separation with a damaged transform", "[/Separation /White /DeviceCMYK null]", []float64{.3}, []float64{0, 0, 0, 0, .3}, white},
		{"process as separation", "[/Separation /Black /DeviceCMYK 10 0 R]", []float64{.3}, []float64{0, 0, 0, .3, 0}, []bool{false, false, false, true, false}},
		{"all", "[/Separation /All /DeviceCMYK 10 0 R]", []float64{.3}, []float64{.3, .3, .3, .3, .3}, []bool{true, true, true, true, true}},
		{"none", "[/Separation /None /DeviceCMYK 10 0 R]", []float64{.3}, []float64{0, 0, 0, 0, 0}, []bool{false, false, false, false, false}},
		{"unknown spot", "[/Separation /Lamp#20Gold /DeviceCMYK 10 0 R]", []float64{.5}, []float64{.25, .5, 0, .1, 0}, process},
		{"devicen", "[/DeviceN [/White /Cyan /None] /DeviceCMYK null]", []float64{.3, .6, 1}, []float64{.6, 0, 0, 0, .3}, []bool{true, false, false, false, true}},
		{"devicen of unknown", "[/DeviceN [/Lamp#20Gold /None] /DeviceCMYK 11 0 R]", []float64{.3, .6}, []float64{0, 0, .3, .6, 0}, process},
		{"devicen half known", "[/DeviceN [/Lamp#20Gold /White] /DeviceCMYK 11 0 R]", []float64{.3, .6}, []float64{0, 0, .3, 0, .6}, []bool{true, true, true, true, true}},
		{"indexed by string", "[/Indexed /DeviceRGB 1 <FF0000 00FF00>]", []float64{1}, []float64{1, 0, 1, 0, 0}, process},
		{"indexed by stream", "[/Indexed /DeviceRGB 1 15 0 R]", []float64{0}, []float64{0, 1, 1, 0, 0}, process},
		{"indexed escapes", `[/Indexed /DeviceGray 2 (\000\)\n)]`, []float64{1}, []float64{0, 0, 0, 1 - float64(')')/255, 0}, process},
		{"indexed beyond", "[/Indexed /DeviceGray 1 <00FF>]", []float64{77}, []float64{0, 0, 0, 0, 0}, process},
		{"indexed too short", "[/Indexed /DeviceGray 200 <00FF>]", []float64{150}, []float64{0, 0, 0, 1, 0}, process},
		{"indexed white", "[/Indexed [/Separation /White /DeviceCMYK 10 0 R] 1 <0033>]", []float64{1}, []float64{0, 0, 0, 0, .2}, white},
		{"pattern", "[/Pattern /DeviceGray]", []float64{.25}, []float64{0, 0, 0, .75, 0}, process},
		{"named", "/CS0", []float64{.3}, []float64{0, 0, 0, 0, .3}, white},
		{"reference", "16 0 R", []float64{.3}, []float64{0, 0, 0, 0, .3}, white},
	}
	r := reader(t, cmykWhite, tint, two,
		stream("/N 4", []byte("not a profile")), "null", stream("/Alternate /DeviceGray", nil),
		stream("", []byte{255, 0, 0, 0, 255, 0}), "[/Separation /White /DeviceCMYK 10 0 R]")
	resources := object(t, "<< /ColorSpace << /CS0 [/Separation /White /DeviceCMYK 10 0 R] >> >>").(types.Dict)
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			s, err := r.Space(object(t, test.space), resources)
			if err != nil {
				t.Fatal(err)
			}
			p := s.Paint(test.color)
			if !closeTo(p.Share, test.want, 1e-6) || !slices.Equal(p.Sets, test.sets) || p.Nothing != (test.name == "none") {
				t.Errorf("%v paints %v, sets %v, nothing %v; want %v, %v", test.color, p.Share, p.Sets, p.Nothing, test.want, test.sets)
			}
		})
	}
	if got := r.Alternates(); len(got) > 0 {
		t.Errorf("alternates are %q before anything is painted", got)
	}
	for _, text := range []string{"[/Separation /White /DeviceCMYK 10 0 R]", "[/Indexed [/Separation /#4camp#20Gold /DeviceCMYK 10 0 R] 1 <00FF>]"} {
		s, err := r.Space(object(t, text), nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Painted(s)
	}
	if got := r.Alternates(); !slices.Equal(got, []string{"Lamp Gold"}) {
		t.Errorf("alternates are %q", got)
	}
}

// Of a range of 0 to 2, 2 is full: 2, 0, 1 is red and blue without green.
func TestICCRange(t *testing.T) {
	s, err := reader(t, cmyk, stream("/N 3 /Range [0 2 0 2 0 1]", nil)).Space(object(t, "[/ICCBased 10 0 R]"), nil)
	if err != nil {
		t.Fatal(err)
	}
	if got := shares(s, 2, 0, 1); !closeTo(got, []float64{0, 1, 0, 0}, 1e-12) {
		t.Errorf("got %v", got)
	}
}

// Initial colours of ISO 32000-1, 8.6.8, operator CS (Table 74).
func TestInitial(t *testing.T) {
	r := reader(t, cmyk, stream("/N 3 /Range [0.5 1 0 1 -1 -0.5]", nil))
	tests := []struct {
		space string
		want  []float64
	}{
		{"/DeviceGray", []float64{0}}, {"/DeviceRGB", []float64{0, 0, 0}}, {"/DeviceCMYK", []float64{0, 0, 0, 1}},
		{"[/Lab << /WhitePoint [1 1 1] /Range [10 20 -20 -10] >>]", []float64{0, 10, -10}}, {"[/ICCBased 10 0 R]", []float64{0.5, 0, -0.5}},
		{"[/Indexed /DeviceGray 1 <00FF>]", []float64{0}}, {"[/Separation /Black /DeviceGray null]", []float64{1}},
		{"[/DeviceN [/Black /Cyan] /DeviceGray null]", []float64{1, 1}}, {"/Pattern", nil},
	}
	for _, test := range tests {
		s, err := r.Space(object(t, test.space), nil)
		if err != nil {
			t.Fatalf("%s: %v", test.space, err)
		}
		if got := s.Initial(); !slices.Equal(got, test.want) || s.Components() != len(test.want) {
			t.Errorf("%s: initial %v of %d components, want %v", test.space, got, s.Components(), test.want)
		}
	}
}

// Device spaces are taken for the default ones (8.6.5.6), also under Indexed and as alternates, but not for those that do not fit.
func TestDefaultSpaces(t *testing.T) {
	r := reader(t, cmykWhite)
	resources := object(t, `<< /ColorSpace << /DefaultGray [/Separation /White /DeviceGray null] /DefaultRGB /DeviceGray /DefaultCMYK /DefaultCMYK >> >>`).(types.Dict)
	tests := []struct {
		space string
		color []float64
		want  []float64
	}{
		{"/DeviceGray", []float64{.25}, []float64{0, 0, 0, 0, .25}},
		{"[/Indexed /DeviceGray 0 <FF>]", []float64{0}, []float64{0, 0, 0, 0, 1}},
		{"/DeviceRGB", []float64{1, 0, 0}, []float64{0, 1, 1, 0, 0}},
		{"/DeviceCMYK", []float64{1, 0, 0, 0}, []float64{1, 0, 0, 0, 0}},
	}
	for _, test := range tests {
		s, err := r.Space(object(t, test.space), resources)
		if err != nil {
			t.Fatalf("%s: %v", test.space, err)
		}
		if got := shares(s, test.color...); !closeTo(got, test.want, 1e-12) {
			t.Errorf("%s: got %v, want %v", test.space, got, test.want)
		}
	}
}

// L*a*b* of sRGB colours, computed with the matrix of IEC 61966-2-1 and D65; with a D50 white (0.9642 1 0.8249) white and greys stay grey.
func TestLab(t *testing.T) {
	r := reader(t, cmyk)
	tests := []struct {
		white string
		lab   []float64
		rgb   [3]float64
	}{
		{"0.9505 1 1.089", []float64{100, 0, 0}, [3]float64{255, 255, 255}},
		{"0.9505 1 1.089", []float64{53.5850, 0, 0}, [3]float64{128, 128, 128}},
		{"0.9505 1 1.089", []float64{53.2329, 80.1053, 67.2228}, [3]float64{255, 0, 0}},
		{"0.9505 1 1.089", []float64{87.7370, -86.1884, 83.1861}, [3]float64{0, 255, 0}},
		{"0.9505 1 1.089", []float64{32.3026, 79.1936, -107.8537}, [3]float64{0, 0, 255}},
		{"0.9505 1 1.089", []float64{72.6920, 1.9613, 18.3894}, [3]float64{0xC3, 0xB0, 0x91}},
		{"0.9505 1 1.089", []float64{11.2636, 0, 0}, [3]float64{0x1E, 0x1E, 0x1E}},
		{"0.9642 1 0.8249", []float64{53.5850, 0, 0}, [3]float64{128, 128, 128}},
		{"0.9642 1 0.8249", []float64{100, 0, 0}, [3]float64{255, 255, 255}},
	}
	for _, test := range tests {
		s, err := r.Space(object(t, "[/Lab << /WhitePoint ["+test.white+"] /Range [-128 127 -128 127] >>]"), nil)
		if err != nil {
			t.Fatal(err)
		}
		got := s.(*labSpace).sRGB(test.lab[0], test.lab[1], test.lab[2])
		for i := range got {
			if !near(got[i]*255, test.rgb[i], 0.6) {
				t.Errorf("white %s, %v: got %v of 1, want %v of 255", test.white, test.lab, got, test.rgb)
				break
			}
		}
	}
}

func TestGamma(t *testing.T) {
	s := &labSpace{white: d65, toRGB: [3][3]float64{{0, 1}, {0, 1}, {0, 1}}} // linear red, green and blue are Y
	for l := 0.0; l <= 100; l += 0.05 {
		want := encodeSRGB(labInverse((l + 16) / 116))
		if got := s.sRGB(l, 0, 0)[1]; !near(got, want, 0.02/255) {
			t.Errorf("L* %v: %v, want %v", l, got, want)
		}
	}
}

func TestSpaceFaults(t *testing.T) {
	r := reader(t, cmyk, tint, "[/Indexed 11 0 R 0 <00>]", "[/Pattern 12 0 R]")
	resources := object(t, "<< /ColorSpace << /A /B /B /A /C /C >> >>").(types.Dict)
	tests := []string{
		"/Unknown", "/A", "/C", "[]", "[/Unknown 1]", "7", "null", "99 0 R", "11 0 R", "12 0 R",
		"[/ICCBased << /N 2 >>]", "[/ICCBased null]", "[/Indexed /DeviceRGB 300 <00>]", "[/Indexed /DeviceRGB 1]", "[/Indexed /Pattern 0 <00>]",
		"[/Indexed [/Indexed /DeviceGray 0 <00>] 0 <00>]", "[/Separation /Gold /DeviceRGB 10 0 R]", "[/Separation /Gold /DeviceCMYK 99 0 R]",
		"[/Separation /Gold /Pattern 10 0 R]", "[/DeviceN [] /DeviceCMYK 10 0 R]", "[/DeviceN [/A 5] /DeviceCMYK 10 0 R]",
		"[/DeviceN [" + strings.Repeat("/A ", 33) + "] /DeviceCMYK 10 0 R]",
	}
	for _, test := range tests {
		_, err := r.Space(object(t, test), resources)
		var f *raster.Fault
		if !errors.As(err, &f) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: got error %v, want a fault in one line", test, err)
		}
	}
}
