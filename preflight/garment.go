package preflight

import (
	"encoding/hex"
	"fmt"
	"image/color"
	"math"
	"slices"
	"strings"

	"github.com/lucasb-eyer/go-colorful"
	"golang.org/x/image/colornames"
)

// rebeccaPurple is the one named colour that CSS Color Module Level 4 (6.1) has beyond SVG 1.1's 147.
var rebeccaPurple = color.NRGBA{R: 0x66, G: 0x33, B: 0x99, A: 0xff}

// ParseGarment reads a garment's colour: one of the 148 names of CSS Color Module Level 4 ("navy", "Dark Slate Grey"),
// #rgb or #rrggbb. "black" is CSS black, #000000; dyed black cloth is lighter, so a measured colour judges better.
func ParseGarment(s string) (Garment, error) {
	name := strings.TrimSpace(s)
	if digits, ok := strings.CutPrefix(name, "#"); ok {
		c, err := parseHex(digits)
		if err != nil {
			return Garment{}, fmt.Errorf("%q is not a colour: write # and three or six digits from 0 to f, such as #1e1e1e", s)
		}
		return Garment{Name: name, Colour: c}, nil
	}
	key := strings.NewReplacer(" ", "", "-", "", "_", "").Replace(strings.ToLower(name))
	if key == "rebeccapurple" {
		return Garment{Name: name, Colour: rebeccaPurple}, nil
	}
	c, ok := colornames.Map[key]
	if !ok {
		return Garment{}, fmt.Errorf("%q is not a colour: write a colour's English name such as navy, or its red, green and blue as web pages have them, such as #1e1e1e%s", s, didYouMean(key, GarmentNames()))
	}
	return Garment{Name: name, Colour: color.NRGBA{R: c.R, G: c.G, B: c.B, A: 0xff}}, nil
}

func parseHex(digits string) (color.NRGBA, error) {
	if len(digits) == 3 {
		d := digits
		digits = string([]byte{d[0], d[0], d[1], d[1], d[2], d[2]})
	}
	b, err := hex.DecodeString(digits)
	if err != nil || len(b) != 3 {
		return color.NRGBA{}, fmt.Errorf("%q is not three bytes in hex", digits)
	}
	return color.NRGBA{R: b[0], G: b[1], B: b[2], A: 0xff}, nil
}

// GarmentNames returns the names of colours that ParseGarment knows.
func GarmentNames() []string {
	return append(slices.Clone(colornames.Names), "rebeccapurple")
}

// DeltaE returns the CIEDE2000 difference of two sRGB colours under D65, 0 for equal and 100 for black to white; alpha
// is not looked at. Formula: Sharma, Wu, Dalal, Color Research and Application 30(1), 2005, with kL = kC = kH = 1.
func DeltaE(a, b color.NRGBA) float64 {
	return 100 * srgb(a).DistanceCIEDE2000(srgb(b)) // go-colorful's L* runs from 0 to 1
}

func srgb(c color.NRGBA) colorful.Color {
	return colorful.Color{R: float64(c.R) / 255, G: float64(c.G) / 255, B: float64(c.B) / 255}
}

// ContrastRatio returns how much lighter one of two sRGB colours is than the other, 1 for equal and 21 for black and white:
// (L1 + 0.05) / (L2 + 0.05) of their relative luminances (W3C, WCAG 2.2).
func ContrastRatio(a, b color.NRGBA) float64 {
	lighter, darker := luminance(a), luminance(b)
	if lighter < darker {
		lighter, darker = darker, lighter
	}
	return (lighter + 0.05) / (darker + 0.05)
}

// luminance is the relative luminance of an sRGB colour (IEC 61966-2-1).
func luminance(c color.NRGBA) float64 {
	r, g, b := srgb(c).LinearRgb()
	return 0.2126*r + 0.7152*g + 0.0722*b
}

// lightness is L* of CIELAB, 0 to 100, of an sRGB colour.
func lightness(c color.NRGBA) float64 {
	y := luminance(c)
	if y <= 216.0/24389 {
		return y * 24389 / 27
	}
	return 116*math.Cbrt(y) - 16
}
