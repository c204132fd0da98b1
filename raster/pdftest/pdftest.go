// Package pdftest writes small PDF files from their objects, for tests only.
package pdftest

import (
	"bytes"
	"fmt"
)

// File writes objects 1, 2, ... from their bodies, with the table that says where they lie (ISO 32000-1, 7.5); object 1 is the catalog.
func File(objects ...string) []byte {
	var out bytes.Buffer
	out.WriteString("%PDF-1.7\n")
	offsets := make([]int, len(objects))
	for i, body := range objects {
		offsets[i] = out.Len()
		fmt.Fprintf(&out, "%d 0 obj\n%s\nendobj\n", i+1, body)
	}
	table := out.Len()
	fmt.Fprintf(&out, "xref\n0 %d\n0000000000 65535 f \n", len(objects)+1)
	for _, offset := range offsets {
		fmt.Fprintf(&out, "%010d 00000 n \n", offset)
	}
	fmt.Fprintf(&out, "trailer\n<< /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n", len(objects)+1, table)
	return out.Bytes()
}

// Stream is the body of a stream, its dictionary's other entries being keys.
func Stream(keys, data string) string {
	return fmt.Sprintf("<< %s /Length %d >>\nstream\n%s\nendstream", keys, len(data), data)
}
