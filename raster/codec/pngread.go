package codec

import (
	"fmt"
	"hash/crc32"
	"image/png"
	"io"
)

// Colour types (PNG, third edition, 11.2.1, table 9).
const (
	pngGrey      = 0
	pngRGB       = 2
	pngIndexed   = 3
	pngGreyAlpha = 4
	pngRGBA      = 6
)

// Errors in the words of image/png, which reads what is not streamed.
const (
	errOrder     = png.FormatError("chunk out of order")
	errChecksum  = png.FormatError("invalid checksum")
	errTooLittle = png.FormatError("not enough pixel data")
	errTooMuch   = png.FormatError("too much pixel data")
)

// pngReader reads the chunks of a file in order and as strictly as image/png.
type pngReader struct {
	rest              []byte // not yet read
	width, height     int
	depth, colourType byte
	colours           []byte // of PLTE, three bytes each
	clear             []byte // content of tRNS
	crc               uint32 // of the chunk being read
	left              uint32 // bytes of the IDAT chunk not yet read
}

// newPNGReader reads up to the first IDAT chunk. It is for files whose header chunk DecodeConfig has found sound.
func newPNGReader(data []byte) (*pngReader, error) {
	const headerEnd = 33
	r := &pngReader{
		rest:  data[headerEnd:],
		width: int(be.Uint32(data[16:])), height: int(be.Uint32(data[20:])),
		depth: data[24], colourType: data[25],
	}
	return r, r.readHead()
}

// readHead reads the chunks before the pixels, whose order is that of PNG, third edition, 5.6.
func (r *pngReader) readHead() error {
	for {
		typ, n, err := r.chunk()
		if err != nil {
			return err
		}
		switch typ {
		case "IHDR", "IEND":
			return errOrder
		case "PLTE":
			if r.colours != nil || r.clear != nil {
				return errOrder
			}
			err = r.readPLTE(n)
		case "tRNS":
			if r.clear != nil || (r.colourType == pngIndexed) != (r.colours != nil) && r.colourType != pngRGB {
				return errOrder
			}
			err = r.readTRNS(n)
		case "IDAT":
			if r.colourType == pngIndexed && r.colours == nil {
				return errOrder
			}
			r.left = n
			return nil
		default:
			err = r.skip(n)
		}
		if err != nil {
			return err
		}
	}
}

// chunk reads the length and type of a chunk.
func (r *pngReader) chunk() (typ string, n uint32, err error) {
	head, err := r.take(8)
	if err != nil {
		return "", 0, err
	}
	r.crc = crc32.ChecksumIEEE(head[4:])
	return string(head[4:]), be.Uint32(head), nil
}

// take reads n bytes or, where there are fewer, none.
func (r *pngReader) take(n int) ([]byte, error) {
	if n > len(r.rest) {
		return nil, io.ErrUnexpectedEOF
	}
	taken := r.rest[:n]
	r.rest = r.rest[n:]
	return taken, nil
}

// content reads n bytes of a chunk.
func (r *pngReader) content(n int) ([]byte, error) {
	body, err := r.take(n)
	r.crc = crc32.Update(r.crc, crc32.IEEETable, body)
	return body, err
}

// endChunk compares the checksum after a chunk (PNG, third edition, 5.5).
func (r *pngReader) endChunk() error {
	sum, err := r.take(4)
	if err == nil && be.Uint32(sum) != r.crc {
		err = errChecksum
	}
	return err
}

// skip reads the content of a chunk that does not matter here.
func (r *pngReader) skip(n uint32) error {
	const most = 1<<31 - 1 // PNG, third edition, 7.1
	if n > most {
		return png.FormatError(fmt.Sprintf("Bad chunk length: %d", n))
	}
	if _, err := r.content(int(n)); err != nil {
		return err
	}
	return r.endChunk()
}

// readPLTE reads the palette, which RGB and RGBA pictures may have and do not use (PNG, third edition, 11.2.2).
func (r *pngReader) readPLTE(n uint32) (err error) {
	if n%3 != 0 || n == 0 || n > 3*256 || int(n) > 3<<r.depth {
		return png.FormatError("bad PLTE length")
	}
	if r.colours, err = r.content(int(n)); err != nil {
		return err
	}
	if r.colourType == pngGrey || r.colourType == pngGreyAlpha {
		return png.FormatError("PLTE, color type mismatch")
	}
	return r.endChunk()
}

// readTRNS reads the alpha of a palette or the one colour that is transparent (PNG, third edition, 11.3.1.1).
func (r *pngReader) readTRNS(n uint32) (err error) {
	most, fixed := uint32(256), true
	switch r.colourType {
	case pngGrey:
		most = 2
	case pngRGB:
		most = 6
	case pngIndexed:
		fixed = false
	default:
		return png.FormatError("tRNS, color type mismatch")
	}
	if n > most || fixed && n != most {
		return png.FormatError("bad tRNS length")
	}
	if r.clear, err = r.content(int(n)); err != nil {
		return err
	}
	return r.endChunk()
}

// Read reads on in the IDAT chunks, whose content is one piece of data (PNG, third edition, 10.1 and 11.2.3).
func (r *pngReader) Read(p []byte) (int, error) {
	if len(p) == 0 {
		return 0, nil
	}
	for r.left == 0 {
		if err := r.endChunk(); err != nil {
			return 0, err
		}
		typ, n, err := r.chunk()
		if err != nil {
			return 0, err
		}
		if typ != "IDAT" {
			return 0, errTooLittle
		}
		r.left = n
	}
	n := min(len(p), int(r.left), len(r.rest))
	if n == 0 {
		return 0, io.ErrUnexpectedEOF
	}
	r.left -= uint32(n)
	body, err := r.content(n)
	return copy(p, body), err
}

// readTail reads from the end of the pixels to the end of the picture.
func (r *pngReader) readTail() error {
	if r.left != 0 {
		return errTooMuch
	}
	if err := r.endChunk(); err != nil {
		return err
	}
	for {
		typ, n, err := r.chunk()
		if err != nil {
			return err
		}
		switch typ {
		case "IHDR", "PLTE", "tRNS":
			return errOrder
		case "IEND":
			if n != 0 {
				return png.FormatError("bad IEND length")
			}
			return r.endChunk()
		}
		if err := r.skip(n); err != nil {
			return err
		}
	}
}

func (r *pngReader) pixelBits() int { return pngBitsPerPixel(r.depth, r.colourType) }

// rowBytes is the length of a row without its filter type.
func (r *pngReader) rowBytes() int { return (r.width*r.pixelBits() + 7) / 8 }
