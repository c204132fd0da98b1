package pdfcolour

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster"
)

// pixels reads an image as Image writes it: 8 bits, or an Indexed table. It is rows of tones, group by group.
func pixels(t testing.TB, r *Reader, sd types.StreamDict) []byte {
	t.Helper()
	if sd.Dict["Decode"] != nil {
		t.Fatalf("the image has a Decode array: %v", sd.Dict)
	}
	width, height := int(sd.Dict["Width"].(types.Integer)), int(sd.Dict["Height"].(types.Integer))
	bits := int(sd.Dict["BitsPerComponent"].(types.Integer))
	switch space := sd.Dict["ColorSpace"].(type) {
	case types.Name:
		n := map[types.Name]int{"DeviceGray": 1, "DeviceRGB": 3}[space]
		if bits != 8 || len(sd.Raw) != width*height*n || n == 0 {
			t.Fatalf("%d bytes of %d bits for %d x %d of %s", len(sd.Raw), bits, width, height, space)
		}
		return sd.Raw
	case types.Array:
		n := map[types.Object]int{types.Name("DeviceGray"): 1, types.Name("DeviceRGB"): 3}[space[1]]
		table, err := space[3].(types.HexLiteral).Bytes()
		if err != nil || space[0] != types.Name("Indexed") || len(table) != n*(int(space[2].(types.Integer))+1) || len(table) != n<<bits {
			t.Fatalf("table %v of %d bits: %v", space, bits, err)
		}
		row := (width*bits + 7) / 8
		data, err := r.decode(sd, row*height)
		if err != nil {
			t.Fatal(err)
		}
		var out []byte
		for y := range height {
			in := bitReader{data: data[y*row:]}
			for range width {
				v := int(in.read(bits))
				out = append(out, table[n*v:n*v+n]...)
			}
		}
		return out
	}
	t.Fatalf("colour space %v", sd.Dict["ColorSpace"])
	return nil
}

// TestImage compares with the obvious way: decode each component, ask the colour space, round.
func TestImage(t *testing.T) {
	const width, height = 13, 9
	spaces := []struct {
		text string
		n    int
	}{
		{"/DeviceGray", 1}, {"/DeviceRGB", 3}, {"/DeviceCMYK", 4}, {"[/Separation /White /DeviceCMYK 10 0 R]", 1}, {"[/Separation /Gold /DeviceCMYK 10 0 R]", 1},
		{"[/DeviceN [/White /Black] /DeviceCMYK null]", 2}, {"[/DeviceN [/Gold /White] /DeviceCMYK 11 0 R]", 2}, {"[/Lab << /WhitePoint [0.9642 1 0.8249] >>]", 3},
		{"[/Separation /All /DeviceGray null]", 1}, {"[/DeviceN [/White /White] /DeviceCMYK null]", 2},
		{"[/DeviceN [/A /B /Black /C /D /E /F /G /H] /DeviceGray 12 0 R]", 9}, // more than the cache of colours can tell apart
		{"[/ICCBased 13 0 R]", 3},
	}
	objects := []string{
		tint, stream("/FunctionType 4 /Domain [0 1 0 1] /Range [0 1 0 1 0 1 0 1]", []byte("{ 0 0 4 2 roll }")),
		stream("/FunctionType 4 /Domain ["+strings.Repeat("0 1 ", 9)+"] /Range [0 1]", []byte("{ add add add add add add add add 9 div }")),
		stream("/N 3 /Range [0 1 -1 1 0 2]", nil),
	}
	rng := rand.New(rand.NewPCG(3, 5))
	for _, space := range spaces {
		for _, bits := range []int{1, 2, 4, 8, 16} {
			for _, inverted := range []bool{false, true} {
				for _, g := range []Group{{0}, {3}, {4}, {2, 3, 4}} {
					name := fmt.Sprintf("%s, %d bits, inverted %v, planes %v", space.text, bits, inverted, g)
					r := reader(t, cmykWhite, objects...)
					data := make([]byte, (width*space.n*bits+7)/8*height)
					for i := range data {
						data[i] = byte(rng.Uint32())
					}
					sd := imageStream(width, height, bits, object(t, space.text), data)
					s, err := r.space(sd.Dict["ColorSpace"], nil)
					if err != nil {
						t.Fatal(name, err)
					}
					ranges := slices.Clone(s.ranges())
					if ranges == nil {
						ranges = slices.Repeat([]float64{0, 1}, space.n)
					}
					if inverted {
						for i := 0; i < len(ranges); i += 2 {
							ranges[i], ranges[i+1] = ranges[i+1], ranges[i]
						}
						sd.Dict["Decode"] = array(ranges)
					}
					compareImage(t, name, r, sd, s, ranges, g)
				}
			}
		}
	}
}

// compareImage compares Image with the obvious way. Most samples of 16 bits are rounded to 8 before they are converted, so that the tone
// may be off by one.
func compareImage(t *testing.T, name string, r *Reader, sd types.StreamDict, s Space, decode []float64, g Group) {
	t.Helper()
	kept := slices.Clone(sd.Raw)
	out, err := r.Image(sd, nil, g)
	if err != nil {
		t.Fatal(name, err)
	}
	if !slices.Equal(sd.Raw, kept) || sd.Dict["Length"] != nil {
		t.Fatalf("%s: the image given was changed", name)
	}
	got := pixels(t, r, out)
	width, height, bits := 13, 9, int(sd.Dict["BitsPerComponent"].(types.Integer))
	if len(got) == len(g) { // blank
		got = slices.Repeat(got, width*height)
	}
	n := s.Components()
	c := make([]float64, n)
	for y := range height {
		in := bitReader{data: sd.Raw[y*((width*n*bits+7)/8):]}
		for x := range width {
			for i := range c {
				c[i] = interpolate(float64(in.read(bits)), 0, math.Ldexp(1, bits)-1, decode[2*i], decode[2*i+1])
			}
			share := s.Paint(c).Share
			for i, plane := range g {
				have, want := float64(got[(y*width+x)*len(g)+i]), 255*(1-share[plane])
				off := 0.51
				if bits == 16 {
					off = 1.51
				}
				if !near(have, want, off) {
					t.Fatalf("%s: %v at (%d,%d) has tone %v in plane %d, want %.2f", name, c, x, y, have, plane, want)
				}
			}
		}
	}
}

// A table keeps its indices, of which the default Decode is not 0 to 1 but 0 to the greatest value.
func TestImageIndexed(t *testing.T) {
	r := reader(t, cmyk)
	for _, test := range []struct{ decode, want string }{{"", "0 85 255 0"}, {"[0 15]", "0 85 255 0"}, {"[15 0]", "0 0 0 255"}, {"[1 1]", "85 85 85 85"}} {
		sd := imageStream(4, 1, 4, object(t, "[/Indexed /DeviceGray 2 <00 55 FF>]"), []byte{0x01, 0x20})
		if test.decode == "[15 0]" {
			sd.Raw = []byte{0xF9, 0xAD}
			test.want = "0 255 255 255"
		}
		if test.decode != "" {
			sd.Dict["Decode"] = object(t, test.decode)
		}
		out, err := r.Image(sd, nil, Group{3})
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Trim(fmt.Sprint(pixels(t, r, out)), "[]"); got != test.want {
			t.Errorf("decode %q: got %s, want %s", test.decode, got, test.want)
		}
	}
}

// Fax and JBIG2 data, of one bit, is not unpacked: its table says what 0 and 1 are.
func TestImageOfOneBit(t *testing.T) {
	for _, filter := range []string{"CCITTFaxDecode", "JBIG2Decode", "CCF"} {
		r := reader(t, cmykWhite)
		sd := imageStream(8, 8, 1, object(t, "[/Separation /White /DeviceGray null]"), []byte("any"))
		sd.Dict["Filter"] = types.Name(filter)
		delete(sd.Dict, "BitsPerComponent")
		if filter == "CCF" {
			sd.Dict["BitsPerComponent"] = types.Integer(1)
		}
		sd.Dict["Decode"] = object(t, "[1 0]")
		out, err := r.Image(sd, nil, Group{4})
		if err != nil {
			t.Fatal(filter, err)
		}
		if got, want := out.Dict["ColorSpace"].PDFString(), "[/Indexed/DeviceGray 1 <00ff>]"; got != want || string(out.Raw) != "any" || out.Dict["Decode"] != nil {
			t.Errorf("%s: %s, want colour space %s", filter, out.Dict.PDFString(), want)
		}
	}
}

func TestImageInline(t *testing.T) {
	r := reader(t, cmyk)
	sd := types.StreamDict{Raw: []byte("FF00 80>"), Dict: object(t, "<< /W 3 /H 1 /BPC 8 /CS [/I /G 255 <"+strings.Repeat("00", 128)+strings.Repeat("FF", 128)+">] /F /AHx >>").(types.Dict)}
	out, err := r.Image(sd, nil, Group{3})
	if err != nil {
		t.Fatal(err)
	}
	if got := pixels(t, r, out); !slices.Equal(got, []byte{255, 0, 255}) || out.Dict["W"] != nil || out.Dict["Subtype"] != types.Name("Image") {
		t.Errorf("got %v of %v", got, out.Dict)
	}
	sd = types.StreamDict{Raw: []byte{10, 20, 30, 40}, Dict: object(t, "<< /W 1 /H 1 /BPC 8 /CS /CMYK >>").(types.Dict)}
	if out, err = r.Image(sd, nil, Group{1}); err != nil || !slices.Equal(pixels(t, r, out), []byte{235}) {
		t.Errorf("got %v, %v", out, err)
	}
}

// A plane that the picture's colour space does not address gets one sample without ink, under the masks of the picture.
func TestImageBlank(t *testing.T) {
	r := reader(t, cmykWhite)
	sd := imageStream(1000, 1000, 8, types.Name("DeviceRGB"), nil)
	sd.Dict["SMask"] = imageStream(2, 2, 8, types.Name("DeviceGray"), []byte{0, 1, 2, 3})
	out, err := r.Image(sd, nil, Group{4})
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(pixels(t, r, out), []byte{255}) || out.Dict["SMask"] == nil {
		t.Errorf("got %v", out.Dict)
	}
}

// A colour key is of the samples as they are stored, before Decode (8.9.6.4): a table keeps it, other pictures get a stencil, in which 1
// is left out (8.9.6.2).
func TestImageColourKey(t *testing.T) {
	r := reader(t, cmyk)
	sd := imageStream(4, 1, 8, types.Name("DeviceGray"), []byte{0, 1, 2, 3})
	sd.Dict["Mask"] = object(t, "[1 2]")
	out, err := r.Image(sd, nil, Group{0})
	if err != nil {
		t.Fatal(err)
	}
	if got := out.Dict["Mask"].PDFString(); got != "[1 2]" || !slices.Equal(out.Raw, sd.Raw) {
		t.Errorf("one component: mask %s, data %v", got, out.Raw)
	}
	for _, bits := range []int{4, 8, 16} {
		var data bitWriter
		for _, v := range []uint32{1, 2, 3, 1, 2, 4, 0, 2, 3, 9, 2, 3, 2, 2, 3, 1, 3, 3, 1, 1, 3, 2, 2, 2, 2, 3, 3} {
			data.write(v, bits)
		}
		sd = imageStream(9, 1, bits, types.Name("DeviceRGB"), data.data)
		sd.Dict["Mask"], sd.Dict["Decode"] = object(t, "[1 2 2 2 2 3]"), object(t, "[1 0 1 0 1 0]")
		if out, err = r.Image(sd, nil, Group{0}); err != nil {
			t.Fatal(err)
		}
		mask := out.Dict["Mask"].(types.StreamDict)
		want := []byte{0b10001001, 0} // 1 2 3, 2 2 3 and 2 2 2
		if !slices.Equal(mask.Raw, want) || mask.Dict["ImageMask"] != types.Boolean(true) || mask.Dict["Width"] != types.Integer(9) {
			t.Errorf("%d bits: stencil %08b of %v, want %08b", bits, mask.Raw, mask.Dict, want)
		}
	}
}

// A stencil mask has no colours.
func TestImageMask(t *testing.T) {
	sd := types.StreamDict{Raw: []byte{1}, Dict: object(t, "<< /Subtype /Image /ImageMask true /Width 8 /Height 1 /Decode [1 0] >>").(types.Dict)}
	out, err := reader(t, cmyk).Image(sd, nil, Group{0})
	if err != nil || out.Dict.PDFString() != sd.Dict.PDFString() || !slices.Equal(out.Raw, sd.Raw) {
		t.Errorf("got %v, %v", out, err)
	}
}

// With c' = m + alpha (c - m), ISO 32000-1, 11.6.5.3, the colour that was mixed in comes out again.
func TestImageMatte(t *testing.T) {
	for _, space := range []struct {
		name  types.Name
		n     int
		matte string
	}{{"DeviceCMYK", 4, "[0.2 0 1 0.6]"}, {"DeviceGray", 1, "[0.4]"}} {
		r := reader(t, cmyk)
		matte := r.numbers(object(t, space.matte))
		colors := []float64{0.9, 0.1, 0.5, 0.7}
		var data, alpha []byte
		for i := range 256 {
			a := float64(i) / 255
			alpha = append(alpha, byte(i))
			for c := range space.n {
				data = append(data, byte(math.Round(255*(matte[c]+a*(colors[c]-matte[c])))))
			}
		}
		sd := imageStream(256, 1, 8, space.name, data)
		mask := imageStream(256, 1, 8, types.Name("DeviceGray"), alpha)
		mask.Dict["Matte"] = object(t, space.matte)
		sd.Dict["SMask"] = mask
		out, err := r.Image(sd, nil, Group{3})
		if err != nil {
			t.Fatal(err)
		}
		want := 1 - colors[3]
		if space.n == 1 {
			want = colors[0]
		}
		for i, got := range pixels(t, r, out) {
			if i > 0 && !near(float64(got), 255*want, 0.51*255/float64(i)+0.51) {
				t.Errorf("%s at alpha %d: tone %d, want %.1f", space.name, i, got, 255*want)
			}
		}
		if out.Dict["SMask"].(types.StreamDict).Dict["Matte"] != nil || mask.Dict["Matte"] == nil {
			t.Errorf("%s: the result keeps its matte colour, or the mask given lost it", space.name)
		}
	}
}

// A soft mask of one bit has nothing half transparent, whatever it is packed as; one of another size is said not to fit.
func TestImageMatteMasks(t *testing.T) {
	for mask, notes := range map[string]int{
		"/Width 2 /BitsPerComponent 1 /Filter /JBIG2Decode": 0,
		"/Width 3 /BitsPerComponent 8":                      1,
		"/Width 2 /BitsPerComponent 8 /Filter /JPXDecode":   1,
	} {
		r := reader(t, cmyk, stream("/Subtype /Image /Height 1 /ColorSpace /DeviceGray /Matte [0 0 0] "+mask, []byte("xyz")))
		sd := imageStream(2, 1, 8, types.Name("DeviceRGB"), []byte{1, 2, 3, 4, 5, 6})
		sd.Dict["SMask"] = ref(0)
		out, err := r.Image(sd, nil, Group{3})
		if err != nil || !slices.Equal(pixels(t, r, out), []byte{3, 6}) || len(r.Notes()) != notes {
			t.Errorf("%s: %v, %v, notes %q", mask, out.Raw, err, r.Notes())
		}
	}
}

func TestSampleCache(t *testing.T) {
	var c sampleCache
	var data [4][]byte
	for i := range data {
		data[i] = []byte{byte(i)}
		c.put(data[i], &picture{n: i, data: make([]byte, mostCached*2/5)})
	}
	for i, want := range []bool{false, false, true, true} {
		if p := c.get(data[i]); (p != nil) != want || p != nil && p.n != i {
			t.Errorf("picture %d: got %v", i, p)
		}
	}
	c.put(data[0], &picture{data: make([]byte, mostCached+1)})
	if c.get(data[0]) != nil || c.get(nil) != nil || c.get(data[3]) == nil {
		t.Error("a picture that is too large was kept, or drove out others")
	}
}

// A soft mask that is its own soft mask, or has one, is freed of it.
func TestImageMaskLoop(t *testing.T) {
	for _, matte := range []string{"", "/Matte [0 0 0]"} {
		r := reader(t, cmyk, stream("/Subtype /Image /Width 1 /Height 1 /BitsPerComponent 8 /ColorSpace /DeviceGray /SMask 10 0 R "+matte, []byte("x")))
		sd := imageStream(1, 1, 8, types.Name("DeviceRGB"), []byte{1, 2, 3})
		sd.Dict["SMask"] = ref(0)
		out, err := r.Image(sd, nil, Group{0})
		if err != nil {
			t.Fatal(err)
		}
		if d := r.in.Dict(out.Dict["SMask"]); d == nil || d["SMask"] != nil || d["Matte"] != nil {
			t.Errorf("soft mask %v", d)
		}
	}
}

// The same image may be drawn with other resources, in which the name of its space means another one.
func TestImageNamedSpace(t *testing.T) {
	r := reader(t, cmyk)
	sd := imageStream(1, 1, 8, types.Name("CS0"), []byte{9, 60, 30, 120})
	for space, want := range map[string]byte{"/DeviceRGB": 60, "/DeviceCMYK": 135, "[/DeviceN [/Cyan /Black] /DeviceCMYK null]": 195} {
		for range 2 {
			out, err := r.Image(sd, object(t, "<< /ColorSpace << /CS0 "+space+" >> >>").(types.Dict), Group{3})
			if err != nil || !slices.Equal(pixels(t, r, out), []byte{want}) {
				t.Errorf("%s: got %v, %v, want %d", space, out.Raw, err, want)
			}
		}
	}
}

func TestImageCutOff(t *testing.T) {
	r := reader(t, cmyk)
	sd := imageStream(2, 2, 8, types.Name("DeviceRGB"), []byte{0, 0, 0, 0, 0, 0, 0})
	out, err := r.Image(sd, nil, Group{3})
	if err != nil {
		t.Fatal(err)
	}
	if got := pixels(t, r, out); !slices.Equal(got, []byte{0, 0, 255, 255}) || len(r.Notes()) != 1 {
		t.Errorf("got %v, notes %q", got, r.Notes())
	}
	// Of one component, whose samples would otherwise stay what they are; ones are full ink here.
	r = reader(t, cmykWhite, tint)
	white := object(t, "[/Separation /White /DeviceCMYK 10 0 R]")
	for _, test := range []struct {
		data  []byte
		notes int
		want  []byte
	}{{[]byte{255, 51, 255, 0}, 0, []byte{0, 204, 0, 255}}, {[]byte{255, 51}, 1, []byte{0, 204, 255, 255}}} {
		out, err := r.Image(imageStream(2, 2, 8, white, test.data), nil, Group{4})
		if err != nil {
			t.Fatal(err)
		}
		if got := pixels(t, r, out); !slices.Equal(got, test.want) || len(r.Notes()) != test.notes {
			t.Errorf("%v gives %v, notes %q, want %v", test.data, got, r.Notes(), test.want)
		}
	}
}

func TestImageFaults(t *testing.T) {
	r := reader(t, cmyk)
	base := func() types.Dict {
		return object(t, "<< /Subtype /Image /Width 2 /Height 2 /BitsPerComponent 8 /ColorSpace /DeviceRGB >>").(types.Dict)
	}
	tests := map[string]struct {
		key   string
		value string
		data  string
	}{
		"no width":        {"Width", "null", "abc"},
		"huge":            {"Width", "99999999", "abc"},
		"many samples":    {"Height", "200000000", "abc"},
		"odd bits":        {"BitsPerComponent", "7", "abc"},
		"no colours":      {"ColorSpace", "null", "abc"},
		"pattern":         {"ColorSpace", "/Pattern", "abc"},
		"empty":           {"Width", "2", ""},
		"not flate":       {"Filter", "/FlateDecode", "abc"},
		"unknown packing": {"Filter", "/Nonsense", "abc"},
		"predictor":       {"DecodeParms", "<< /Predictor -1 >>", "abc"},
		"not jpeg":        {"Filter", "/DCTDecode", "abc"},
		"jpeg after":      {"Filter", "[/DCTDecode /FlateDecode]", "abc"},
		"jpeg 2000":       {"Filter", "/JPXDecode", "abc"},
		"jbig2 in colour": {"Filter", "/JBIG2Decode", "abc"},
		"colour key":      {"Mask", "[1 2]", "abcabcabcabc"},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			sd := types.StreamDict{Raw: []byte(test.data), Dict: base()}
			sd.Dict[test.key] = object(t, test.value)
			if test.key == "DecodeParms" {
				sd.Dict["Filter"] = types.Name("FlateDecode")
			}
			if len(test.data) > 0 {
				sd.Raw = []byte(test.data)
			}
			_, err := r.Image(sd, nil, Group{0})
			var f *raster.Fault
			if !errors.As(err, &f) || strings.Contains(err.Error(), "\n") {
				t.Errorf("got error %v, want a fault in one line", err)
			}
			if errors.Is(err, ErrInseparable) != (name == "jpeg 2000") {
				t.Errorf("inseparable: %v", err)
			}
		})
	}
	for _, g := range []Group{{}, {0, 1}, {4}, {-1}} {
		if _, err := r.Image(types.StreamDict{Dict: base()}, nil, g); err == nil {
			t.Errorf("group %v was taken", g)
		}
	}
}
