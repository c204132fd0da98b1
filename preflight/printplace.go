package preflight

import (
	_ "embed"
	"fmt"
	"slices"
	"strings"
	"sync"

	"github.com/goccy/go-yaml/ast"
)

// NoPlace asks for no place: sizes are then held against the sheet alone.
const NoPlace = "none"

// PrintPlace is a place on a garment that is printed on, with the largest design that it takes. It is data: built in or the shop's own.
type PrintPlace struct {
	Name   string `yaml:"name"`
	Title  string `yaml:"title,omitzero"`
	Width  Length `yaml:"width"`
	Height Length `yaml:"height"`
	Where  string `yaml:"where,omitzero"` // where on the garment, usually
	Note   string `yaml:"note,omitzero"`
	From   string `yaml:"-"` // "built in", or the shop's file
}

//go:embed places.yaml
var placesFile []byte

var builtInPlaces = sync.OnceValue(func() []PrintPlace {
	var shop ShopConfig
	body, err := parseYAML("places.yaml", placesFile)
	if err == nil {
		_, err = decodeKeys(yamlFile{"places.yaml"}, body, keys[ShopConfig]{"places": decodePlaces}, &shop)
	}
	if err != nil {
		panic("preflight: " + err.Error() + " (bug)")
	}
	for i := range shop.Places {
		shop.Places[i].From = builtIn
	}
	return shop.Places
})

// PrintPlaces returns the shop's own places, then those built in whose names it has not taken.
func PrintPlaces(own []PrintPlace) []PrintPlace {
	list := slices.Clone(own)
	for _, p := range builtInPlaces() {
		if !slices.ContainsFunc(own, func(o PrintPlace) bool { return o.Name == p.Name }) {
			list = append(list, p)
		}
	}
	return list
}

// PlaceByName returns the shop's own place of that name, else the one built in; nil for no name and for NoPlace. The error lists the names and
// offers the nearest.
func PlaceByName(name string, own []PrintPlace) (*PrintPlace, error) {
	if name == "" || name == NoPlace {
		return nil, nil
	}
	var names []string
	for _, p := range PrintPlaces(own) {
		if p.Name == strings.ToLower(strings.TrimSpace(name)) {
			return &p, nil
		}
		names = append(names, p.Name)
	}
	return nil, fmt.Errorf("no place %q: the places are %s, or none%s", name, strings.Join(names, ", "), didYouMean(name, names))
}

// Size is the largest design that the place takes, in millimetres.
func (p *PrintPlace) Size() SizeMM { return SizeMM{p.Width.MM(), p.Height.MM()} }

var placeKeys = keys[PrintPlace]{
	"name":  func(y yamlFile, n ast.Node, p *PrintPlace) (err error) { p.Name, err = y.id(n); return err },
	"title": func(y yamlFile, n ast.Node, p *PrintPlace) (err error) { p.Title, err = y.text(n); return err },
	"width": func(y yamlFile, n ast.Node, p *PrintPlace) error {
		return y.length(n, "width", &p.Width, maxSheetMM, false)
	},
	"height": func(y yamlFile, n ast.Node, p *PrintPlace) error {
		return y.length(n, "height", &p.Height, maxSheetMM, false)
	},
	"where": func(y yamlFile, n ast.Node, p *PrintPlace) (err error) { p.Where, err = y.text(n); return err },
	"note":  func(y yamlFile, n ast.Node, p *PrintPlace) (err error) { p.Note, err = y.text(n); return err },
}

// decodePlaces adds a file's places to those of the folders above, as decodeSheets does.
func decodePlaces(y yamlFile, n ast.Node, c *ShopConfig) error {
	items, err := y.list(n)
	if err != nil {
		return err
	}
	for _, item := range items {
		p := PrintPlace{From: "the file " + y.name}
		seen, err := decodeKeys(y, item, placeKeys, &p)
		if err != nil {
			return err
		}
		if err := y.require(item, seen, "the place", "name", "width", "height"); err != nil {
			return err
		}
		if p.Name == NoPlace {
			return y.fault(seen["name"], "no place can be called %q, which asks for none", NoPlace)
		}
		if slices.ContainsFunc(c.Places, func(o PrintPlace) bool { return o.Name == p.Name }) {
			return y.fault(seen["name"], "two places are called %q", p.Name)
		}
		c.Places = append(c.Places, p)
	}
	return nil
}

// Origin says where its size comes from: "common practice, no source" for those built in.
func (p *PrintPlace) Origin() string {
	if p.From == builtIn {
		return "built in; common practice, no source"
	}
	return p.From
}
