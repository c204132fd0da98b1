package pdfseparate

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"slices"

	"peelcheck/raster/pdfvalue"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

const (
	// mostObjects bounds the objects of a rewritten page.
	mostObjects = 200_000
	// mostBytes bounds what a rewritten page's own streams hold together.
	mostBytes = 1 << 30
	// mostNesting bounds colour spaces and expressions of layers within one another.
	mostNesting = 16
)

var errTooLarge = errors.New("the page refers to too many objects or repeats them too often")

// file is a PDF being put together. What is copied into it from the file that was read gets new numbers, each object once.
type file struct {
	pdfvalue.In
	objects []types.Object
	held    int
	copies  map[int]types.IndirectRef // by object number in x
	waiting []int                     // object numbers in x that have a new number but are not copied yet
	// shading turns each shading that is copied into what is put in for it, if it is set.
	shading func(types.Dict) types.Dict
	err     error
}

func newFile(x *model.XRefTable) *file {
	return &file{In: pdfvalue.In{Table: x}, copies: map[int]types.IndirectRef{}}
}

func (f *file) fail(err error) {
	if f.err == nil {
		f.err = err
	}
}

// add puts in an object that refers to new numbers only.
func (f *file) add(o types.Object) types.IndirectRef {
	if sd, ok := o.(types.StreamDict); ok {
		f.held += len(sd.Raw)
	}
	if f.objects = append(f.objects, o); len(f.objects) > mostObjects || f.held > mostBytes {
		f.fail(errTooLarge)
	}
	return *types.NewIndirectRef(len(f.objects), 0)
}

// reserve is a number for an object that is put in with set.
func (f *file) reserve() types.IndirectRef { return f.add(nil) }

func (f *file) set(ref types.IndirectRef, o types.Object) {
	if sd, ok := o.(types.StreamDict); ok {
		if f.held += len(sd.Raw); f.held > mostBytes {
			f.fail(errTooLarge)
		}
	}
	f.objects[ref.ObjectNumber-1] = o
}

// copy is o as the new file has it, and all that it refers to.
func (f *file) copy(o types.Object) types.Object {
	out := f.translate(o)
	for len(f.waiting) > 0 && f.err == nil {
		last := len(f.waiting) - 1
		nr := f.waiting[last]
		f.waiting = f.waiting[:last]
		f.set(f.copies[nr], f.translate(f.Deref(*types.NewIndirectRef(nr, 0))))
	}
	return out
}

// foreign are keys that lead to the rest of the file, or to what no renderer needs.
var foreign = map[string]bool{
	"Parent": true, "Metadata": true, "PieceInfo": true, "StructParent": true, "StructParents": true, "Alternates": true, "OPI": true,
}

// translate copies o; objects that it refers to are numbered and left waiting.
func (f *file) translate(o types.Object) types.Object {
	switch o := o.(type) {
	case types.IndirectRef:
		return f.reference(o)
	case types.Array:
		out := make(types.Array, len(o))
		for i, v := range o {
			out[i] = f.translate(v)
		}
		return out
	case types.Dict:
		return f.translateDict(o)
	case types.StreamDict:
		o.Dict = f.translateDict(o.Dict)
		return o
	}
	return o
}

func (f *file) translateDict(d types.Dict) types.Dict {
	out := make(types.Dict, len(d))
	switch d["Type"] {
	case types.Name("Page"), types.Name("Pages"), types.Name("Catalog"):
		return out
	}
	if f.shading != nil && d["ShadingType"] != nil {
		d = f.shading(d)
	}
	for _, k := range slices.Sorted(maps.Keys(d)) {
		if foreign[k] {
			continue
		}
		v := d[k]
		if sd, ok := v.(types.StreamDict); ok {
			v = f.add(f.translate(sd))
		} else {
			v = f.translate(v)
		}
		out[k] = v
	}
	return out
}

func (f *file) reference(o types.IndirectRef) types.Object {
	nr := int(o.ObjectNumber)
	ref, ok := f.copies[nr]
	if !ok {
		if f.err != nil {
			return nil
		}
		ref = f.reserve()
		f.copies[nr] = ref
		f.waiting = append(f.waiting, nr)
	}
	return ref
}

// bytes is the file, its catalog being object root.
func (f *file) bytes(root types.IndirectRef) []byte {
	var out bytes.Buffer
	out.Grow(f.held + 200*len(f.objects))
	out.WriteString("%PDF-1.7\n")
	offsets := make([]int, len(f.objects))
	for i, o := range f.objects {
		offsets[i] = out.Len()
		fmt.Fprintf(&out, "%d 0 obj\n", i+1)
		writeObject(&out, o)
		out.WriteString("\nendobj\n")
	}
	start := out.Len()
	fmt.Fprintf(&out, "xref\n0 %d\n0000000000 65535 f \n", len(offsets)+1)
	for _, at := range offsets {
		fmt.Fprintf(&out, "%010d 00000 n \n", at)
	}
	fmt.Fprintf(&out, "trailer\n<</Size %d /Root %s>>\nstartxref\n%d\n%%%%EOF\n", len(offsets)+1, root.PDFString(), start)
	return out.Bytes()
}

func writeObject(out *bytes.Buffer, o types.Object) {
	switch o := o.(type) {
	case nil:
		out.WriteString("null")
	case types.StreamDict:
		o.Dict["Length"] = types.Integer(len(o.Raw))
		out.WriteString(o.Dict.PDFString())
		out.WriteString("\nstream\n")
		out.Write(o.Raw)
		out.WriteString("\nendstream")
	default:
		out.WriteString(o.PDFString())
	}
}
