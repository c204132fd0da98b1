package pdfseparate

import (
	"maps"
	"slices"

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
	for i, o := range r.array(page["Annots"]) {
		d := r.dict(o)
		if d == nil {
			continue
		}
		if i >= mostAnnotations {
			r.fail(errTooLarge)
			break
		}
		out = append(out, r.add(r.annotation(d, sc, start)))
	}
	return out
}

func (r *rewriter) annotation(d types.Dict, sc *scope, start state) types.Dict {
	out := types.Dict{}
	for _, key := range annotationKeys {
		if o := r.inheritedEntry(d, key); o != nil && (d[key] != nil || key == "FT" || key == "Ff") {
			out[key] = r.copy(o)
		}
	}
	for _, key := range []string{"C", "IC"} {
		if a := r.array(d[key]); len(a) > 0 {
			out[key] = r.colourArray(a)
		}
	}
	if o := d["BM"]; o != nil {
		out["BM"] = r.blendMode(o)
	}
	if n := r.appearance(r.dict(d["AP"])["N"], sc, start); n != nil {
		out["AP"] = types.Dict{"N": n}
	} else {
		r.inked = true // the renderer draws it
	}
	return out
}

// appearance rewrites a normal appearance: a form, or one for each state of the annotation.
func (r *rewriter) appearance(o types.Object, sc *scope, start state) types.Object {
	if sd, ok := r.stream(o); ok {
		if ref, _, ok := r.form(sd, numberOf(o), start, sc, false); ok {
			return ref
		}
		return nil
	}
	forms := r.dict(o)
	if forms == nil {
		return nil
	}
	out := types.Dict{}
	for _, name := range slices.Sorted(maps.Keys(forms)) {
		if sd, ok := r.stream(forms[name]); ok {
			if ref, _, ok := r.form(sd, numberOf(forms[name]), start, sc, false); ok {
				out[name] = ref
			}
		}
	}
	return out
}

// colourArray is a colour of an annotation, grey, RGB or CMYK by its length (12.5.2), in the colour space of the output.
func (r *rewriter) colourArray(a types.Array) types.Array {
	named := types.Name("DeviceGray")
	switch len(a) {
	case 3:
		named = "DeviceRGB"
	case 4:
		named = "DeviceCMYK"
	}
	space, err := r.colours.Space(named, nil)
	if err != nil {
		r.fail(err)
		return nil
	}
	var v []float64
	for _, o := range a {
		c, _ := r.number(o)
		v = append(v, c)
	}
	i := r.inkOf(space.Paint(v))
	out := make(types.Array, r.planes)
	for p := range out {
		out[p] = types.Float(grey(i.share[p]))
	}
	return out
}
