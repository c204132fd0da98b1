package pdfcolour

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// Darkness is 1 - (0.3 r + 0.59 g + 0.11 b), ISO 32000-1, 10.3.2, with r = 1 - min(1, c + k) and so on, 10.3.5; worked by hand.
func TestWhite(t *testing.T) {
	tests := []struct {
		space string
		c     []float64
		want  float64
	}{
		{"/DeviceGray", []float64{0.25}, 0.75},
		{"/DeviceRGB", []float64{0.2, 0.4, 0.6}, 0.638},
		{"/DeviceRGB", []float64{1, 1, 1}, 0},
		{"/DeviceRGB", []float64{0, 0, 0}, 1},
		{"/DeviceCMYK", []float64{0, 0, 0, 1}, 1},
		{"/DeviceCMYK", []float64{1, 0, 0, 0}, 0.3},
		{"/DeviceCMYK", []float64{0.5, 0.2, 0, 0.6}, 0.838}, // 0.3 x 1 + 0.59 x 0.8 + 0.11 x 0.6
		{"[/Separation /White /DeviceCMYK 10 0 R]", []float64{0.4}, 0.4},
		{"[/Separation /Gold /DeviceCMYK 10 0 R]", []float64{0.4}, 0.4},
		{"[/Separation /Unread /DeviceCMYK null]", []float64{0.4}, 0.4}, // the mixture is not asked for
		{"[/Separation /Magenta /DeviceCMYK 10 0 R]", []float64{0.5}, 0.295},
		{"[/Separation /All /DeviceCMYK 10 0 R]", []float64{0.4}, 0.4},
		{"[/DeviceN [/Gold /White] /DeviceCMYK 10 0 R]", []float64{0.7, 0.6}, 0.7},
		{"[/DeviceN [/None /White] /DeviceCMYK 10 0 R]", []float64{1, 0.6}, 0.6},
		{"[/DeviceN [/Black /Gold] /DeviceCMYK 10 0 R]", []float64{0.5, 0.2}, 0.5},
		{"[/Indexed /DeviceCMYK 1 <00000000 00ff0000>]", []float64{1}, 0.59},
		{"[/Indexed [/Separation /Gold /DeviceCMYK 10 0 R] 1 <00ff>]", []float64{1}, 1},
		{"[/Pattern /DeviceGray]", []float64{0.25}, 0.75},
	}
	for _, planes := range []Planes{cmykWhite, {"White"}, {"Cyan", "White", "Yellow"}, {"Gold", "White"}} {
		full := NewReader(open(t, pdf("", tint)), planes, Curves{})
		r := full.White()
		for _, test := range tests {
			s, err := r.Space(object(t, test.space), nil)
			if err != nil {
				t.Fatal(err)
			}
			p := s.Paint(test.c)
			for i, name := range planes {
				want := map[bool]float64{true: test.want}[name == "White"]
				if !near(p.Share[i], want, 1e-12) || p.Sets[i] != (name == "White") || p.Nothing {
					t.Errorf("%q, %s %v: share %v, sets %v of %s, want %v", planes, test.space, test.c, p.Share[i], p.Sets[i], name, want)
				}
			}
		}
		if s, err := r.Space(object(t, "[/Separation /None /DeviceCMYK 10 0 R]"), nil); err != nil || !s.Paint([]float64{1}).Nothing {
			t.Errorf("None makes a mark: %v", err)
		}
		if len(r.Alternates()) != 0 || len(full.Alternates()) != 0 {
			t.Errorf("alternates %q and %q", r.Alternates(), full.Alternates())
		}
	}
}

// Pictures in a layer of white have the shares of their colours.
func TestWhiteImage(t *testing.T) {
	const width, height = 13, 9
	rng := rand.New(rand.NewPCG(7, 11))
	for space, n := range map[string]int{
		"/DeviceGray": 1, "/DeviceRGB": 3, "/DeviceCMYK": 4, "[/Separation /Gold /DeviceCMYK 10 0 R]": 1, "[/DeviceN [/Gold /Black] /DeviceCMYK null]": 2,
	} {
		for _, bits := range []int{1, 8, 16} {
			for _, g := range []Group{{0}, {4}, {2, 3, 4}} {
				r := reader(t, cmykWhite, tint).White()
				data := make([]byte, (width*n*bits+7)/8*height)
				for i := range data {
					data[i] = byte(rng.Uint32())
				}
				sd := imageStream(width, height, bits, object(t, space), data)
				s, err := r.space(sd.Dict["ColorSpace"], nil)
				if err != nil {
					t.Fatal(err)
				}
				compareImage(t, fmt.Sprintf("%s, %d bits, planes %v", space, bits, g), r, sd, s, slices.Repeat([]float64{0, 1}, n), g)
			}
		}
	}
}

// A table of colours does not run straight from one to the next, in a layer of white no more than elsewhere.
func TestWhiteTables(t *testing.T) {
	r := reader(t, cmykWhite).White()
	out, err := r.Image(imageStream(4, 1, 2, object(t, "[/Indexed /DeviceGray 3 <ff00ff33>]"), []byte{0b00011011}), nil, Group{4})
	if err != nil {
		t.Fatal(err)
	}
	if got := pixels(t, r, out); !slices.Equal(got, []byte{255, 0, 255, 51}) {
		t.Errorf("tones %v", got)
	}
	s, err := r.shader(object(t, "<< /ColorSpace [/Indexed /DeviceGray 3 <ff00ff33>] >>").(types.Dict), nil, Group{4})
	if err != nil || s.linear() {
		t.Errorf("a table is taken for straight, %v", err)
	}
}

// Every place that can name a layer names one of its own.
func TestOptionalContent(t *testing.T) {
	x := open(t, pdf("/Resources << /Properties << /A 10 0 R /B << /Type /OCMD /Of (direct) >> /C 10 0 R >> /XObject << /F 11 0 R /I 12 0 R >> /Font << /T 13 0 R >> >> "+
		"/Annots [<< /OC 19 0 R /AP << /N 15 0 R >> >> << /AP << /N << /On 16 0 R >> >> >>]",
		/* 10 */ "<< /Of (page) >>",
		/* 11 */ stream("/Subtype /Form /OC 18 0 R /Resources << /XObject << /Self 11 0 R >> /Properties << /A 17 0 R /B 10 0 R >> >>", nil),
		/* 12 */ stream("/Subtype /Image /OC << /Of (image) >>", nil),
		/* 13 */ "<< /Subtype /Type3 /CharProcs << /a 14 0 R >> >>",
		/* 14 */ stream("/Resources << /Properties << /A << /Of (glyph) >> >> >>", nil),
		/* 15 */ stream("/Subtype /Form /OC << /Of (appearance) >>", nil),
		/* 16 */ stream("/Subtype /Form /OC << /Of (state) >>", nil),
		/* 17 */ "<< /Of (within form) >>" /* 18 */, "<< /Of (form) >>" /* 19 */, "<< /Of (annotation) >>",
	))
	page, err := x.DereferenceDict(*types.NewIndirectRef(3, 0))
	if err != nil {
		t.Fatal(err)
	}
	layers, err := OptionalContent(x, page)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, o := range layers {
		d, err := x.DereferenceDict(o)
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, strings.Trim(d["Of"].PDFString(), "()"))
	}
	if want := []string{"form", "within form", "page", "image", "glyph", "direct", "annotation", "appearance", "state"}; !slices.Equal(got, want) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
}
