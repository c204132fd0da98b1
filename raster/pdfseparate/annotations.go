package pdfseparate

import (
	"fmt"
	"maps"
	"slices"

	"peelcheck/raster/pdfvalue"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// annotationKeys are what of an annotation its looks depend on.
var annotationKeys = []string{
	"Type", "Subtype", "Rect", "F", "AS", "Border", "BS", "BE", "QuadPoints", "InkList", "L", "LE", "Vertices", "CA", "ca", "OC", "FT", "Ff",
}

// mostAnnotations bounds the annotations of a page.
const mostAnnotations = 10_000

// annotations rewrites the appearance streams of a page's annotations (12.5.5), and their own colours for those that have none.
func (r *rewriter) annotations(page types.Dict, sc *scope, start state) types.Array {
	var out types.Array
	for i, o := range r.Array(page["Annots"]) {
		d := r.Dict(o)
		if d == nil {
			continue
		}
		if i >= mostAnnotations {
			r.fail(errTooLarge)
			break
		}
		if !r.isWhite(d["OC"]) {
			out = append(out, r.add(r.annotation(r.normal, d, sc, start)))
		} else if r.whiteAt >= 0 {
			out = append(out, r.add(r.annotation(r.forWhite, d, sc, start.withinWhite())))
		}
	}
	return out
}

func (r *rewriter) annotation(l *lens, d types.Dict, sc *scope, start state) types.Dict {
	out := types.Dict{}
	for _, key := range annotationKeys {
		if o := r.inheritedEntry(d, key); o != nil && (d[key] != nil || key == "FT" || key == "Ff") {
			out[key] = r.copy(o)
		}
	}
	for _, key := range []string{"C", "IC"} {
		if a := r.Array(d[key]); len(a) > 0 {
			out[key] = r.colourArray(l, a)
		}
	}
	if o := d["BM"]; o != nil {
		out["BM"] = r.blendMode(o)
	}
	layer := d["OC"]
	if l == r.normal {
		layer = nil
	}
	if n := r.appearance(r.Dict(d["AP"])["N"], sc, start, layer); n != nil {
		out["AP"] = types.Dict{"N": n}
	} else {
		r.inked = true // the renderer draws it
		r.splits = r.splits || l == r.forWhite && r.planes > 1
	}
	return out
}

// appearance rewrites a normal appearance: a form, or one for each state of the annotation. Its content is put into the layer, nil for none.
func (r *rewriter) appearance(o types.Object, sc *scope, start state, layer types.Object) types.Object {
	if sd, ok := r.Stream(o); ok {
		if ref, ok := r.appearanceForm(sd, pdfvalue.NumberOf(o), sc, start, layer); ok {
			return ref
		}
		return nil
	}
	forms := r.Dict(o)
	if forms == nil {
		return nil
	}
	out := types.Dict{}
	for _, name := range slices.Sorted(maps.Keys(forms)) {
		if sd, ok := r.Stream(forms[name]); ok {
			if ref, ok := r.appearanceForm(sd, pdfvalue.NumberOf(forms[name]), sc, start, layer); ok {
				out[name] = ref
			}
		}
	}
	return out
}

func (r *rewriter) appearanceForm(sd types.StreamDict, nr int, sc *scope, start state, layer types.Object) (types.IndirectRef, bool) {
	layers := []types.Object{layer}
	if r.isWhite(sd.Dict["OC"]) {
		start = start.withinWhite()
		layers = append(layers, sd.Dict["OC"])
	}
	ref, _, ok := r.form(sd, nr, start, sc, false)
	for _, layer := range layers {
		if ok && layer != nil {
			ref = r.inLayer(ref, layer)
		}
	}
	return ref, ok
}

// inLayer is a rewritten form with its content marked as that of a layer: the renderer does not ask whether an annotation's is on.
func (r *rewriter) inLayer(form types.IndirectRef, layer types.Object) types.IndirectRef {
	sd := r.objects[form.ObjectNumber-1].(types.StreamDict)
	sd.Dict = maps.Clone(sd.Dict)
	resources := maps.Clone(sd.Dict["Resources"].(types.Dict))
	properties, _ := resources["Properties"].(types.Dict)
	if properties = maps.Clone(properties); properties == nil {
		properties = types.Dict{}
	}
	named := fmt.Sprintf("Layer%d", form.ObjectNumber)
	properties[named] = r.copy(layer)
	resources["Properties"], sd.Dict["Resources"] = properties, resources
	sd.Raw = slices.Concat([]byte("/OC /"+named+" BDC\n"), sd.Raw, []byte("EMC\n"))
	return r.add(sd)
}

// colourArray is a colour of an annotation, grey, RGB or CMYK by its length (12.5.2), in the colour space of the output.
func (r *rewriter) colourArray(l *lens, a types.Array) types.Array {
	named := types.Name("DeviceGray")
	switch len(a) {
	case 3:
		named = "DeviceRGB"
	case 4:
		named = "DeviceCMYK"
	}
	space, err := l.colours.Space(named, nil)
	if err != nil {
		r.fail(err)
		return nil
	}
	var v []float64
	for _, o := range a {
		c, _ := r.Number(o)
		v = append(v, c)
	}
	i := r.inkOf(space.Paint(v))
	out := make(types.Array, r.planes)
	for p := range out {
		out[p] = types.Float(grey(i.share[p]))
	}
	return out
}
