package preflight

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/lucasb-eyer/go-colorful"
)

// Names and values: CSS Color Module Level 4, 6.1 (from memory); hex forms: 5.2.
func TestParseGarment(t *testing.T) {
	tests := map[string]color.NRGBA{
		"black": {0, 0, 0, 255}, "navy": {0, 0, 0x80, 255}, "White": {255, 255, 255, 255}, "rebeccapurple": {0x66, 0x33, 0x99, 255},
		"Dark Slate Grey": {0x2f, 0x4f, 0x4f, 255}, "darkslategray": {0x2f, 0x4f, 0x4f, 255}, "orange": {0xff, 0xa5, 0, 255},
		"#1e1e1e": {0x1e, 0x1e, 0x1e, 255}, "#1E1": {0x11, 0xee, 0x11, 255}, " #C3B091 ": {0xc3, 0xb0, 0x91, 255},
	}
	for s, want := range tests {
		g, err := ParseGarment(s)
		if err != nil || g.Colour != want || g.Name != strings.TrimSpace(s) {
			t.Errorf("ParseGarment(%q) = %+v, %v, want %v", s, g, err, want)
		}
	}
	for s, want := range map[string]string{
		"": "not a colour", "nvay": `did you mean "navy"?`, "#12": "three or six", "#12345g": "three or six", "#12345678": "three or six",
		"#€": "three or six", "transparent": "not a colour", "1e1e1e": "not a colour",
	} {
		if g, err := ParseGarment(s); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("ParseGarment(%q) = %+v, %v, want an error with %q", s, g, err, want)
		}
	}
}

func TestAllCSSColourNames(t *testing.T) {
	names := GarmentNames()
	if len(names) != 148 {
		t.Errorf("%d colour names, CSS Color Module Level 4 has 148", len(names))
	}
	for _, name := range names {
		if g, err := ParseGarment(name); err != nil || g.Colour.A != 255 {
			t.Errorf("%s: %+v, %v", name, g, err)
		}
	}
}

// sharma is Table 1 of Sharma, Wu, Dalal, Color Research and Application 30(1), 2005, 21-30 (read second-hand).
var sharma = [34][7]float64{
	{50, 2.6772, -79.7751, 50, 0, -82.7485, 2.0425}, {50, 3.1571, -77.2803, 50, 0, -82.7485, 2.8615},
	{50, 2.8361, -74.0200, 50, 0, -82.7485, 3.4412}, {50, -1.3802, -84.2814, 50, 0, -82.7485, 1.0000},
	{50, -1.1848, -84.8006, 50, 0, -82.7485, 1.0000}, {50, -0.9009, -85.5211, 50, 0, -82.7485, 1.0000},
	{50, 0, 0, 50, -1, 2, 2.3669}, {50, -1, 2, 50, 0, 0, 2.3669},
	{50, 2.49, -0.0010, 50, -2.49, 0.0009, 7.1792}, {50, 2.49, -0.0010, 50, -2.49, 0.0010, 7.1792},
	{50, 2.49, -0.0010, 50, -2.49, 0.0011, 7.2195}, {50, 2.49, -0.0010, 50, -2.49, 0.0012, 7.2195},
	{50, -0.0010, 2.49, 50, 0.0009, -2.49, 4.8045}, {50, -0.0010, 2.49, 50, 0.0010, -2.49, 4.8045},
	{50, -0.0010, 2.49, 50, 0.0011, -2.49, 4.7461}, {50, 2.5, 0, 50, 0, -2.5, 4.3065},
	{50, 2.5, 0, 73, 25, -18, 27.1492}, {50, 2.5, 0, 61, -5, 29, 22.8977},
	{50, 2.5, 0, 56, -27, -3, 31.9030}, {50, 2.5, 0, 58, 24, 15, 19.4535},
	{50, 2.5, 0, 50, 3.1736, 0.5854, 1.0000}, {50, 2.5, 0, 50, 3.2972, 0, 1.0000},
	{50, 2.5, 0, 50, 1.8634, 0.5757, 1.0000}, {50, 2.5, 0, 50, 3.2592, 0.3350, 1.0000},
	{60.2574, -34.0099, 36.2677, 60.4626, -34.1751, 39.4387, 1.2644}, {63.0109, -31.0961, -5.8663, 62.8187, -29.7946, -4.0864, 1.2630},
	{61.2901, 3.7196, -5.3901, 61.4292, 2.2480, -4.9620, 1.8731}, {35.0831, -44.1164, 3.7933, 35.0232, -40.0716, 1.5901, 1.8645},
	{22.7233, 20.0904, -46.6940, 23.0331, 14.9730, -42.5619, 2.0373}, {36.4612, 47.8580, 18.3852, 36.2715, 50.5065, 21.2231, 1.4146},
	{90.8027, -2.0831, 1.4410, 91.1528, -1.6435, 0.0447, 1.4441}, {90.9257, -0.5406, -0.9208, 88.6381, -0.8985, -0.7239, 1.5381},
	{6.7747, -0.2908, -2.4247, 5.8714, -0.0985, -2.2286, 0.6377}, {2.0776, 0.0795, -1.1350, 0.9033, -0.0636, -0.5514, 0.9082},
}

// TestDeltaEFormula runs the pairs through the library call DeltaE makes. The library takes colours, not Lab, so each
// pair goes to RGB and back. In pair 10 the hues are exactly opposite, where the formula jumps: the rounding of that way
// decides between its value and that of pair 11, so either is right there.
func TestDeltaEFormula(t *testing.T) {
	for i, v := range sharma {
		a := colorful.Lab(v[0]/100, v[1]/100, v[2]/100)
		b := colorful.Lab(v[3]/100, v[4]/100, v[5]/100)
		got := 100 * a.DistanceCIEDE2000(b)
		near := math.Abs(got-v[6]) <= 6e-5 || i+1 == 10 && math.Abs(got-sharma[10][6]) <= 6e-5
		if !near {
			t.Errorf("pair %d: %.5f, want %.4f", i+1, got, v[6])
		}
	}
}

// Values computed with scikit-image 0.19 from IEC 61966-2-1 and the formula of Sharma et al. Its white differs from ours in
// the fifth digit, which moves yellow on white by 0.021.
func TestDeltaE(t *testing.T) {
	tests := []struct {
		a, b string
		want float64
	}{
		{"white", "black", 100.0000}, {"white", "#767676", 36.8588}, {"white", "#777777", 36.4871}, {"#ff0000", "black", 50.4066},
		{"navy", "black", 29.6980}, {"#1e1e1e", "black", 6.7765}, {"yellow", "white", 30.5172}, {"navy", "navy", 0},
	}
	for _, tt := range tests {
		a, b := colourOf(t, tt.a), colourOf(t, tt.b)
		got, back := DeltaE(a, b), DeltaE(b, a)
		if math.Abs(got-tt.want) > 0.03 || math.Abs(got-back) > 1e-9 {
			t.Errorf("DeltaE(%s, %s) = %.4f, back %.4f, want %.4f", tt.a, tt.b, got, back, tt.want)
		}
	}
}

// CIELAB of sRGB colours under D65, from IEC 61966-2-1's matrix and the white 0.9505, 1, 1.0890 (computed). Libraries'
// whites differ in the fifth digit, which moves a* and b* by up to 0.02.
func TestLabOfSRGB(t *testing.T) {
	tests := map[string][3]float64{
		"#ffffff": {100, 0, 0}, "#808080": {53.5850, 0, 0}, "#777777": {50.0344, 0, 0}, "#1e1e1e": {11.2636, 0, 0},
		"#ff0000": {53.2329, 80.1053, 67.2228}, "#00ff00": {87.7370, -86.1884, 83.1861}, "#0000ff": {32.3026, 79.1936, -107.8537},
		"#00ffff": {91.1165, -48.0840, -14.1278}, "#ff00ff": {60.3199, 98.2497, -60.8330}, "#ffff00": {97.1382, -21.5608, 94.4877},
		"#000080": {12.9753, 47.5060, -64.6983}, "#c3b091": {72.6920, 1.9613, 18.3894},
	}
	for s, want := range tests {
		g, err := ParseGarment(s)
		if err != nil {
			t.Fatal(err)
		}
		l, a, b := srgb(g.Colour).Lab()
		if got := lightness(g.Colour); math.Abs(got-want[0]) > 0.02 {
			t.Errorf("%s: lightness %.4f, want %.4f", s, got, want[0])
		}
		for i, got := range [3]float64{100 * l, 100 * a, 100 * b} {
			if math.Abs(got-want[i]) > 0.05 {
				t.Errorf("%s: Lab %.4f %.4f %.4f, want %v", s, 100*l, 100*a, 100*b, want)
				break
			}
		}
	}
}

// Ratios of luminances as WCAG 2.2 defines them (W3C); computed from IEC 61966-2-1.
func TestContrastRatio(t *testing.T) {
	tests := []struct {
		a, b string
		want float64
	}{
		{"white", "black", 21}, {"white", "#767676", 4.5422}, {"white", "#777777", 4.4781}, {"#ff0000", "black", 5.2520},
		{"navy", "black", 1.3117}, {"#1e1e1e", "black", 1.2597}, {"yellow", "white", 1.0738}, {"navy", "navy", 1},
	}
	for _, tt := range tests {
		a, b := colourOf(t, tt.a), colourOf(t, tt.b)
		if got, back := ContrastRatio(a, b), ContrastRatio(b, a); math.Abs(got-tt.want) > 5e-5 || got != back {
			t.Errorf("ContrastRatio(%s, %s) = %.4f, back %.4f, want %.4f", tt.a, tt.b, got, back, tt.want)
		}
	}
}

func colourOf(t *testing.T, name string) color.NRGBA {
	t.Helper()
	g, err := ParseGarment(name)
	if err != nil {
		t.Fatal(err)
	}
	return g.Colour
}

// TestTooWhite: what is told by its white alone to be unlike the garment is so by its whole look too.
func TestTooWhite(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	told, near := 0, 0
	for _, p := range Processes() {
		for _, drawn := range []string{"black", "white"} {
			for _, garment := range []color.NRGBA{black, navy, {0x60, 0x20, 0x30, 255}, {0xc3, 0xb0, 0x91, 255}, white} {
				pix := image.NewNRGBA(image.Rect(0, 0, 80, 40))
				for i := range pix.Pix {
					pix.Pix[i] = uint8(rng.UintN(256))
					if i%4 == 3 && i/4%80 < 60 {
						pix.Pix[i] = 255
					} else if i/4%3 == 0 {
						pix.Pix[i] &= 0x3f
					}
				}
				s := testScene(t, p.ID, pix, 300, func(j *Job) { j.WhiteDrawnAs, j.Garment.Colour = drawn, garment })
				art, n := s.Appearance(), nearness{garment: garment, limit: 10}
				tooWhite := n.tooWhite(art)
				for y := range 40 {
					for x := range 80 {
						is := n.isNear(art.lookAt(x, y))
						if is {
							near++
						}
						if !tooWhite(x, y) {
							continue
						}
						if told++; is {
							t.Fatalf("%s, drawn %s, on %v: %v looks as %v", p.ID, drawn, garment, art.colourAt(x, y), art.lookAt(x, y))
						}
					}
				}
			}
		}
	}
	if told == 0 || near == 0 {
		t.Errorf("%d told by their white, %d near: nothing was tried", told, near)
	}
}
