// Package pdfobject writes the objects of a PDF file. Start at NewWriter.
package pdfobject

import (
	"bufio"
	"compress/zlib"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash"
	"io"
	"strconv"
	"strings"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// PointsPerMM is how many points of 1/72 inch a millimetre has.
const PointsPerMM = 72 / 25.4

// Writer writes pdfcpu's objects in the order they are given, streams as they are made, so that no stream is held in
// memory and the same objects give the same bytes. (pdfcpu's own writer takes objects in the order of a map.) The first
// error stays; later calls do nothing.
type Writer struct {
	out     *bufio.Writer
	sum     hash.Hash
	written int64
	offsets []int64 // by object number less one; 0 while the object is not written
	err     error
}

// NewWriter begins a file of PDF 1.7; comments are lines after the first two, by which a file can be known again.
func NewWriter(w io.Writer, comments ...string) *Writer {
	o := &Writer{out: bufio.NewWriterSize(w, 1<<16), sum: sha256.New()}
	// The second line tells programs that the file is binary (ISO 32000-1, 7.5.2).
	o.print("%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")
	for _, c := range comments {
		o.print("%" + c + "\n")
	}
	return o
}

// Err returns the first error.
func (o *Writer) Err() error { return o.err }

// Write writes bytes as they are.
func (o *Writer) Write(p []byte) (int, error) {
	if o.err != nil {
		return 0, o.err
	}
	n, err := o.out.Write(p)
	o.sum.Write(p[:n])
	o.written += int64(n)
	o.err = err
	return n, err
}

func (o *Writer) print(s string) { io.WriteString(o, s) }

// Reserve gives the next object number to an object that is written later.
func (o *Writer) Reserve() types.IndirectRef {
	o.offsets = append(o.offsets, 0)
	return *types.NewIndirectRef(len(o.offsets), 0)
}

func (o *Writer) begin(ref types.IndirectRef) {
	o.offsets[ref.ObjectNumber.Value()-1] = o.written
	o.print(fmt.Sprintf("%d 0 obj\n", ref.ObjectNumber.Value()))
}

// Object writes an object under a number that was reserved.
func (o *Writer) Object(ref types.IndirectRef, object types.Object) {
	o.begin(ref)
	text := "null"
	if object != nil {
		text = object.PDFString()
	}
	o.print(text + "\nendobj\n")
}

// Add writes an object under the next number.
func (o *Writer) Add(object types.Object) types.IndirectRef {
	ref := o.Reserve()
	o.Object(ref, object)
	return ref
}

// RawStream writes a stream whose bytes are encoded already, as its dictionary says.
func (o *Writer) RawStream(ref types.IndirectRef, dict types.Dict, raw []byte) {
	dict["Length"] = types.Integer(len(raw))
	o.begin(ref)
	o.print(dict.PDFString() + "\nstream\n")
	o.Write(raw)
	o.print("\nendstream\nendobj\n")
}

// FlateStream compresses what fill writes. Its length, known only afterwards, is an object of its own.
func (o *Writer) FlateStream(ref types.IndirectRef, dict types.Dict, fill func(io.Writer) error) {
	length := o.Reserve()
	dict["Length"], dict["Filter"] = length, types.Name("FlateDecode")
	o.begin(ref)
	o.print(dict.PDFString() + "\nstream\n")
	start := o.written
	z := zlib.NewWriter(o)
	err := fill(z)
	if closed := z.Close(); err == nil {
		err = closed
	}
	if o.err == nil {
		o.err = err
	}
	size := o.written - start
	o.print("\nendstream\nendobj\n")
	o.Object(length, types.Integer(size))
}

// AddFlate compresses content as a stream under the next number.
func (o *Writer) AddFlate(dict types.Dict, content string) types.IndirectRef {
	ref := o.Reserve()
	o.FlateStream(ref, dict, func(w io.Writer) error {
		_, err := io.WriteString(w, content)
		return err
	})
	return ref
}

// Finish writes the table of objects and the trailer. The file's identifier is a hash of all that comes before.
func (o *Writer) Finish(root, info types.IndirectRef) error {
	start := o.written
	id := types.HexLiteral(hex.EncodeToString(o.sum.Sum(nil)[:16]))
	o.print(fmt.Sprintf("xref\n0 %d\n0000000000 65535 f \n", len(o.offsets)+1))
	for i, at := range o.offsets {
		if at == 0 && o.err == nil {
			o.err = fmt.Errorf("object %d was never written (bug)", i+1)
		}
		o.print(fmt.Sprintf("%010d 00000 n \n", at))
	}
	trailer := types.Dict{"Size": types.Integer(len(o.offsets) + 1), "Root": root, "Info": info, "ID": types.Array{id, id}}
	o.print("trailer\n" + trailer.PDFString() + fmt.Sprintf("\nstartxref\n%d\n%%%%EOF\n", start))
	if o.err != nil {
		return o.err
	}
	return o.out.Flush()
}

// TextString is s as UTF-16 with its mark (ISO 32000-1, 7.9.2.2).
func TextString(s string) types.Object {
	return types.HexLiteral(fmt.Sprintf("%x", types.EncodeUTF16String(s)))
}

// Box is a rectangle of w x h points from the origin.
func Box(w, h float64) types.Array {
	return types.Array{types.Integer(0), types.Integer(0), types.Float(w), types.Float(h)}
}

// Operator writes numbers, to a ten-thousandth of a point at least, and the operator after them.
func Operator(b *strings.Builder, name string, numbers ...float64) {
	for _, n := range numbers {
		b.WriteString(strconv.FormatFloat(n, 'f', -1, 32))
		b.WriteByte(' ')
	}
	b.WriteString(name + "\n")
}
