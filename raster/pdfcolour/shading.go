package pdfcolour

import (
	"encoding/binary"
	"maps"
	"math"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

const (
	// axisSteps is how often PDFium looks at the colours along an axial or radial shading. From i/255 to (i+1)/255 of the way it draws
	// the colour at i/256 (its constant kShadingSteps), so that a shading ends short of its last colour; see alongAxis.
	axisSteps = 256
	// planeSamples is how often, each way, the colours of a shading by a function of place are sampled. Between samples they are
	// interpolated: off by less than 1 level in 255 where the colour changes by less than 256 levels from one side to the other.
	planeSamples = 257
	// halfLevel makes up for the renderer's cutting off of the tones of meshes and of shadings by a function of place.
	halfLevel = 0.5 / 255
)

// Shading rewrites a shading dictionary or stream, or a reference to one, so that its colours are the planes of g: DeviceGray for one,
// DeviceRGB for three. Shadings of types 1 to 3 get a sampled function (257 samples along an axis, 257 x 257 on a plane, 16 bits each);
// meshes are written anew as triangles with a colour for each corner, split where the shares do not run straight between them. Function of the result
// is a stream rather than a reference to one: the writer makes it an object of its own. A shading that cannot be read is a *raster.Fault.
func (r *Reader) Shading(o types.Object, resources types.Dict, g Group) (types.Object, error) {
	if err := r.checkGroup(g); err != nil {
		return nil, err
	}
	object := r.in.Deref(o)
	d := maps.Clone(r.in.Dict(object))
	kind, ok := r.integer(d["ShadingType"], 1, 7)
	if !ok {
		return nil, fault("a shading is missing or of an unknown kind")
	}
	s, err := r.shader(d, resources, g)
	if err != nil {
		return nil, err
	}
	if background := r.numbers(d["Background"]); len(background) == s.space.Components() {
		d["Background"] = array(s.spaceTones(background))
	} else {
		delete(d, "Background")
	}
	d["ColorSpace"] = types.Name("DeviceGray")
	if len(g) == 3 {
		d["ColorSpace"] = types.Name("DeviceRGB")
	}
	stream, isStream := object.(types.StreamDict)
	switch {
	case kind >= 4 && isStream:
		stream.Dict = d
		return s.mesh(stream, kind)
	case kind >= 4:
		return nil, fault("a shading of type %d has no data", kind)
	case s.function == nil:
		return nil, fault("a shading of type %d has no colours", kind)
	case kind == 1:
		d["Function"], err = s.onPlane(d)
	default:
		d["Function"], err = s.alongAxis(d)
	}
	if err != nil {
		return nil, err
	}
	return d, nil
}

// shader turns a colour or a parameter of a shading into tones of the group's planes, 1 being no ink.
type shader struct {
	r        *Reader
	group    Group
	space    space
	function function // nil if the colours are given outright
	color    [maxComponents]float64
	shares   []float64
}

func (r *Reader) shader(d types.Dict, resources types.Dict, g Group) (*shader, error) {
	space, err := r.space(d["ColorSpace"], resources)
	if err != nil {
		return nil, err
	}
	s := &shader{r: r, group: g, space: space, shares: make([]float64, len(r.planes))}
	if space.Components() == 0 {
		return nil, fault("a shading is painted with a pattern")
	}
	if d["Function"] == nil {
		return s, nil
	}
	if s.function, err = r.functionOrArray(d["Function"]); err != nil {
		return nil, err
	}
	if _, out := s.function.sizes(); out != space.Components() {
		return nil, fault("a shading's function gives %d numbers, where its colour space has %d", out, space.Components())
	}
	return s, nil
}

// inputs is how many numbers tones takes.
func (s *shader) inputs() int {
	if s.function == nil {
		return s.space.Components()
	}
	in, _ := s.function.sizes()
	return in
}

func (s *shader) tones(in []float64) []float64 {
	if s.function == nil {
		return s.spaceTones(in)
	}
	s.function.eval(s.color[:], in)
	return s.spaceTones(s.color[:s.space.Components()])
}

func (s *shader) spaceTones(c []float64) []float64 {
	s.space.shares(s.shares, c)
	out := make([]float64, len(s.group))
	for i, plane := range s.group {
		out[i] = 1 - s.shares[plane]
	}
	return out
}

// linear reports whether the tones run straight between two colours, so that a mesh need not be split.
func (s *shader) linear() bool {
	if s.function != nil {
		return false
	}
	if isIndexed(s.space) {
		return false
	}
	for _, plane := range s.group {
		if _, ok := direct(s.space, plane); !ok {
			return false
		}
	}
	return true
}

func array(v []float64) types.Array {
	a := make(types.Array, len(v))
	for i, x := range v {
		a[i] = types.Float(x)
	}
	return a
}

func (s *shader) domain(d types.Dict, inputs int) ([]float64, error) {
	domain := []float64{0, 1, 0, 1}[:2*inputs]
	if v := s.r.numbers(d["Domain"]); len(v) == 2*inputs {
		domain = v
	}
	if in, _ := s.function.sizes(); in != inputs {
		return nil, fault("a shading's function takes %d numbers, where %d are needed", in, inputs)
	}
	return domain, nil
}

// alongAxis gives the renderer, where it looks for the colours of a step, those in the middle of the step, and those of the ends at the ends:
// what is drawn is at most 1/510 of the axis away from where it should be.
func (s *shader) alongAxis(d types.Dict) (types.Object, error) {
	domain, err := s.domain(d, 1)
	if err != nil {
		return nil, err
	}
	values := make([]float64, 0, (axisSteps+1)*len(s.group))
	for i := range axisSteps + 1 {
		values = append(values, s.tones([]float64{stepMiddle(i, domain)})...)
	}
	return sampledFunction(domain, []int{axisSteps + 1}, len(s.group), values), nil
}

// stepMiddle is where in its domain a shading has the colour for the renderer's step i, see alongAxis.
func stepMiddle(i int, domain []float64) float64 {
	if i == 0 {
		return domain[0]
	}
	return interpolate(min(float64(i)+0.5, axisSteps-1), 0, axisSteps-1, domain[0], domain[1])
}

func (s *shader) onPlane(d types.Dict) (types.Object, error) {
	domain, err := s.domain(d, 2)
	if err != nil {
		return nil, err
	}
	values := make([]float64, 0, planeSamples*planeSamples*len(s.group))
	for j := range planeSamples {
		y := interpolate(float64(j), 0, planeSamples-1, domain[2], domain[3])
		for i := range planeSamples {
			x := interpolate(float64(i), 0, planeSamples-1, domain[0], domain[1])
			for _, v := range s.tones([]float64{x, y}) {
				values = append(values, v+halfLevel)
			}
		}
	}
	return sampledFunction(domain, []int{planeSamples, planeSamples}, len(s.group), values), nil
}

// sampledFunction is a function of type 0 with values of 0 to 1.
func sampledFunction(domain []float64, size []int, outputs int, values []float64) types.StreamDict {
	data := make([]byte, 0, 2*len(values))
	for _, v := range values {
		data = binary.BigEndian.AppendUint16(data, uint16(math.Round(65535*clamp01(v))))
	}
	sizes := make(types.Array, len(size))
	for i, n := range size {
		sizes[i] = types.Integer(n)
	}
	return types.StreamDict{Raw: data, Dict: types.Dict{
		"FunctionType": types.Integer(0), "BitsPerSample": types.Integer(16), "Size": sizes,
		"Domain": array(domain), "Range": unitPairs(outputs), "Length": types.Integer(len(data)),
	}}
}

func unitPairs(n int) types.Array {
	a := make(types.Array, 0, 2*n)
	for range n {
		a = append(a, types.Integer(0), types.Integer(1))
	}
	return a
}
