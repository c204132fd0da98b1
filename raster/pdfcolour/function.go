package pdfcolour

import (
	"math"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// function is a PDF function (ISO 32000-1, 7.10). It is safe for concurrent use.
type function interface {
	sizes() (inputs, outputs int)
	// eval reads inputs and writes outputs; dst and in are long enough and do not overlap.
	eval(dst, in []float64)
}

const (
	// mostFunctions bounds the functions read for one colour space or shading: a stitching of 256 is already rare.
	mostFunctions = 10_000
	// mostSamples bounds the numbers of a sampled function: 33 steps in each of four inputs with four outputs are 4.7 million.
	mostSamples = 1 << 23
	// mostInterpolated bounds the inputs between whose samples one interpolates, because the work doubles with each.
	mostInterpolated = 12
)

func isFinite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

func clamp(v, lo, hi float64) float64 {
	if !(v > lo) { // also NaN
		return lo
	}
	return min(v, hi)
}

func clamp01(v float64) float64 { return clamp(v, 0, 1) }

func interpolate(x, x0, x1, y0, y1 float64) float64 {
	if x1 == x0 {
		return y0
	}
	return y0 + (x-x0)*(y1-y0)/(x1-x0)
}

// clipped holds Domain and Range of a function, pairs of least and most.
type clipped struct{ domain, rng []float64 }

func (c clipped) clipIn(dst, in []float64) {
	for i := range len(c.domain) / 2 {
		dst[i] = clamp(in[i], c.domain[2*i], c.domain[2*i+1])
	}
}

func (c clipped) clipOut(dst []float64) {
	for i := range len(c.rng) / 2 {
		dst[i] = clamp(dst[i], c.rng[2*i], c.rng[2*i+1])
	}
}

func (r *Reader) function(o types.Object) (function, error) {
	r.functions = 0
	return r.readFunction(o, 0)
}

// functionOf reads a function and checks its number of inputs and outputs.
func (r *Reader) functionOf(o types.Object, inputs, outputs int) (function, error) {
	f, err := r.function(o)
	if err != nil {
		return nil, err
	}
	if in, out := f.sizes(); in != inputs || out != outputs {
		return nil, fault("a colour function turns %d numbers into %d, where %d into %d is needed", in, out, inputs, outputs)
	}
	return f, nil
}

func (r *Reader) readFunction(o types.Object, depth int) (function, error) {
	if r.functions++; depth > mostNesting || r.functions > mostFunctions {
		return nil, fault("a colour function refers to itself or to too many others")
	}
	object := r.in.Deref(o)
	d := r.in.Dict(object)
	kind, ok := r.integer(d["FunctionType"], 0, 4)
	if d == nil || !ok {
		return nil, fault("a colour function is missing or of an unknown kind")
	}
	c := clipped{r.pairs(d["Domain"]), r.pairs(d["Range"])}
	if c.domain == nil || len(c.domain) > 2*maxComponents || len(c.rng) > 2*maxComponents {
		return nil, fault("a colour function does not say for which numbers it holds")
	}
	stream, isStream := object.(types.StreamDict)
	switch {
	case (kind == 0 || kind == 4) && (!isStream || c.rng == nil):
		return nil, fault("a colour function of type %d lacks its data or its range", kind)
	case (kind == 2 || kind == 3) && len(c.domain) != 2:
		return nil, fault("a colour function of type %d has %d inputs, where it must have 1", kind, len(c.domain)/2)
	}
	switch kind {
	case 0:
		return r.readSampled(stream, c)
	case 2:
		return r.readExponential(d, c)
	case 3:
		return r.readStitching(d, c, depth)
	case 4:
		return r.readCalculator(stream, c)
	}
	return nil, fault("a colour function is of the unknown kind %d", kind)
}

// pairs reads an array of pairs, each of which ascends; nil if it is none.
func (r *Reader) pairs(o types.Object) []float64 {
	v := r.numbers(o)
	if len(v) == 0 || len(v)%2 != 0 {
		return nil
	}
	for i := 0; i < len(v); i += 2 {
		if v[i] > v[i+1] {
			return nil
		}
	}
	return v
}

// sampled is a function of type 0 (7.10.2). Cubic splines (Order 3) are read as linear, as the standard lets readers do.
type sampled struct {
	clipped
	outputs int
	size    []int
	encode  []float64
	stride  []int     // in values, by input
	values  []float32 // decoded, outputs side by side, first input fastest
}

func (f *sampled) sizes() (int, int) { return len(f.size), f.outputs }

func (r *Reader) readSampled(sd types.StreamDict, c clipped) (function, error) {
	f := &sampled{clipped: c, outputs: len(c.rng) / 2}
	inputs := len(c.domain) / 2
	bits, ok := r.integer(sd.Dict["BitsPerSample"], 1, 32)
	sizes := r.numbers(sd.Dict["Size"])
	if v, single := r.in.Number(sd.Dict["Size"]); single {
		sizes = []float64{v}
	}
	if !ok || len(sizes) != inputs {
		return nil, fault("a sampled colour function does not say how many samples it has")
	}
	count, interpolated := f.outputs, 0
	for _, s := range sizes {
		if !(s >= 1 && s <= mostSamples) || count > mostSamples {
			return nil, fault("a sampled colour function has too many samples or none")
		}
		f.stride = append(f.stride, count)
		f.size = append(f.size, int(s))
		count *= int(s)
		if s > 1 {
			interpolated++
		}
		f.encode = append(f.encode, 0, s-1)
	}
	if count > mostSamples || interpolated > mostInterpolated {
		return nil, fault("a sampled colour function has too many samples")
	}
	if e := r.numbers(sd.Dict["Encode"]); len(e) == 2*inputs {
		f.encode = e
	}
	decode := c.rng
	if d := r.numbers(sd.Dict["Decode"]); len(d) == 2*f.outputs {
		decode = d
	}
	data, err := r.decode(sd, (count*bits+7)/8)
	if err != nil {
		return nil, err
	}
	if len(data) < (count*bits+7)/8 {
		return nil, fault("a sampled colour function ends before its last sample")
	}
	f.values = make([]float32, count)
	in := bitReader{data: data}
	most := math.Ldexp(1, bits) - 1
	for i := range f.values {
		o := i % f.outputs * 2
		f.values[i] = float32(interpolate(float64(in.read(bits)), 0, most, decode[o], decode[o+1]))
	}
	return f, nil
}

func (f *sampled) eval(dst, in []float64) {
	var x [maxComponents]float64
	f.clipIn(x[:], in)
	var frac [mostInterpolated]float64
	var step [mostInterpolated]int
	base, dims := 0, 0
	for i, size := range f.size {
		e := interpolate(x[i], f.domain[2*i], f.domain[2*i+1], f.encode[2*i], f.encode[2*i+1])
		e = clamp(e, 0, float64(size-1))
		low := min(int(e), max(size-2, 0))
		base += low * f.stride[i]
		if part := e - float64(low); size > 1 && part > 0 {
			frac[dims], step[dims] = part, f.stride[i]
			dims++
		}
	}
	clear(dst[:f.outputs])
	for corner := range 1 << dims {
		weight, at := 1.0, base
		for d := range dims {
			if corner>>d&1 == 1 {
				weight *= frac[d]
				at += step[d]
			} else {
				weight *= 1 - frac[d]
			}
		}
		for o := range f.outputs {
			dst[o] += weight * float64(f.values[at+o])
		}
	}
	f.clipOut(dst)
}

// exponential is a function of type 2 (7.10.3).
type exponential struct {
	clipped
	c0, c1 []float64
	n      float64
}

func (r *Reader) readExponential(d types.Dict, c clipped) (function, error) {
	f := &exponential{clipped: c, c0: []float64{0}, c1: []float64{1}}
	if v := r.numbers(d["C0"]); v != nil {
		f.c0 = v
	}
	if v := r.numbers(d["C1"]); v != nil {
		f.c1 = v
	}
	n, ok := r.in.Number(d["N"])
	f.n = n
	if !ok || len(f.c0) == 0 || len(f.c0) != len(f.c1) || len(f.c0) > maxComponents || len(c.rng) > 2*len(f.c0) {
		return nil, fault("a colour function of type 2 lacks its exponent, or its two ends differ in length")
	}
	return f, nil
}

func (f *exponential) sizes() (int, int) { return 1, len(f.c0) }

func (f *exponential) eval(dst, in []float64) {
	x := clamp(in[0], f.domain[0], f.domain[1])
	if f.n != 1 {
		x = math.Pow(x, f.n)
	}
	for i := range f.c0 {
		dst[i] = f.c0[i] + x*(f.c1[i]-f.c0[i])
		if !isFinite(dst[i]) {
			dst[i] = f.c0[i]
		}
	}
	f.clipOut(dst)
}

// stitching is a function of type 3 (7.10.4).
type stitching struct {
	clipped
	parts   []function
	bounds  []float64 // one more than parts: from the start of the domain to its end
	encode  []float64
	outputs int
}

func (r *Reader) readStitching(d types.Dict, c clipped, depth int) (function, error) {
	f := &stitching{clipped: c, encode: r.numbers(d["Encode"])}
	parts := r.in.Array(d["Functions"])
	bounds := r.numbers(d["Bounds"])
	if len(parts) == 0 || len(bounds) != len(parts)-1 || len(f.encode) < 2*len(parts) {
		return nil, fault("a colour function that joins others does not say where they meet")
	}
	for i, o := range parts {
		part, err := r.readFunction(o, depth+1)
		if err != nil {
			return nil, err
		}
		in, out := part.sizes()
		if i == 0 {
			f.outputs = out
		}
		if in != 1 || out != f.outputs || len(c.rng) > 2*out {
			return nil, fault("a colour function joins others that do not fit together")
		}
		f.parts = append(f.parts, part)
	}
	f.bounds = append(append([]float64{c.domain[0]}, bounds...), c.domain[1])
	for i := 1; i < len(f.bounds); i++ {
		if f.bounds[i] < f.bounds[i-1] {
			return nil, fault("a colour function joins others in no order")
		}
	}
	return f, nil
}

func (f *stitching) sizes() (int, int) { return 1, f.outputs }

func (f *stitching) eval(dst, in []float64) {
	x := clamp(in[0], f.domain[0], f.domain[1])
	i := 0
	for i < len(f.parts)-1 && x >= f.bounds[i+1] {
		i++
	}
	var inner [1]float64
	inner[0] = interpolate(x, f.bounds[i], f.bounds[i+1], f.encode[2*i], f.encode[2*i+1])
	f.parts[i].eval(dst, inner[:])
	f.clipOut(dst)
}

// joined are several functions of the same inputs, the outputs of which stand side by side.
type joined struct {
	parts           []function
	inputs, outputs int
}

func (f *joined) sizes() (int, int) { return f.inputs, f.outputs }

func (f *joined) eval(dst, in []float64) {
	for _, part := range f.parts {
		part.eval(dst, in)
		_, n := part.sizes()
		dst = dst[n:]
	}
}

// functions reads one function, or an array of them.
func (r *Reader) functionOrArray(o types.Object) (function, error) {
	a, ok := r.in.Deref(o).(types.Array)
	if !ok {
		return r.function(o)
	}
	r.functions = 0
	f := &joined{}
	for _, e := range a {
		part, err := r.readFunction(e, 1)
		if err != nil {
			return nil, err
		}
		in, out := part.sizes()
		if len(f.parts) > 0 && in != f.inputs || f.outputs+out > maxComponents {
			return nil, fault("the colour functions of a shading do not fit together")
		}
		f.inputs = in
		f.outputs += out
		f.parts = append(f.parts, part)
	}
	if len(f.parts) == 0 {
		return nil, fault("a shading has an empty list of colour functions")
	}
	return f, nil
}
