package pdffacts

import (
	"slices"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster"
)

// Flags of an annotation (Table 165), by their values.
const (
	hidden = 1 << 1
	prints = 1 << 2
	noView = 1 << 5
)

// unlooked are the kinds that readers draw by themselves where the file gives no appearance (12.5.5, 12.5.6); of links, fields without content
// and things that play they show nothing.
var unlooked = []string{
	"Text", "FreeText", "Line", "Square", "Circle", "Polygon", "PolyLine", "Highlight", "Underline", "Squiggly", "StrikeOut", "Stamp", "Caret",
	"Ink", "FileAttachment",
}

// annotations notes those that show something or say something. What those draw that print is part of the page.
func (w *walker) annotations(o types.Object) {
	for _, o := range w.Array(o) {
		d := w.Dict(o)
		kind := w.Name(d["Subtype"])
		r := w.Numbers(d["Rect"])
		if len(r) != 4 || kind == "Popup" || d["StateModel"] != nil || len(w.facts.Annotations) >= mostFacts {
			continue // a state is what somebody has set for another note (12.5.6.3)
		}
		sd, looks := w.appearance(d)
		empty := looks && (sd.DecodeWithLimit(mostBytes) != nil || len(sd.Content) == 0)
		a := raster.FactAnnotation{Kind: kind, Bare: !looks}
		switch {
		case slices.Contains(unlooked, kind):
			a.Text = w.Line(d["Contents"])
		case kind == "Widget" && !looks:
			a.Text = w.fieldValue(d)
		}
		place := w.frame.base.rectangle(r[0], r[1], r[2], r[3])
		b := place.meet(w.frame.shown)
		if a.Text == "" && (empty || !b.any || !looks && !slices.Contains(unlooked, kind)) {
			continue
		}
		f, _ := w.Number(d["F"])
		flags := int(f)
		l := w.layer(d["OC"])
		a.Prints = b.any && !empty && flags&prints != 0 && flags&hidden == 0 && (l == nil || l.prints)
		a.Screen = flags&(hidden|noView) == 0
		if a.Box = place.fact(); b.any {
			a.Box = b.fact()
		}
		w.facts.Annotations = append(w.facts.Annotations, a)
		if a.Prints && looks {
			w.drawAppearance(sd, r, l)
		}
	}
}

// fieldValue is what a field was filled with (12.7.3), empty if that is no text.
func (w *walker) fieldValue(field types.Dict) string {
	for range mostDepth {
		if v := w.Line(field["V"]); v != "" || field == nil {
			return v
		}
		field = w.Dict(field["Parent"])
	}
	return ""
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
