// Package adler sums bytes up as Adler-32 does (RFC 1950, 8.2). Filtered rows of artwork are zero for the most part, which costs no
// more than a look.
package adler

import (
	"bytes"
	"hash/adler32"
)

// OfNothing is the checksum of no bytes.
const OfNothing = uint32(1)

// part is how many bytes are looked at together.
const part = 512

var zeros [part]byte

// Update adds bytes to a checksum.
func Update(sum uint32, p []byte) uint32 {
	for len(p) > 0 {
		head := p[:min(part, len(p))]
		own := uint32(len(head))<<16 | OfNothing // that of so many zero bytes
		if !bytes.Equal(head, zeros[:len(head)]) {
			own = adler32.Checksum(head)
		}
		sum = Join(sum, own, len(head))
		p = p[len(head):]
	}
	return sum
}

// Join is the checksum of two pieces in a row, of which the second has n bytes.
func Join(a, b uint32, n int) uint32 {
	const base = 65521
	one := uint64(a&0xffff) + base - 1 // less the 1 that the second sum began with
	low := (one + uint64(b&0xffff)) % base
	high := (uint64(a>>16) + uint64(b>>16) + uint64(n)%base*one) % base
	return uint32(high<<16 | low)
}
