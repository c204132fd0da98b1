package printfile

import (
	"bufio"
	"compress/zlib"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash"
	"io"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

// objectWriter writes pdfcpu's objects in the order they are given, streams as they are made, so that no stream is held in
// memory and the same objects give the same bytes. (pdfcpu's own writer takes objects in the order of a map.) The first
// error stays; later calls do nothing.
type objectWriter struct {
	out     *bufio.Writer
	sum     hash.Hash
	written int64
	offsets []int64 // by object number less one; 0 while the object is not written
	err     error
}

func newObjectWriter(w io.Writer) *objectWriter {
	o := &objectWriter{out: bufio.NewWriterSize(w, 1<<16), sum: sha256.New()}
	// The second line tells programs that the file is binary (ISO 32000-1, 7.5.2).
	o.print("%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")
	return o
}

func (o *objectWriter) Write(p []byte) (int, error) {
	if o.err != nil {
		return 0, o.err
	}
	n, err := o.out.Write(p)
	o.sum.Write(p[:n])
	o.written += int64(n)
	o.err = err
	return n, err
}

func (o *objectWriter) print(s string) { io.WriteString(o, s) }

// reserve gives the next object number to an object that is written later.
func (o *objectWriter) reserve() types.IndirectRef {
	o.offsets = append(o.offsets, 0)
	return *types.NewIndirectRef(len(o.offsets), 0)
}

func (o *objectWriter) begin(ref types.IndirectRef) {
	o.offsets[ref.ObjectNumber.Value()-1] = o.written
	o.print(fmt.Sprintf("%d 0 obj\n", ref.ObjectNumber.Value()))
}

func (o *objectWriter) object(ref types.IndirectRef, object types.Object) {
	o.begin(ref)
	text := "null"
	if object != nil {
		text = object.PDFString()
	}
	o.print(text + "\nendobj\n")
}

func (o *objectWriter) add(object types.Object) types.IndirectRef {
	ref := o.reserve()
	o.object(ref, object)
	return ref
}

// rawStream writes a stream whose bytes are encoded already, as its dictionary says.
func (o *objectWriter) rawStream(ref types.IndirectRef, dict types.Dict, raw []byte) {
	dict["Length"] = types.Integer(len(raw))
	o.begin(ref)
	o.print(dict.PDFString() + "\nstream\n")
	o.Write(raw)
	o.print("\nendstream\nendobj\n")
}

// flateStream compresses what fill writes. Its length, known only afterwards, is an object of its own.
func (o *objectWriter) flateStream(ref types.IndirectRef, dict types.Dict, fill func(io.Writer) error) {
	length := o.reserve()
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
	o.object(length, types.Integer(size))
}

func (o *objectWriter) addFlate(dict types.Dict, content string) types.IndirectRef {
	ref := o.reserve()
	o.flateStream(ref, dict, func(w io.Writer) error {
		_, err := io.WriteString(w, content)
		return err
	})
	return ref
}

// finish writes the table of objects and the trailer. The file's identifier is a hash of all that comes before.
func (o *objectWriter) finish(root, info types.IndirectRef) error {
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
