// Package pdfvalue looks up objects of a PDF as lenient readers do: what is missing or of another kind is nothing.
//
// Start with In.
package pdfvalue

import (
	"math"
	"strings"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// mostNesting bounds references to references.
const mostNesting = 16

// In looks up objects of one file, which it does not change.
type In struct{ Table *model.XRefTable }

// Deref follows references; what cannot be read is nil.
func (in In) Deref(o types.Object) types.Object {
	for range mostNesting {
		if _, ok := o.(types.IndirectRef); !ok {
			return o
		}
		next, err := in.Table.Dereference(o)
		if err != nil {
			return nil
		}
		o = next
	}
	return nil
}

// Dict is a dictionary, also a stream's; nil for other objects.
func (in In) Dict(o types.Object) types.Dict {
	switch o := in.Deref(o).(type) {
	case types.Dict:
		return o
	case types.StreamDict:
		return o.Dict
	}
	return nil
}

// Stream is a stream, its data as the file has them.
func (in In) Stream(o types.Object) (types.StreamDict, bool) {
	sd, ok := in.Deref(o).(types.StreamDict)
	return sd, ok
}

// Name is a name without its slash; empty for other objects.
func (in In) Name(o types.Object) string {
	n, _ := in.Deref(o).(types.Name)
	return string(n)
}

// Array is an array; nil for other objects.
func (in In) Array(o types.Object) types.Array {
	a, _ := in.Deref(o).(types.Array)
	return a
}

// Number is a finite number.
func (in In) Number(o types.Object) (float64, bool) {
	switch o := in.Deref(o).(type) {
	case types.Integer:
		return float64(o), true
	case types.Float:
		return float64(o), !math.IsInf(float64(o), 0) && !math.IsNaN(float64(o))
	}
	return 0, false
}

// Numbers are the numbers of an array, 0 for what is none.
func (in In) Numbers(o types.Object) []float64 {
	a := in.Array(o)
	out := make([]float64, len(a))
	for i := range a {
		out[i], _ = in.Number(a[i])
	}
	return out
}

// Bool is a truth value; false for other objects.
func (in In) Bool(o types.Object) bool {
	b, _ := in.Deref(o).(types.Boolean)
	return bool(b)
}

// Line is a text string (ISO 32000-1, 7.9.2.2) in one line; empty for other objects.
func (in In) Line(o types.Object) string {
	text, err := model.Text(in.Deref(o))
	if err != nil {
		return ""
	}
	return strings.Join(strings.Fields(strings.ToValidUTF8(text, "?")), " ")
}

// NumberOf is the object number of a reference, 0 for other objects.
func NumberOf(o types.Object) int {
	if ref, ok := o.(types.IndirectRef); ok {
		return int(ref.ObjectNumber)
	}
	return 0
}
