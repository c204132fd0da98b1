package pdfcolour

import (
	"maps"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// Steps gives an axial or radial shading that stays in its own colours, as one in a soft mask, the function with which the renderer draws
// each step in the colour of its middle, as Shading does. Other shadings, and those that cannot be read, are given back as they are.
func (r *Reader) Steps(d types.Dict) types.Dict {
	if _, ok := r.integer(d["ShadingType"], 2, 3); !ok {
		return d
	}
	f, err := r.functionOrArray(d["Function"])
	if err != nil {
		return d
	}
	in, n := f.sizes()
	if in != 1 || n > maxComponents {
		return d
	}
	domain := []float64{0, 1}
	if v := r.numbers(d["Domain"]); len(v) == 2 {
		domain = v
	}
	values := make([]float64, n*(axisSteps+1))
	for i := range axisSteps + 1 {
		f.eval(values[n*i:n*(i+1)], []float64{stepMiddle(i, domain)})
	}
	ranges := toUnits(values, n)
	function := sampledFunction(domain, []int{axisSteps + 1}, n, values)
	function.Dict["Range"] = array(ranges)
	out := maps.Clone(d)
	out["Function"] = function
	return out
}

// toUnits stretches each of n outputs to 0 to 1 and gives their ranges before.
func toUnits(values []float64, n int) []float64 {
	ranges := make([]float64, 0, 2*n)
	for c := range n {
		least, most := values[c], values[c]
		for i := c; i < len(values); i += n {
			least, most = min(least, values[i]), max(most, values[i])
		}
		if most == least {
			most = least + 1
		}
		for i := c; i < len(values); i += n {
			values[i] = (values[i] - least) / (most - least)
		}
		ranges = append(ranges, least, most)
	}
	return ranges
}
