package pdffacts

import (
	"fmt"
	"strings"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// mostTerms bounds the groups and operators of one condition, mostInner how they lie within each other.
const mostTerms, mostInner = 1000, 32

// membership works out what a group or a membership dictionary (8.11.2.2) comes to. Its name is the condition under which it shows, unless it
// is a group's own; not ok if it hides nothing.
func (w *walker) membership(o types.Object, d types.Dict) (g group, formula, ok bool) {
	if w.Name(d["Type"]) != "OCMD" {
		return w.group(o), false, true
	}
	terms := mostTerms
	c, ok := w.expression(w.Array(d["VE"]), 0, &terms)
	if !ok { // a policy is what those follow that know no expressions
		c, ok = w.policy(d)
	}
	return group{name: c.words, prints: c.prints, screen: c.screen}, !c.plain, ok
}

// condition is whether something shows, and when it does.
type condition struct {
	words          string
	prints, screen bool
	plain          bool // it is a group that is on; the words are its name
	joined         bool // it is several joined by a word
}

// clause is the condition as part of another.
func (c condition) clause() string {
	switch {
	case c.plain:
		return fmt.Sprintf("%q is on", c.words)
	case c.joined:
		return "(" + c.words + ")"
	}
	return c.words
}

func (c condition) not() condition {
	out := condition{words: "not (" + c.words + ")", prints: !c.prints, screen: !c.screen}
	if c.plain {
		out.words = fmt.Sprintf("%q is off", c.words)
	}
	return out
}

// join joins conditions: all must hold, or any; not ok without one.
func join(list []condition, all bool) (c condition, ok bool) {
	if len(list) < 2 {
		return append(list, c)[0], len(list) == 1
	}
	words := make([]string, len(list))
	c.prints, c.screen, c.joined = all, all, true
	for i, one := range list {
		words[i] = one.clause()
		if all {
			c.prints, c.screen = c.prints && one.prints, c.screen && one.screen
		} else {
			c.prints, c.screen = c.prints || one.prints, c.screen || one.screen
		}
	}
	c.words = strings.Join(words, map[bool]string{true: " and ", false: " or "}[all])
	return c, true
}

func (w *walker) plain(o types.Object) condition {
	g := w.group(o)
	return condition{words: g.name, prints: g.prints, screen: g.screen, plain: true}
}

// policy works out the entries OCGs and P of Table 99; not ok where no group is named.
func (w *walker) policy(d types.Dict) (condition, bool) {
	groups := w.Array(d["OCGs"])
	if groups == nil && d["OCGs"] != nil {
		groups = types.Array{d["OCGs"]}
	}
	named := w.Name(d["P"])
	var list []condition
	for _, o := range groups[:min(len(groups), mostTerms)] {
		if w.Dict(o) == nil {
			continue
		}
		c := w.plain(o)
		if named == "AnyOff" || named == "AllOff" {
			c = c.not()
		}
		list = append(list, c)
	}
	return join(list, named == "AllOn" || named == "AllOff")
}

// expression works out a visibility expression; not ok for what is none.
func (w *walker) expression(e types.Array, depth int, terms *int) (condition, bool) {
	if len(e) < 2 || depth > mostInner {
		return condition{}, false
	}
	var list []condition
	for _, o := range e[1:] {
		if *terms--; *terms < 0 {
			return condition{}, false
		}
		inner := w.Array(o)
		switch {
		case inner != nil:
			c, ok := w.expression(inner, depth+1, terms)
			if !ok {
				return condition{}, false
			}
			list = append(list, c)
		case w.Dict(o) != nil:
			list = append(list, w.plain(o))
		}
	}
	switch w.Name(e[0]) {
	case "And":
		return join(list, true)
	case "Or":
		return join(list, false)
	case "Not":
		if len(list) == 1 {
			return list[0].not(), true
		}
	}
	return condition{}, false
}
