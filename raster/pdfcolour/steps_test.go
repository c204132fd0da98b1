package pdfcolour

import (
	"fmt"
	"testing"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// A shading in a soft mask keeps its colours, and has for each of the renderer's steps the colour of the step's middle: i + 1/2 of 255.
func TestSteps(t *testing.T) {
	r := reader(t, cmyk, "<< /FunctionType 2 /Domain [0 2] /C0 [-3 0.2] /C1 [5 0.2] /N 1 >>")
	source := object(t, "<< /ShadingType 3 /ColorSpace /DeviceGray /Coords [0 0 1 0 0 9] /Domain [0 2] /Function 10 0 R >>").(types.Dict)
	d := r.Steps(source)
	f, err := r.functionOf(d["Function"], 1, 2)
	if err != nil {
		t.Fatal(err)
	}
	if d["ColorSpace"] != types.Name("DeviceGray") || source["Function"] == d["Function"] {
		t.Errorf("shading %v of %v", d, source)
	}
	for i := range 256 {
		middle := (float64(i) + 0.5) / 255
		if i == 0 || i == 255 {
			middle = float64(i) / 255
		}
		if got := eval(f, float64(i)/256*2); !closeTo(got, []float64{-3 + 8*2*middle, 0.2}, 1e-3) {
			t.Fatalf("step %d has %v, want %v", i, got, -3+8*2*middle)
		}
	}
	for _, text := range []string{"<< /ShadingType 1 /Function 10 0 R >>", "<< /ShadingType 2 >>", "<< /ShadingType 2 /Function 9 0 R >>"} {
		d := object(t, text).(types.Dict)
		if got := r.Steps(d); fmt.Sprint(got) != fmt.Sprint(d) {
			t.Errorf("%s became %v", text, got)
		}
	}
}

// ISO 15076-1, 7.2: a profile names its colour space in bytes 16 to 19 and has "acsp" in bytes 36 to 39.
func TestProfileNote(t *testing.T) {
	profile := func(space, mark string) []byte {
		p := make([]byte, 132)
		copy(p[16:], space)
		copy(p[36:], mark)
		return p
	}
	tests := []struct {
		name string
		data []byte
		n    int
		want int // notes
	}{
		{"CMYK", profile("CMYK", "acsp"), 4, 0},
		{"RGB", profile("RGB ", "acsp"), 3, 0},
		{"grey", profile("GRAY", "acsp"), 1, 0},
		{"of another number", profile("RGB ", "acsp"), 4, 1},
		{"without its mark", profile("CMYK", ""), 4, 1},
		{"cut off", profile("CMYK", "acsp")[:100], 4, 1},
	}
	for _, test := range tests {
		r := reader(t, cmyk, stream(fmt.Sprintf("/N %d", test.n), test.data))
		s, err := r.Space(object(t, "[/ICCBased 10 0 R]"), nil)
		if err != nil || s.Components() != test.n || len(r.Notes()) != test.want {
			t.Errorf("%s: %v, notes %q, want %d", test.name, err, r.Notes(), test.want)
		}
	}
}
