package pdffacts

import (
	"slices"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster"
	"peelcheck/raster/pdfcontent"
	"peelcheck/raster/pdfvalue"
)

// group is an optional-content group (8.11.2.1).
type group struct {
	name           string
	prints, screen bool
}

// layer is what shows and hides together, as the page uses it: a group, or what a membership dictionary makes of several.
type layer struct {
	group
	box
	formula bool // the name is a condition
}

func (l *layer) fact() raster.FactLayer {
	out := raster.FactLayer{Name: l.name, Formula: l.formula, Prints: l.prints, Screen: l.screen, Painted: l.any}
	if l.any {
		out.Box = l.box.fact()
	}
	return out
}

// paint notes what is painted in a layer, nil for none.
func (l *layer) paint(b box) {
	if l != nil {
		l.join(b)
	}
}

// prints reports whether all layers that what is drawn now belongs to print.
func (r *run) prints() bool {
	hidden := func(l *layer) bool { return l != nil && !l.prints }
	return !slices.ContainsFunc(r.outer, hidden) && !slices.ContainsFunc(r.marks, hidden)
}

// beginMark follows marked content into layers (8.11.3.2).
func (r *run) beginMark(op string, args []pdfcontent.Token) {
	var l *layer
	if op == "BDC" && len(args) >= 2 && args[len(args)-2].Name() == "OC" {
		l = r.layer(r.find("Properties", args[len(args)-1].Name()))
	}
	if len(r.marks) < mostSaved {
		r.marks = append(r.marks, l)
	}
}

// layer finds what content with o for its optional content belongs to; nil if that never hides it.
func (w *walker) layer(o types.Object) *layer {
	nr := pdfvalue.NumberOf(o)
	if l, ok := w.layerOf[nr]; ok && nr > 0 {
		return l
	}
	var l *layer
	if d := w.Dict(o); d != nil {
		if g, formula, ok := w.membership(o, d); ok {
			l = w.shared(g, formula)
		}
	}
	if nr > 0 {
		w.layerOf[nr] = l
	}
	return l
}

// shared is the one layer of a name and state.
func (w *walker) shared(g group, formula bool) *layer {
	for _, l := range w.layers[g.name] {
		if l.group == g && l.formula == formula {
			return l
		}
	}
	l := &layer{group: g, formula: formula}
	w.layers[g.name] = append(w.layers[g.name], l)
	w.order = append(w.order, l)
	return l
}

// group is a group of the file, with its state.
func (w *walker) group(o types.Object) group {
	if g, ok := w.allGroups()[pdfvalue.NumberOf(o)]; ok {
		return g
	}
	return group{name: w.Line(w.Dict(o)["Name"]), prints: true, screen: true}
}

// allGroups are the groups of the file with what its default configuration makes of them (8.11.4.3): BaseState, then ON, then OFF; for print and
// for the screen besides what a usage application dictionary (8.11.4.4) makes of each group's own usage.
func (d *Document) allGroups() map[int]group {
	if d.groups != nil {
		return d.groups
	}
	d.groups = map[int]group{}
	root, err := d.Table.Catalog()
	if err != nil {
		return d.groups
	}
	properties := d.Dict(root["OCProperties"])
	config := d.Dict(properties["D"])
	on := d.Name(config["BaseState"]) != "OFF"
	for _, o := range d.Array(properties["OCGs"]) {
		d.groups[pdfvalue.NumberOf(o)] = group{d.Line(d.Dict(o)["Name"]), on, on}
	}
	for _, list := range []struct {
		key string
		on  bool
	}{{"ON", true}, {"OFF", false}} {
		for _, o := range d.Array(config[list.key]) {
			if g, ok := d.groups[pdfvalue.NumberOf(o)]; ok {
				g.prints, g.screen = list.on, list.on
				d.groups[pdfvalue.NumberOf(o)] = g
			}
		}
	}
	for _, o := range d.Array(config["AS"]) {
		d.applyUsage(d.Dict(o))
	}
	return d.groups
}

func (d *Document) applyUsage(use types.Dict) {
	event := d.Name(use["Event"])
	key := map[string]string{"Print": "PrintState", "View": "ViewState"}[event]
	if key == "" || !slices.ContainsFunc(d.Array(use["Category"]), func(o types.Object) bool { return d.Name(o) == event }) {
		return
	}
	for _, o := range d.Array(use["OCGs"]) {
		nr := pdfvalue.NumberOf(o)
		g, ok := d.groups[nr]
		state := d.Name(d.Dict(d.Dict(d.Dict(o)["Usage"])[event])[key])
		if !ok || state == "" {
			continue
		}
		if event == "Print" {
			g.prints = state == "ON"
		} else {
			g.screen = state == "ON"
		}
		d.groups[nr] = g
	}
}
