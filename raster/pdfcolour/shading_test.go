package pdfcolour

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster"
)

const (
	redToGreen = "<< /FunctionType 2 /Domain [0 1] /C0 [1 0 0] /C1 [0 1 0] /N 1 >>"
	hardEdge   = "<< /FunctionType 3 /Domain [0 1] /Bounds [0.5] /Encode [0 1 1 0] /Functions [10 0 R 10 0 R] >>"
)

// Shadings get a function that gives the tones of the colours to 1 level in 255: on a plane wherever it is asked, along an axis where the
// renderer asks, for the middle of the step.
func TestShadingFunctions(t *testing.T) {
	place := stream("/FunctionType 4 /Domain [-1 1 0 2] /Range [0 1 0 1 0 1]", []byte("{ 0.5 mul exch abs dup 180 mul cos 2 div 0.5 add }"))
	tests := []struct {
		name, shading string
		inputs        []float64 // domain
	}{
		{"axial", "<< /ShadingType 2 /ColorSpace /DeviceRGB /Coords [0 0 1 0] /Function 10 0 R /Background [1 0 0] >>", []float64{0, 1}},
		{"axial, hard edge", "<< /ShadingType 2 /ColorSpace /DeviceRGB /Coords [0 0 1 0] /Function 11 0 R >>", []float64{0, 1}},
		{"radial, list", "<< /ShadingType 3 /ColorSpace /DeviceRGB /Coords [0 0 1 0 0 9] /Domain [0 2] /Function [13 0 R 13 0 R 13 0 R] >>", []float64{0, 2}},
		{"radial, spot", "<< /ShadingType 3 /ColorSpace [/Separation /White /DeviceGray null] /Coords [0 0 1 0 0 9] /Function 13 0 R >>", []float64{0, 1}},
		{"place", "<< /ShadingType 1 /ColorSpace /DeviceRGB /Domain [-1 1 0 2] /Function 12 0 R >>", []float64{-1, 1, 0, 2}},
	}
	rng := rand.New(rand.NewPCG(2, 2))
	for _, test := range tests {
		for _, g := range []Group{{3}, {0, 1, 4}} {
			name := fmt.Sprint(test.name, g)
			r := reader(t, cmykWhite, redToGreen, hardEdge, place, "<< /FunctionType 2 /Domain [0 2] /C0 [0] /C1 [1] /N 1.5 >>")
			source := object(t, test.shading).(types.Dict)
			o, err := r.Shading(source, nil, g)
			if err != nil {
				t.Fatal(name, err)
			}
			d := o.(types.Dict)
			f, err := r.functionOf(d["Function"], len(test.inputs)/2, len(g))
			if err != nil {
				t.Fatal(name, err)
			}
			original, err := r.functionOrArray(source["Function"])
			if err != nil {
				t.Fatal(name, err)
			}
			s, err := r.Space(source["ColorSpace"], nil)
			if err != nil {
				t.Fatal(name, err)
			}
			for step := range 2000 {
				in := make([]float64, len(test.inputs)/2)
				for i := range in {
					in[i] = test.inputs[2*i] + rng.Float64()*(test.inputs[2*i+1]-test.inputs[2*i])
				}
				asked := in
				if len(in) == 1 {
					step %= 256
					asked = []float64{float64(step) / 256 * test.inputs[1]}
					in[0] = (float64(step) + 0.5) / 255 * test.inputs[1]
					if step == 0 || step == 255 {
						in[0] = float64(step) / 255 * test.inputs[1]
					}
				}
				got, share := eval(f, asked...), s.Paint(eval(original, in...)).Share
				for i, plane := range g {
					off := 1.0
					if test.name == "place" && plane < 4 {
						off = 1.5 // a kink of the abs and of the least of three
					}
					if !near(got[i]*255, 255*(1-share[plane]), off) {
						t.Fatalf("%s: tone %v at %v in plane %d, want %v", name, got[i]*255, in, plane, 255*(1-share[plane]))
					}
				}
			}
			if b := r.numbers(d["Background"]); (source["Background"] != nil) != (len(b) == len(g)) || len(b) == 3 && !closeTo(b, []float64{1, 0, 1}, 0) {
				t.Errorf("%s: background %v", name, b)
			}
			if source["ColorSpace"].PDFString() == d["ColorSpace"].PDFString() && len(g) == 1 {
				t.Errorf("%s: colour space %v", name, d["ColorSpace"])
			}
		}
	}
}

// meshStream is a mesh of 16-bit coordinates from 0 to 100, 8-bit colours and 8-bit flags.
func meshStream(t testing.TB, kind int, space, more string, n int, data []byte) types.StreamDict {
	d := object(t, fmt.Sprintf("<< /ShadingType %d /ColorSpace %s /BitsPerCoordinate 16 /BitsPerComponent 8 /BitsPerFlag 8 /Decode [0 100 0 100 %s] %s >>",
		kind, space, strings.Repeat("0 1 ", n), more)).(types.Dict)
	return types.StreamDict{Dict: d, Raw: data}
}

func appendPoint(data []byte, x, y float64) []byte {
	a, b := uint16(math.Round(x*655.35)), uint16(math.Round(y*655.35))
	return append(data, byte(a>>8), byte(a), byte(b>>8), byte(b))
}

// readMesh reads the triangles that Shading wrote: points in the units of the Decode array and tones of 0 to 1.
func readMesh(t *testing.T, r *Reader, o types.Object, n int) (points [][3][2]float64, tones [][3][]float64) {
	t.Helper()
	sd := o.(types.StreamDict)
	decode := r.numbers(sd.Dict["Decode"])
	if len(decode) != 4+2*n || sd.Dict["ShadingType"] != types.Integer(4) || sd.Dict["BitsPerCoordinate"] != types.Integer(32) ||
		sd.Dict["BitsPerComponent"] != types.Integer(16) || sd.Dict["Function"] != nil {
		t.Fatalf("mesh %v", sd.Dict)
	}
	in := bitReader{data: sd.Raw}
	for in.left() > 0 {
		var ps [3][2]float64
		var cs [3][]float64
		for i := range ps {
			if in.read(8) != 0 {
				t.Fatal("a flag is not 0")
			}
			x, y := float64(in.read(32))/math.MaxUint32, float64(in.read(32))/math.MaxUint32
			ps[i] = [2]float64{interpolate(x, 0, 1, decode[0], decode[1]), interpolate(y, 0, 1, decode[2], decode[3])}
			for range n {
				cs[i] = append(cs[i], float64(in.read(16))/65535)
			}
		}
		points, tones = append(points, ps), append(tones, cs)
	}
	return points, tones
}

// paintedAs reports whether a triangle that holds a place gives it the tones wanted, to off.
func paintedAs(points [][3][2]float64, tones [][3][]float64, place [2]float64, want []float64, off float64) bool {
	for i, p := range points {
		b := barycentric(p, place[0], place[1])
		if min(b[0], b[1], b[2]) < -0.05 { // a curved edge bulges out of its triangles
			continue
		}
		all := true
		for c, w := range want {
			all = all && near(b[0]*tones[i][0][c]+b[1]*tones[i][1][c]+b[2]*tones[i][2][c], w, off)
		}
		if all {
			return true
		}
	}
	return false
}

// barycentric gives the weights of p in a triangle.
func barycentric(t [3][2]float64, x, y float64) [3]float64 {
	det := (t[1][1]-t[2][1])*(t[0][0]-t[2][0]) + (t[2][0]-t[1][0])*(t[0][1]-t[2][1])
	a := ((t[1][1]-t[2][1])*(x-t[2][0]) + (t[2][0]-t[1][0])*(y-t[2][1])) / det
	b := ((t[2][1]-t[0][1])*(x-t[2][0]) + (t[0][0]-t[2][0])*(y-t[2][1])) / det
	return [3]float64{a, b, 1 - a - b}
}

// Triangles: colours run straight between corners (8.7.4.5.5); the shares of RGB do not, and are followed to 2 levels in 255.
func TestShadingTriangles(t *testing.T) {
	corners := [][2]float64{{10, 10}, {90, 20}, {50, 95}, {98, 90}, {5, 85}} // 1 2 3 and 0 2 4 lie beside 0 1 2
	colors := [][]byte{{255, 0, 0}, {0, 255, 0}, {0, 0, 255}, {255, 255, 255}, {0, 0, 0}}
	vertex := func(data []byte, flag, i int) []byte {
		if flag >= 0 {
			data = append(data, byte(flag))
		}
		return append(appendPoint(data, corners[i][0], corners[i][1]), colors[i]...)
	}
	var free, lattice []byte
	for i, flag := range []int{0, 2, 1, 1} { // the flags of the second and third corner count for nothing
		free = vertex(free, flag, i)
	}
	for i := range 4 {
		lattice = vertex(lattice, -1, i)
	}
	tests := []struct {
		name string
		sd   types.StreamDict
		want [][3]int
	}{
		{"free", meshStream(t, 4, "/DeviceRGB", "", 3, free), [][3]int{{0, 1, 2}, {1, 2, 3}}},
		{"free, by 2", meshStream(t, 4, "/DeviceRGB", "", 3, vertex(free[:24:24], 2, 4)), [][3]int{{0, 1, 2}, {0, 2, 4}}},
		{"lattice", meshStream(t, 5, "/DeviceRGB", "/VerticesPerRow 2", 3, lattice), [][3]int{{0, 1, 2}, {1, 2, 3}}},
	}
	rng := rand.New(rand.NewPCG(9, 9))
	for _, test := range tests {
		for plane := range 4 {
			r := reader(t, cmyk)
			s, _ := r.Space(types.Name("DeviceRGB"), nil)
			o, err := r.Shading(test.sd, nil, Group{plane})
			if err != nil {
				t.Fatal(test.name, err)
			}
			points, tones := readMesh(t, r, o, 1)
			for range 300 {
				which := test.want[rng.IntN(2)]
				w := [3]float64{rng.Float64(), rng.Float64(), rng.Float64()}
				sum := w[0] + w[1] + w[2]
				var x, y float64
				c := make([]float64, 3)
				for i, at := range which {
					x += w[i] / sum * corners[at][0]
					y += w[i] / sum * corners[at][1]
					for j := range c {
						c[j] += w[i] / sum * float64(colors[at][j]) / 255
					}
				}
				tone, inside := 0.0, math.Inf(-1)
				for i, p := range points { // the triangle that holds the place
					b := barycentric(p, x, y)
					if in := min(b[0], b[1], b[2]); in > inside {
						inside = in
						tone = b[0]*tones[i][0][0] + b[1]*tones[i][1][0] + b[2]*tones[i][2][0]
					}
				}
				if inside < -0.01 {
					t.Fatalf("%s: no triangle at (%.1f,%.1f)", test.name, x, y)
				}
				if want := 1 - s.Paint(c).Share[plane]; !near(tone, want, 2.0/255) {
					t.Fatalf("%s, plane %d at (%.1f,%.1f): tone %v, want %v", test.name, plane, x, y, tone, want)
				}
			}
		}
	}
}

var patchCorners = [12][2]float64{{20, 20}, {10, 40}, {30, 60}, {20, 80}, {40, 95}, {60, 70}, {80, 85}, {95, 60}, {70, 40}, {85, 15}, {60, 5}, {40, 30}}

func bezier(p [4][2]float64, t float64) (out [2]float64) {
	u := 1 - t
	for i, w := range [4]float64{u * u * u, 3 * u * u * t, 3 * u * t * t, t * t * t} {
		out[0] += w * p[i][0]
		out[1] += w * p[i][1]
	}
	return out
}

// coons is the surface as ISO 32000-1, 8.7.4.5.7, defines it: S = SC + SD - SB, of the curves C1, C2 (by u) and D1, D2 (by v).
func coons(p [12][2]float64, u, v float64) (out [2]float64) {
	d1, c2 := [4][2]float64{p[0], p[1], p[2], p[3]}, [4][2]float64{p[3], p[4], p[5], p[6]}
	d2, c1 := [4][2]float64{p[9], p[8], p[7], p[6]}, [4][2]float64{p[0], p[11], p[10], p[9]}
	for k := range 2 {
		sc := (1-v)*bezier(c1, u)[k] + v*bezier(c2, u)[k]
		sd := (1-u)*bezier(d1, v)[k] + u*bezier(d2, v)[k]
		sb := (1-v)*((1-u)*p[0][k]+u*p[9][k]) + v*((1-u)*p[3][k]+u*p[6][k])
		out[k] = sc + sd - sb
	}
	return out
}

// tensor is the surface of a patch of type 7, points in the order of the data.
func tensor(points [][2]float64, u, v float64) (out [2]float64) {
	var p [4][4][2]float64
	for i, at := range patchOrder {
		p[at[0]][at[1]] = points[i]
	}
	var across [4][2]float64
	for i := range p {
		across[i] = bezier(p[i], v)
	}
	return bezier(across, u)
}

// across is what corner colours in the order of the data (00, 03, 33, 30) give in between (8.7.4.5.7).
func across(c [4][]float64, u, v float64) []float64 {
	out := make([]float64, len(c[0]))
	for i := range out {
		out[i] = (1-u)*((1-v)*c[0][i]+v*c[1][i]) + u*((1-v)*c[3][i]+v*c[2][i])
	}
	return out
}

// Coons patches become triangles that lie on the surface and have its colours, to a level in 255.
func TestShadingCoons(t *testing.T) {
	var data []byte
	data = append(data, 0)
	for _, p := range patchCorners {
		data = appendPoint(data, p[0], p[1])
	}
	data = append(data, 0, 0, 0, 0, 255, 0, 0, 51, 0, 255, 0, 102, 0, 0, 255, 153)
	// A second patch goes on from the first one's edge 3-6 and mirrors it.
	data = append(data, 1)
	second := [12][2]float64{
		patchCorners[3], patchCorners[4], patchCorners[5], patchCorners[6],
		{85, 90}, {88, 95}, {90, 99}, {70, 99}, {50, 98}, {30, 97}, {25, 93}, {22, 88},
	}
	for _, p := range second[4:] {
		data = appendPoint(data, p[0], p[1])
	}
	data = append(data, 10, 20, 30, 40, 50, 60, 70, 80)
	r := reader(t, cmyk)
	o, err := r.Shading(meshStream(t, 6, "/DeviceCMYK", "", 4, data), nil, Group{0, 3, 1})
	if err != nil {
		t.Fatal(err)
	}
	points, tones := readMesh(t, r, o, 3)
	wantTones := [4][]float64{{1, 1, 1}, {0, 0.8, 1}, {1, 0.6, 0}, {1, 0.4, 1}}
	secondTones := [4][]float64{wantTones[1], wantTones[2], {1 - 10.0/255, 1 - 40.0/255, 1 - 20.0/255}, {1 - 50.0/255, 1 - 80.0/255, 1 - 60.0/255}}
	for _, u := range []float64{0, 0.2, 0.5, 0.9, 1} {
		for _, v := range []float64{0, 0.3, 0.5, 0.7, 1} {
			for i, patch := range [][12][2]float64{patchCorners, second} {
				want := across([2][4][]float64{wantTones, secondTones}[i], u, v)
				if at := coons(patch, u, v); !paintedAs(points, tones, at, want, 1.5/255) {
					t.Errorf("patch %d at u %v, v %v: no triangle with tones %v at %v", i, u, v, want, at)
				}
			}
		}
	}
}

// A mesh with a function is split where the function bends; the parts lie where the whole lay.
func TestShadingPatchFunction(t *testing.T) {
	data := []byte{0}
	var sixteen [][2]float64
	for i, at := range patchOrder {
		p := [2]float64{10 + 25*float64(at[0]) + float64(i%3), 10 + 25*float64(at[1]) - float64(i%2)}
		sixteen = append(sixteen, p)
		data = appendPoint(data, p[0], p[1])
	}
	data = append(data, 0, 85, 255, 170) // t at 00, 03, 33, 30
	r := reader(t, cmyk, redToGreen, "<< /FunctionType 3 /Domain [0 1] /Bounds [0.5] /Encode [0 1 1 0] /Functions [10 0 R 10 0 R] >>")
	sd := meshStream(t, 7, "/DeviceRGB", "/Function 11 0 R", 1, data)
	f, err := r.function(ref(1))
	if err != nil {
		t.Fatal(err)
	}
	s, _ := r.Space(types.Name("DeviceRGB"), nil)
	o, err := r.Shading(sd, nil, Group{0})
	if err != nil {
		t.Fatal(err)
	}
	points, tones := readMesh(t, r, o, 1)
	rng := rand.New(rand.NewPCG(1, 1))
	for range 300 {
		u, v := rng.Float64(), rng.Float64()
		at := tensor(sixteen, u, v)
		tt := across([4][]float64{{0}, {1.0 / 3}, {1}, {2.0 / 3}}, u, v)[0]
		want := 1 - s.Paint(eval(f, tt)).Share[0]
		if !paintedAs(points, tones, at, []float64{want}, 2.0/255) {
			t.Fatalf("at u %.3f v %.3f, t %.3f: no triangle with tone %.3f at %v", u, v, tt, want, at)
		}
	}
}

func TestShadingFaults(t *testing.T) {
	r := reader(t, cmyk, redToGreen, "<< /FunctionType 3 /Domain [0 1] /Bounds [] /Encode [0 1] /Functions [11 0 R] >>")
	for _, text := range []string{
		"null", "<< >>", "<< /ShadingType 9 >>", "<< /ShadingType 2 /ColorSpace /DeviceRGB >>", "<< /ShadingType 2 /ColorSpace /DeviceCMYK /Function 10 0 R >>",
		"<< /ShadingType 2 /ColorSpace /Pattern /Function 10 0 R >>", "<< /ShadingType 1 /ColorSpace /DeviceRGB /Function 10 0 R >>",
		"<< /ShadingType 4 /ColorSpace /DeviceRGB >>", "<< /ShadingType 2 /ColorSpace /DeviceRGB /Function 11 0 R >>", "<< /ShadingType 2 /ColorSpace /DeviceRGB /Function [] >>",
	} {
		_, err := r.Shading(object(t, text), nil, Group{0})
		var f *raster.Fault
		if !errors.As(err, &f) {
			t.Errorf("%s: got error %v, want a fault", text, err)
		}
	}
	for name, sd := range map[string]types.StreamDict{
		"first flag":    meshStream(t, 4, "/DeviceRGB", "", 3, append([]byte{1}, make([]byte, 20)...)),
		"first patch":   meshStream(t, 6, "/DeviceRGB", "", 3, append([]byte{1}, make([]byte, 200)...)),
		"no row":        meshStream(t, 5, "/DeviceRGB", "", 3, make([]byte, 200)),
		"short decode":  meshStream(t, 4, "/DeviceRGB", "", 2, make([]byte, 200)),
		"two inputs":    meshStream(t, 4, "/DeviceRGB", "/Function [10 0 R 10 0 R]", 1, make([]byte, 200)),
		"no bits":       {Dict: object(t, "<< /ShadingType 4 /ColorSpace /DeviceRGB /Decode [0 1 0 1 0 1 0 1 0 1] >>").(types.Dict), Raw: []byte("x")},
		"cut off first": meshStream(t, 6, "/DeviceRGB", "", 3, append([]byte{0}, make([]byte, 45)...)),
	} {
		_, err := r.Shading(sd, nil, Group{0})
		var f *raster.Fault
		if !errors.As(err, &f) {
			t.Errorf("%s: got error %v, want a fault", name, err)
		}
	}
}
