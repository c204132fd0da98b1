package pdfcolour

import (
	"maps"
	"slices"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// mostVisited bounds the objects that are looked at for a page's colorants.
const mostVisited = 200_000

// Colorants are the names of every spot colorant that a page can paint: those of the colour spaces, images, shadings and patterns that its
// content, its forms, glyphs, soft masks and annotations name, whether or not they are used. They come in the order of these resources,
// each by its name. All, None and the colorants of the process are left out.
func Colorants(x *model.XRefTable, page types.Dict) ([]string, error) {
	w, err := walk(x, page)
	return w.names, err
}

// OptionalContent are the dictionaries of optional content (8.11) that a page can name: those of the property lists, forms and images of its
// resources and all within, and of its annotations, in this order. There are groups among them, membership dictionaries, and others.
func OptionalContent(x *model.XRefTable, page types.Dict) ([]types.Object, error) {
	w, err := walk(x, page)
	return w.layers, err
}

func walk(x *model.XRefTable, page types.Dict) (*walker, error) {
	w := &walker{r: NewReader(x, nil, Curves{}), seen: map[int]bool{}}
	w.resources(w.inherited(page, "Resources"), 0)
	for _, o := range w.r.in.Array(page["Annots"]) {
		d := w.r.in.Dict(o)
		w.layer(d["OC"], 0)
		w.appearance(d["AP"], 0)
	}
	if w.visited > mostVisited {
		return w, fault("a page refers to more than %d objects", mostVisited)
	}
	return w, nil
}

// walker looks at each object once.
type walker struct {
	r       *Reader
	seen    map[int]bool
	visited int
	names   []string
	layers  []types.Object
}

// enter reports whether an object is to be looked at.
func (w *walker) enter(o types.Object, depth int) bool {
	if w.visited++; o == nil || depth > 2*mostNesting || w.visited > mostVisited {
		return false
	}
	ref, ok := o.(types.IndirectRef)
	if !ok {
		return true
	}
	if nr := int(ref.ObjectNumber); !w.seen[nr] {
		w.seen[nr] = true
		return true
	}
	return false
}

// inherited looks for key in a page and in the nodes above it.
func (w *walker) inherited(page types.Dict, key string) types.Object {
	for range 4 * mostNesting {
		if o, ok := page[key]; ok {
			return o
		}
		if page = w.r.in.Dict(page["Parent"]); page == nil {
			break
		}
	}
	return nil
}

// each calls visit for the entries of a dictionary by their names.
func (w *walker) each(o types.Object, depth int, visit func(o types.Object, depth int)) {
	if !w.enter(o, depth) {
		return
	}
	d := w.r.in.Dict(o)
	for _, key := range slices.Sorted(maps.Keys(d)) {
		visit(d[key], depth+1)
	}
}

func (w *walker) resources(o types.Object, depth int) {
	if !w.enter(o, depth) {
		return
	}
	d := w.r.in.Dict(o)
	for _, kind := range []struct {
		key   string
		visit func(o types.Object, depth int)
	}{
		{"ColorSpace", w.space}, {"XObject", w.drawn}, {"Pattern", w.pattern}, {"Shading", w.colored}, {"ExtGState", w.state}, {"Font", w.font}, {"Properties", w.layer},
	} {
		w.each(d[kind.key], depth+1, kind.visit)
	}
}

// drawn looks at a form, a group or an image.
func (w *walker) drawn(o types.Object, depth int) {
	if !w.enter(o, depth) {
		return
	}
	d := w.r.in.Dict(o)
	w.layer(d["OC"], depth+1)
	w.space(d["ColorSpace"], depth+1)
	w.resources(d["Resources"], depth+1)
}

func (w *walker) layer(o types.Object, depth int) {
	if w.enter(o, depth) {
		w.layers = append(w.layers, o)
	}
}

func (w *walker) pattern(o types.Object, depth int) {
	if !w.enter(o, depth) {
		return
	}
	d := w.r.in.Dict(o)
	w.resources(d["Resources"], depth+1)
	w.colored(d["Shading"], depth+1)
	w.state(d["ExtGState"], depth+1)
}

// colored looks at what has a colour space and no resources.
func (w *walker) colored(o types.Object, depth int) {
	if w.enter(o, depth) {
		w.space(w.r.in.Dict(o)["ColorSpace"], depth+1)
	}
}

func (w *walker) state(o types.Object, depth int) {
	if !w.enter(o, depth) {
		return
	}
	d := w.r.in.Dict(o)
	w.drawn(w.r.in.Dict(d["SMask"])["G"], depth+1)
	if a := w.r.in.Array(d["Font"]); len(a) > 0 {
		w.font(a[0], depth+1)
	}
}

func (w *walker) font(o types.Object, depth int) {
	if !w.enter(o, depth) {
		return
	}
	d := w.r.in.Dict(o)
	w.resources(d["Resources"], depth+1) // of Type 3 fonts, whose glyphs have none of their own but in damaged files
	w.each(d["CharProcs"], depth+1, w.drawn)
}

// appearance looks at an annotation's appearances: forms, or forms by state.
func (w *walker) appearance(o types.Object, depth int) {
	w.each(o, depth, func(o types.Object, depth int) {
		if _, isForm := w.r.in.Deref(o).(types.StreamDict); isForm {
			w.drawn(o, depth)
			return
		}
		w.each(o, depth, w.drawn)
	})
}

func (w *walker) space(o types.Object, depth int) {
	if !w.enter(o, depth) {
		return
	}
	a := w.r.in.Array(o)
	if len(a) < 2 {
		return
	}
	switch family := w.r.in.Name(a[0]); family {
	case "Separation", "DeviceN":
		names, err := w.r.colorantNames(a[1])
		if err != nil {
			return // what cannot be read is not painted; the one who paints is told
		}
		for _, name := range names {
			_, process := w.r.index(name)
			if !process && name != "All" && name != "None" && !slices.Contains(w.names, name) {
				w.names = append(w.names, name)
			}
		}
	case "Indexed", "Pattern":
		w.space(a[1], depth+1)
	}
}
