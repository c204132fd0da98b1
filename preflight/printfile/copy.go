package printfile

import (
	"errors"
	"fmt"
	"maps"
	"slices"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// leftOut are entries of form and image XObjects that lead out of the page, or that have printers take something else.
var leftOut = []string{"StructParent", "StructParents", "PieceInfo", "Metadata", "LastModified", "OPI", "Ref", "Alternates"}

// copier copies objects of another PDF with all they refer to, each once, in the order they are met.
type copier struct {
	*document
	from        *model.Context
	refs        map[int]types.IndirectRef // by the object's old number
	todo        []types.IndirectRef       // met but not copied, old numbers
	translucent bool                      // something copied may paint half transparent
}

// copyRest writes the objects that were met on the way, and those met with them.
func (c *copier) copyRest() error {
	for len(c.todo) > 0 {
		old := c.todo[0]
		c.todo = c.todo[1:]
		if err := c.copyObject(old); err != nil {
			return err
		}
	}
	return nil
}

func (c *copier) copyObject(old types.IndirectRef) error {
	object, err := c.from.Dereference(old)
	if err != nil {
		return err
	}
	ref := c.refs[old.ObjectNumber.Value()]
	if stream, ok := object.(types.StreamDict); ok {
		return c.stream(ref, &stream)
	}
	if object, err = c.value(object); err != nil {
		return err
	}
	c.Object(ref, object)
	if dict, ok := object.(types.Dict); ok && isType(dict, "OCG") {
		on, err := c.isOn(old)
		if err != nil {
			return err
		}
		c.layers = append(c.layers, layer{ref, on})
	}
	return nil
}

func (c *copier) stream(ref types.IndirectRef, stream *types.StreamDict) error {
	if subtype := stream.Subtype(); subtype != nil && *subtype == "PS" {
		return errors.New("it holds PostScript, which cannot be embedded safely")
	}
	if stream.Dict["F"] != nil {
		return errors.New("part of it lies in another file: embed everything and export it again")
	}
	for _, f := range stream.FilterPipeline {
		if f.Name == "Crypt" {
			return errors.New("part of it is encrypted in a way of its own")
		}
	}
	kept := maps.Clone(stream.Dict)
	for _, key := range leftOut {
		delete(kept, key)
	}
	dict, err := c.dict(kept)
	if err != nil {
		return err
	}
	c.RawStream(ref, dict, stream.Raw)
	return c.Err()
}

func (c *copier) value(object types.Object) (types.Object, error) {
	switch o := object.(type) {
	case types.IndirectRef:
		return c.ref(o)
	case types.Dict:
		if isType(o, "Page") || isType(o, "Pages") || isType(o, "Catalog") {
			return nil, nil
		}
		return c.dict(o)
	case types.Array:
		out := make(types.Array, len(o))
		for i, v := range o {
			var err error
			if out[i], err = c.value(v); err != nil {
				return nil, err
			}
		}
		return out, nil
	case nil, types.Boolean, types.Integer, types.Float, types.Name, types.StringLiteral, types.HexLiteral:
		return object, nil
	}
	return nil, fmt.Errorf("object of kind %T where none can be", object)
}

func (c *copier) dict(dict types.Dict) (types.Dict, error) {
	c.translucent = c.translucent || c.paintsThrough(dict)
	out := make(types.Dict, len(dict))
	for _, key := range slices.Sorted(maps.Keys(dict)) {
		v, err := c.value(dict[key])
		if err != nil {
			return nil, err
		}
		if v != nil {
			out[key] = v
		}
	}
	return out, nil
}

// ref is the new number of an object, which is copied later if it is met for the first time.
func (c *copier) ref(old types.IndirectRef) (types.Object, error) {
	number := old.ObjectNumber.Value()
	if ref, ok := c.refs[number]; ok {
		return ref, nil
	}
	object, err := c.from.Dereference(old)
	if err != nil || object == nil {
		return nil, err
	}
	ref := c.Reserve()
	c.refs[number] = ref
	c.todo = append(c.todo, old)
	return ref, nil
}

// paintsThrough reports whether a graphics state or a picture paints half transparent or has a soft edge.
func (c *copier) paintsThrough(dict types.Dict) bool {
	if mask := dict["SMask"]; mask != nil && mask != types.Name("None") || dict["SMaskInData"] != nil {
		return true
	}
	for _, key := range []string{"ca", "CA"} {
		if object, ok := dict[key]; ok {
			if v, err := c.from.DereferenceNumber(object); err == nil && v < 1 {
				return true
			}
		}
	}
	return false
}

func isType(dict types.Dict, name string) bool {
	t := dict.Type()
	return t != nil && *t == name
}

// isOn reports whether a layer shows by default (ISO 32000-1, 8.11.4.3: BaseState, then ON, then OFF).
func (c *copier) isOn(group types.IndirectRef) (bool, error) {
	catalog, err := c.from.Catalog()
	if err != nil {
		return false, err
	}
	properties, err := c.from.DereferenceDict(catalog["OCProperties"])
	if err != nil || properties == nil {
		return true, err
	}
	config, err := c.from.DereferenceDict(properties["D"])
	if err != nil {
		return false, err
	}
	base, err := c.from.Dereference(config["BaseState"])
	if err != nil {
		return false, err
	}
	on := base != types.Name("OFF")
	for _, list := range []struct {
		key string
		on  bool
	}{{"ON", true}, {"OFF", false}} {
		groups, err := c.from.DereferenceArray(config[list.key])
		if err != nil {
			return false, err
		}
		for _, g := range groups {
			if ref, ok := g.(types.IndirectRef); ok && ref.ObjectNumber == group.ObjectNumber {
				on = list.on
			}
		}
	}
	return on, nil
}
