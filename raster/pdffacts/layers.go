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

// layer is a group as the page uses it.
type layer struct {
	group
	box
}

func (l *layer) fact() raster.FactLayer {
	out := raster.FactLayer{Name: l.name, Prints: l.prints, Screen: l.screen, Painted: l.any}
	if l.any {
		out.Box = l.box.fact()
	}
	return out
}

// membership is what content belongs to: one group, or those of a membership dictionary.
type membership struct {
	layers []*layer
	prints bool
}

func (m *membership) paint(b box) {
	if m == nil {
		return
	}
	for _, l := range m.layers {
		l.join(b)
	}
}

// prints reports whether all layers that what is drawn now belongs to print.
func (r *run) prints() bool {
	hidden := func(m *membership) bool { return m != nil && !m.prints }
	return !slices.ContainsFunc(r.outer, hidden) && !slices.ContainsFunc(r.marks, hidden)
}

// beginMark follows marked content into layers (8.11.3.2).
func (r *run) beginMark(op string, args []pdfcontent.Token) {
	var m *membership
	if op == "BDC" && len(args) >= 2 && args[len(args)-2].Name() == "OC" {
		m = r.membership(r.find("Properties", args[len(args)-1].Name()))
	}
	if len(r.marks) < mostSaved {
		r.marks = append(r.marks, m)
	}
}

// membership finds the layers that a group or a membership dictionary (8.11.2.2) names; nil if it names none. Expressions of visibility
// are not worked out: what they hold is taken to print as the policy says.
func (w *walker) membership(o types.Object) *membership {
	d := w.Dict(o)
	if d == nil {
		return nil
	}
	if w.Name(d["Type"]) != "OCMD" {
		l := w.layer(o)
		return &membership{[]*layer{l}, l.prints}
	}
	groups := w.Array(d["OCGs"])
	if groups == nil && d["OCGs"] != nil {
		groups = types.Array{d["OCGs"]}
	}
	m := &membership{}
	on := 0
	for _, g := range groups {
		if w.Dict(g) == nil {
			continue
		}
		l := w.layer(g)
		m.layers = append(m.layers, l)
		if l.prints {
			on++
		}
	}
	if len(m.layers) == 0 {
		return nil
	}
	switch n := len(m.layers); w.Name(d["P"]) {
	case "AllOn":
		m.prints = on == n
	case "AnyOff":
		m.prints = on < n
	case "AllOff":
		m.prints = on == 0
	default:
		m.prints = on > 0
	}
	return m
}

func (w *walker) layer(o types.Object) *layer {
	g, ok := w.allGroups()[pdfvalue.NumberOf(o)]
	if !ok {
		g = group{name: w.Line(w.Dict(o)["Name"]), prints: true, screen: true}
	}
	l := w.layers[g.name]
	if l == nil {
		l = &layer{group: g}
		w.layers[g.name] = l
		w.order = append(w.order, l)
	}
	return l
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
