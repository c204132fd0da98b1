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

// readMesh reads what Shading wrote: points in the units of the Decode array and tones of 0 to 1.
func readMesh(t *testing.T, r *Reader, o types.Object, n, pointsEach, colorsEach int) (points [][][2]float64, tones [][][]float64) {
	t.Helper()
	sd := o.(types.StreamDict)
	decode := r.numbers(sd.Dict["Decode"])
	if len(decode) != 4+2*n || sd.Dict["BitsPerCoordinate"] != types.Integer(32) || sd.Dict["BitsPerComponent"] != types.Integer(16) || sd.Dict["Function"] != nil {
		t.Fatalf("mesh %v", sd.Dict)
	}
	in := bitReader{data: sd.Raw}
	for in.left() > 0 {
		var ps [][2]float64
		var cs [][]float64
		point := func() {
			x, y := float64(in.read(32))/math.MaxUint32, float64(in.read(32))/math.MaxUint32
			ps = append(ps, [2]float64{interpolate(x, 0, 1, decode[0], decode[1]), interpolate(y, 0, 1, decode[2], decode[3])})
		}
		color := func() {
			c := make([]float64, n)
			for i := range c {
				c[i] = float64(in.read(16)) / 65535
			}
			cs = append(cs, c)
		}
		if pointsEach == 1 {
			for range 3 {
				if in.read(8) != 0 {
					t.Fatal("a flag is not 0")
				}
				point()
				color()
			}
		} else {
			if in.read(8) != 0 {
				t.Fatal("a flag is not 0")
			}
			for range pointsEach {
				point()
			}
			for range colorsEach {
				color()
			}
		}
		points, tones = append(points, ps), append(tones, cs)
	}
	return points, tones
}

// barycentric gives the weights of p in a triangle.
func barycentric(t [][2]float64, x, y float64) [3]float64 {
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
			points, tones := readMesh(t, r, o, 1, 1, 1)
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

func TestShadingCoons(t *testing.T) {
	var data []byte
	data = append(data, 0)
	for _, p := range patchCorners {
		data = appendPoint(data, p[0], p[1])
	}
	data = append(data, 0, 0, 0, 0, 255, 0, 0, 51, 0, 255, 0, 102, 0, 0, 255, 153)
	// A second patch goes on from the first one's edge 3-6 and mirrors it.
	data = append(data, 1)
	for _, p := range [][2]float64{{85, 90}, {88, 95}, {90, 99}, {70, 99}, {50, 98}, {30, 97}, {25, 93}, {22, 88}} {
		data = appendPoint(data, p[0], p[1])
	}
	data = append(data, 10, 20, 30, 40, 50, 60, 70, 80)
	r := reader(t, cmyk)
	o, err := r.Shading(meshStream(t, 6, "/DeviceCMYK", "", 4, data), nil, Group{0, 3, 1})
	if err != nil {
		t.Fatal(err)
	}
	points, tones := readMesh(t, r, o, 3, 16, 4)
	if len(points) != 2 {
		t.Fatalf("%d patches, want the 2 that there were, since CMYK is painted as it is", len(points))
	}
	for _, u := range []float64{0, 0.2, 0.5, 0.9, 1} {
		for _, v := range []float64{0, 0.3, 0.5, 0.7, 1} {
			got, want := tensor(points[0], u, v), coons(patchCorners, u, v)
			if !near(got[0], want[0], 0.01) || !near(got[1], want[1], 0.01) {
				t.Errorf("at u %v, v %v: %v, want %v", u, v, got, want)
			}
		}
	}
	wantTones := [][]float64{{1, 1, 1}, {0, 0.8, 1}, {1, 0.6, 0}, {1, 0.4, 1}}
	for i, want := range wantTones {
		if !closeTo(tones[0][i], want, 1e-4) {
			t.Errorf("corner %d has tones %v, want %v", i, tones[0][i], want)
		}
	}
	for i := range 4 {
		if got, want := points[1][i], patchCorners[3+i]; !near(got[0], want[0], 0.01) || !near(got[1], want[1], 0.01) {
			t.Errorf("the second patch begins with %v, want %v", points[1][:4], patchCorners[3:7])
		}
	}
	if !closeTo(tones[1][0], wantTones[1], 1e-4) || !closeTo(tones[1][1], wantTones[2], 1e-4) || !closeTo(tones[1][2], []float64{1 - 10.0/255, 1 - 40.0/255, 1 - 20.0/255}, 1e-4) {
		t.Errorf("the second patch has tones %v", tones[1])
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
	points, tones := readMesh(t, r, o, 1, 16, 4)
	if len(points) < 4 {
		t.Fatalf("%d patches", len(points))
	}
	rng := rand.New(rand.NewPCG(1, 1))
	for range 300 {
		u, v := rng.Float64(), rng.Float64()
		at := tensor(sixteen, u, v)
		tt := (1-u)*((1-v)*0+v*1/3) + u*((1-v)*2/3+v)
		want := 1 - s.Paint(eval(f, tt)).Share[0]
		best, tone := math.Inf(1), 0.0
		for i, p := range points { // the nearest place of any patch
			for _, q := range [][2]float64{{0, 0}, {0, 1}, {1, 1}, {1, 0}, {.5, .5}} {
				place := tensor(p, q[0], q[1])
				if d := math.Hypot(place[0]-at[0], place[1]-at[1]); d < best {
					best = d
					tone = (1-q[0])*((1-q[1])*tones[i][0][0]+q[1]*tones[i][1][0]) + q[0]*((1-q[1])*tones[i][3][0]+q[1]*tones[i][2][0])
				}
			}
		}
		if reach := 0.06 + best*0.05; best > 8 || !near(tone, want, reach) {
			t.Fatalf("at u %.3f v %.3f, t %.3f: tone %.3f %.2f away, want %.3f", u, v, tt, tone, best, want)
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
