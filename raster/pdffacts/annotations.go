package pdffacts

import (
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster"
)

// Flags of an annotation (Table 165), by their values.
const (
	hidden = 1 << 1
	prints = 1 << 2
	noView = 1 << 5
)

// annotations notes those that show something: they have an appearance that is not empty. What those draw that print is part of the page.
func (w *walker) annotations(o types.Object) {
	for _, o := range w.Array(o) {
		d := w.Dict(o)
		sd, ok := w.appearance(d)
		if !ok || len(w.facts.Annotations) >= mostFacts {
			continue
		}
		r := w.Numbers(d["Rect"])
		if len(r) != 4 || w.Name(d["Subtype"]) == "Popup" {
			continue
		}
		b := w.frame.base.rectangle(r[0], r[1], r[2], r[3]).meet(w.frame.shown)
		if !b.any || sd.DecodeWithLimit(mostBytes) != nil || len(sd.Content) == 0 {
			continue
		}
		f, _ := w.Number(d["F"])
		flags := int(f)
		m := w.layer(d["OC"])
		a := raster.FactAnnotation{
			Kind: w.Name(d["Subtype"]), Box: b.fact(),
			Prints: flags&prints != 0 && flags&hidden == 0 && (m == nil || m.prints),
			Screen: flags&(hidden|noView) == 0,
		}
		w.facts.Annotations = append(w.facts.Annotations, a)
		if a.Prints {
			w.drawAppearance(sd, r, m)
		}
	}
}

// drawAppearance draws an appearance so that its box, as its matrix turns it, fills the annotation's rectangle (12.5.5).
func (w *walker) drawAppearance(sd types.StreamDict, rect []float64, member *layer) {
	from := w.Numbers(sd.Dict["BBox"])
	if len(from) != 4 {
		return
	}
	m := identity
	if v := w.Numbers(sd.Dict["Matrix"]); len(v) == 6 {
		m = matrix{v[0], v[1], v[2], v[3], v[4], v[5]}
	}
	turned := m.rectangle(from[0], from[1], from[2], from[3])
	var to box
	to.add(rect[0], rect[1])
	to.add(rect[2], rect[3])
	sx, sy := (to.x1-to.x0)/(turned.x1-turned.x0), (to.y1-to.y0)/(turned.y1-turned.y0)
	into := matrix{sx, 0, 0, sy, to.x0 - sx*turned.x0, to.y0 - sy*turned.y0}
	if !into.finite() {
		return
	}
	start := w.start()
	start.ctm = into.after(start.ctm)
	r := &run{walker: w, state: start}
	r.form(sd, 0, member)
}

// appearance is the normal appearance (12.5.5), that of the current state where there are several.
func (d *Document) appearance(annotation types.Dict) (types.StreamDict, bool) {
	normal := d.Dict(annotation["AP"])["N"]
	if sd, ok := d.Stream(normal); ok {
		return sd, true
	}
	return d.Stream(d.Dict(normal)[d.Name(annotation["AS"])])
}
