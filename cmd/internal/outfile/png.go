package outfile

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/draw"
	"io"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	quick "github.com/klauspost/compress/flate"

	"peelcheck/raster/adler"
)

// Painter is an opaque picture that can be painted in parts, so that it is never held whole. Paint paints as much of it as dst
// covers and must be safe for concurrent use.
type Painter interface {
	image.Image
	Paint(dst *image.RGBA)
}

const (
	// bandBytes bounds the rows that are compressed together, apart from others.
	bandBytes = 1 << 20
	// packLevel is the quickest that keeps proofs small.
	packLevel = 1
)

// EncodePNG writes m, laid on white, as a PNG of 8 bit red, green and blue whose first text chunk names this program. A Painter is
// painted in bands, on all processors.
func EncodePNG(w io.Writer, m image.Image) error { return EncodePNGAt(w, m, 0) }

// EncodePNGAt is EncodePNG for a picture whose size is known: its pHYs chunk (PNG, Third Edition, 11.3.4.3) says ppi pixels an inch.
// With ppi 0 there is none.
func EncodePNGAt(w io.Writer, m image.Image, ppi float64) error {
	perMetre := math.Round(ppi / 0.0254)
	if !(perMetre >= 0 && perMetre < 1<<31) {
		return fmt.Errorf("outfile: %g pixels an inch cannot be written", ppi)
	}
	b := m.Bounds()
	if b.Empty() || b.Dx() >= 1<<24 || b.Dy() >= 1<<24 {
		return fmt.Errorf("outfile: a picture of %d x %d pixels cannot be written", b.Dx(), b.Dy())
	}
	p, ok := m.(Painter)
	if !ok {
		p = onWhite{m}
	}
	rows := min(b.Dy(), max(1, bandBytes/(1+3*b.Dx())))
	bands := make([]band, (b.Dy()+rows-1)/rows)
	onAllProcessors(len(bands), func() func(i int) {
		return func(i int) {
			b := banders.Get().(*bander)
			bands[i] = b.encode(p, i, rows)
			banders.Put(b)
		}
	})
	c := &chunks{w: w}
	_, c.err = io.WriteString(w, signature)
	c.write("IHDR", header(b.Dx(), b.Dy()))
	c.write("tEXt", []byte(stampText))
	if perMetre > 0 {
		c.write("pHYs", density(uint32(perMetre)))
	}
	sum := adler.OfNothing
	c.write("IDAT", []byte{0x78, 0x01})
	for _, b := range bands {
		c.write("IDAT", b.deflated)
		sum = adler.Join(sum, b.sum, b.size)
	}
	// An empty last block of fixed codes (RFC 1951, 3.2.3 and 3.2.6), the checksum.
	c.write("IDAT", binary.BigEndian.AppendUint32([]byte{0x03, 0x00}, sum))
	c.write("IEND", nil)
	return c.err
}

// onWhite paints any picture.
type onWhite struct{ image.Image }

func (m onWhite) Paint(dst *image.RGBA) {
	draw.Draw(dst, dst.Rect, image.White, image.Point{}, draw.Src)
	draw.Draw(dst, dst.Rect, m.Image, dst.Rect.Min, draw.Over)
}

// header is an IHDR chunk's data, PNG (Third Edition), 11.2.1: depth 8, colour type 2, not interlaced.
func header(w, h int) []byte {
	out := binary.BigEndian.AppendUint32(nil, uint32(w))
	return append(binary.BigEndian.AppendUint32(out, uint32(h)), 8, 2, 0, 0, 0)
}

// density is a pHYs chunk's data: pixels per unit across and down, and 1 for the metre.
func density(perMetre uint32) []byte {
	out := binary.BigEndian.AppendUint32(nil, perMetre)
	return append(binary.BigEndian.AppendUint32(out, perMetre), 1)
}

// chunks writes chunks until an error.
type chunks struct {
	w   io.Writer
	err error
}

func (c *chunks) write(kind string, data []byte) {
	if c.err != nil {
		return
	}
	head := append(binary.BigEndian.AppendUint32(nil, uint32(len(data))), kind...)
	sum := crc32.Update(crc32.ChecksumIEEE(head[4:]), crc32.IEEETable, data)
	for _, part := range [][]byte{head, data, binary.BigEndian.AppendUint32(nil, sum)} {
		if _, c.err = c.w.Write(part); c.err != nil {
			return
		}
	}
}

// band is some rows, deflated into whole blocks none of which is the last.
type band struct {
	deflated []byte
	sum      uint32 // Adler-32 of the filtered rows
	size     int    // of the filtered rows, in bytes
}

// bander encodes bands one by one.
type bander struct {
	pix, rows []byte
	out       bytes.Buffer
	deflaters [2]deflater // for even rows and for rough ones
}

type deflater interface {
	io.Writer
	Flush() error
	Reset(w io.Writer)
}

// banders keeps memory for the next picture: a library's proofs are many.
var banders = sync.Pool{New: func() any { return new(bander) }}

// encode paints and compresses the band i of bands of that many rows.
func (b *bander) encode(p Painter, i, rows int) band {
	all := p.Bounds()
	r := all
	r.Min.Y = all.Min.Y + i*rows
	r.Max.Y = min(all.Max.Y, r.Min.Y+rows)
	b.pix = slices.Grow(b.pix[:0], 4*r.Dx()*r.Dy())
	m := &image.RGBA{Pix: b.pix[:4*r.Dx()*r.Dy()], Stride: 4 * r.Dx(), Rect: r}
	p.Paint(m)
	row := 1 + 3*r.Dx()
	b.rows = slices.Grow(b.rows[:0], row*r.Dy()+spill)[:row*r.Dy()+spill]
	b.rows[0] = filterSub
	subRow(b.rows[1:row], m.Pix[:m.Stride])
	differ := 0
	for y := 1; y < r.Dy(); y++ {
		b.rows[y*row] = filterUp
		differ += upRow(b.rows[y*row+1:], m.Pix[y*m.Stride:][:m.Stride], m.Pix[(y-1)*m.Stride:][:m.Stride])
	}
	b.rows = b.rows[:row*r.Dy()]
	const some, of = 2, 7 // of a rough band's bytes more than two in seven differ from the row above
	return band{b.pack(of*differ > some*len(m.Pix)), adler.Update(adler.OfNothing, b.rows), len(b.rows)}
}

// pack deflates the rows into blocks that end on a whole byte. Photographs and screens are packed by another library in half the time, and a
// little smaller; all else it makes 5 to 12 % larger.
func (b *bander) pack(rough bool) []byte {
	b.out.Reset()
	d := &b.deflaters[0]
	if rough {
		d = &b.deflaters[1]
	}
	switch { // the level is one that there is
	case *d != nil:
		(*d).Reset(&b.out)
	case rough:
		*d, _ = quick.NewWriter(&b.out, packLevel)
	default:
		*d, _ = flate.NewWriter(&b.out, packLevel)
	}
	(*d).Write(b.rows) // into memory, which takes all
	(*d).Flush()
	return bytes.Clone(b.out.Bytes())
}

// Filters of a row, PNG (Third Edition), 9.2. The first row of a band is told from the pixel before, so that bands do not depend on
// one another; all others from the row above, which costs little and hardly more bytes than trying every filter.
const (
	filterSub = 1
	filterUp  = 2
)

func subRow(dst, row []byte) {
	var r, g, b byte
	for i, o := 0, 0; i+4 <= len(row); i, o = i+4, o+3 {
		dst[o], dst[o+1], dst[o+2] = row[i]-r, row[i+1]-g, row[i+2]-b
		r, g, b = row[i], row[i+1], row[i+2]
	}
}

// spill is how many bytes after a row upRow may write.
const spill = 2

// alike is a part of a row, in bytes, that is often as it is in the row above even where not all of the row is.
const alike = 64

// upRow takes the row above off a row and returns how many of its bytes lie in parts that differ. Most of most rows is as the row above,
// which costs a comparison.
func upRow(dst, row, above []byte) (differ int) {
	if bytes.Equal(row, above) {
		clear(dst[:len(row)/4*3])
		return 0
	}
	for len(row) > 0 {
		n := min(alike, len(row))
		if bytes.Equal(row[:n], above[:n]) {
			clear(dst[:n/4*3])
		} else {
			upPixels(dst, row[:n], above[:n])
			differ += n
		}
		dst, row, above = dst[n/4*3:], row[n:], above[n:]
	}
	return differ
}

// upPixels takes the pixels above off pixels, two at a time.
func upPixels(dst, row, above []byte) {
	const high = 0x80808080_80808080 // bits that must not borrow from the next byte
	i, o := 0, 0
	for ; i+8 <= len(row); i, o = i+8, o+6 {
		a, b := binary.LittleEndian.Uint64(row[i:]), binary.LittleEndian.Uint64(above[i:])
		d := ((a | high) - (b &^ high)) ^ ((a ^ ^b) & high)
		binary.LittleEndian.PutUint64(dst[o:], d&0xffffff|d>>8&0xffffff_000000)
	}
	for ; i+4 <= len(row); i, o = i+4, o+3 {
		dst[o], dst[o+1], dst[o+2] = row[i]-above[i], row[i+1]-above[i+1], row[i+2]-above[i+2]
	}
}

// onAllProcessors calls the workers that start makes, one a processor, for 0 to n-1, and waits. A panic in one is raised again in the
// caller.
func onAllProcessors(n int, start func() func(i int)) {
	var wg sync.WaitGroup
	var next atomic.Int64
	var fault atomic.Pointer[any]
	for range min(runtime.GOMAXPROCS(0), n) {
		wg.Go(func() {
			defer func() {
				if r := recover(); r != nil {
					fault.Store(&r)
				}
			}()
			work := start()
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				work(i)
			}
		})
	}
	wg.Wait()
	if r := fault.Load(); r != nil {
		panic(*r)
	}
}
