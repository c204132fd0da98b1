package codec

import (
	"bufio"
	"compress/zlib"
	"io"

	"github.com/klauspost/compress/flate"

	"peelcheck/raster/adler"
)

// zlibReader inflates as zlib.Reader does, but for adding up zero bytes one by one for the checksum: most filtered bytes of artwork are zero.
// Its inflater takes an eighth to a fifth less time than the standard library's where it reads from a bufio.Reader.
type zlibReader struct {
	from    *bufio.Reader
	inflate io.Reader
	sum     uint32
	err     error // that ended it
}

// openZlib reads the header (RFC 1950, 2.2). Its errors are those of zlib.NewReader.
func openZlib(r io.Reader) (*zlibReader, error) {
	const (
		deflated   = 8
		mostWindow = 7
		dictionary = 0x20
	)
	z := &zlibReader{from: bufio.NewReader(r), sum: adler.OfNothing}
	var head [2]byte
	if _, err := io.ReadFull(z.from, head[:]); err != nil {
		return nil, unexpected(err)
	}
	if head[0]&0xf != deflated || head[0]>>4 > mostWindow || be.Uint16(head[:])%31 != 0 {
		return nil, zlib.ErrHeader
	}
	if head[1]&dictionary != 0 {
		if _, err := z.from.Discard(4); err != nil { // which one
			return nil, unexpected(err)
		}
		return nil, zlib.ErrDictionary
	}
	z.inflate = flate.NewReader(z.from)
	return z, nil
}

func (z *zlibReader) Read(p []byte) (n int, err error) {
	if z.err != nil {
		return 0, z.err
	}
	n, z.err = z.inflate.Read(p)
	z.sum = adler.Update(z.sum, p[:n])
	if z.err == io.EOF {
		z.err = z.check()
	}
	return n, z.err
}

// check compares the checksum behind the data; io.EOF if it is right.
func (z *zlibReader) check() error {
	var want [4]byte
	if _, err := io.ReadFull(z.from, want[:]); err != nil {
		return unexpected(err)
	}
	if be.Uint32(want[:]) != z.sum {
		return zlib.ErrChecksum
	}
	return io.EOF
}

func unexpected(err error) error {
	if err == io.EOF {
		return io.ErrUnexpectedEOF
	}
	return err
}
