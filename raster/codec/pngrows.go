package codec

import (
	"image"
	"image/png"
	"io"

	"peelcheck/raster"
)

// Rows go from the goroutine that inflates them to the one that makes pixels of them in batches of about batchBytes, so that
// they are still in the processor's cache there.
const (
	batchBytes  = 256 << 10
	mostBatches = 4
)

// segmentPx is how many pixels share a bit of raster.Picture.Drawn.
const segmentPx = 64

// streamPNG starts to decode into a picture, whose rows then arrive; ok is false for the kinds of PNG it does not cover.
func streamPNG(pic *raster.Picture, data []byte) (ok bool, err error) {
	const deepest = 8
	if string(data[12:16]) != "IHDR" || data[24] > deepest || data[28] != 0 {
		return false, nil
	}
	r, err := newPNGReader(data)
	if err != nil {
		return true, err
	}
	r.stream(pic, newConverter(r))
	return true, nil
}

// stream starts the goroutines that decode into pic.
func (r *pngReader) stream(pic *raster.Picture, pixels converter) {
	pic.Pix = image.NewNRGBA(image.Rect(0, 0, r.width, r.height))
	pic.Drawn = raster.NewBitmap((r.width+segmentPx-1)/segmentPx, r.height)
	arrival := pic.Arriving()
	b := newBatches(r)
	go func() {
		defer close(b.full)
		b.err = guard(func() error { return b.inflate(r) })
	}()
	go func() {
		defer close(b.quit)
		err := guard(func() error { return newPNGRows(r, pic, pixels).fill(b, arrival) })
		if err != nil {
			arrival.End(faultOf("png", err))
			return
		}
		arrival.End(nil)
	}()
}

// batches carry rows that are inflated but still filtered, each after its filter type.
type batches struct {
	rowBytes, rows int // of a row with its filter type, and the most in a batch
	full, free     chan []byte
	quit           chan struct{} // closed when no more rows are wanted
	err            error         // what ended the rows, for after full is closed
}

func newBatches(r *pngReader) *batches {
	b := &batches{rowBytes: 1 + r.rowBytes(), quit: make(chan struct{})}
	b.rows = min(r.height, max(1, batchBytes/b.rowBytes))
	n := min(mostBatches, (r.height+b.rows-1)/b.rows)
	b.full, b.free = make(chan []byte, n), make(chan []byte, n)
	for range n {
		b.free <- nil
	}
	return b
}

// buffer waits for a buffer for some rows; it is nil when no more are wanted.
func (b *batches) buffer(rows int) []byte {
	select {
	case buf := <-b.free:
		if buf == nil {
			buf = make([]byte, b.rows*b.rowBytes)
		}
		return buf[:min(rows, b.rows)*b.rowBytes]
	case <-b.quit:
		return nil
	}
}

// inflate sends all rows and reads the rest of the file.
func (b *batches) inflate(r *pngReader) error {
	z, err := openZlib(r)
	if err != nil {
		return err
	}
	for left := r.height; left > 0; left -= b.rows {
		buf := b.buffer(left)
		if buf == nil {
			return nil
		}
		n, err := io.ReadFull(z, buf)
		b.full <- buf[:n-n%b.rowBytes]
		if err == io.EOF || err == io.ErrUnexpectedEOF {
			return errTooLittle
		}
		if err != nil {
			return err
		}
	}
	if err := noneLeft(z); err != nil {
		return err
	}
	return r.readTail()
}

// noneLeft checks that the pixels were all there is, and their checksum.
func noneLeft(z io.Reader) error {
	const patience = 100 // with a reader that gives neither bytes nor an error
	var one [1]byte
	for range patience {
		n, err := z.Read(one[:])
		switch {
		case err != nil && err != io.EOF:
			return png.FormatError(err.Error())
		case n != 0:
			return errTooMuch
		case err == io.EOF:
			return nil
		}
	}
	return io.ErrNoProgress
}

// pngRows makes pixels of rows.
type pngRows struct {
	pic   *raster.Picture
	y     int    // of the next row
	above []byte // the row before it, unfiltered
	blank []bool // segments of the row before that are all zero
	// pixel and segment are the bytes of a whole pixel, at least one, and of segmentPx of them.
	pixel, segment int
	pixels         converter
	blankIsClear   bool // zero stands for a transparent pixel
	hasAlpha       bool
}

func newPNGRows(r *pngReader, pic *raster.Picture, pixels converter) *pngRows {
	p := &pngRows{
		pic:   pic,
		above: make([]byte, r.rowBytes()),
		blank: make([]bool, pic.Drawn.W),
		pixel: max(1, r.pixelBits()/8), segment: segmentPx * r.pixelBits() / 8,
		pixels: pixels,
	}
	for s := range p.blank { // the row above the first counts as zero (PNG, third edition, 9.2)
		p.blank[s] = true
	}
	var zero, out [4]byte
	drawn, _ := p.pixels.convert(out[:], zero[:p.pixel])
	p.blankIsClear = !drawn
	return p
}

// fill makes pixels of all rows.
func (p *pngRows) fill(b *batches, arrival *raster.Arrival) error {
	above := p.above
	for buf := range b.full {
		for rest := buf; len(rest) > 0; rest = rest[b.rowBytes:] {
			row := rest[1:b.rowBytes]
			if err := p.row(rest[0], row, above); err != nil {
				return err
			}
			above = row
		}
		above = p.above[:copy(p.above, above)]
		arrival.Reached(p.y)
		b.free <- buf
	}
	if b.err != nil {
		return b.err
	}
	p.pic.HasAlpha = p.hasAlpha
	return p.pixels.check()
}

// row undoes the filter of one row in place and makes its pixels. Where all are transparent it leaves both the pixels and their
// bit of Drawn alone: untouched memory costs nothing.
func (p *pngRows) row(filter byte, row, above []byte) error {
	if filter > filterPaeth {
		return png.FormatError("bad filter type")
	}
	pix, drawn := p.pic.Pix.Pix[p.y*p.pic.Pix.Stride:], p.pic.Drawn.Row(p.y)
	beforeBlank := true // the pixel before the segment is zero
	width := p.pic.Pix.Rect.Max.X
	for s := range p.blank {
		from, to := s*p.segment, min((s+1)*p.segment, len(row))
		blank := allZero(row[from:to])
		if filter != filterNone && !(blank && p.blank[s] && (beforeBlank || filter == filterUp)) {
			unfilter(filter, row, above, from, to, p.pixel)
			blank = allZero(row[from:to])
		}
		p.blank[s] = blank
		beforeBlank = blank || allZero(row[to-p.pixel:to])
		if blank && p.blankIsClear {
			p.hasAlpha = true
			continue
		}
		x0, x1 := s*segmentPx, min((s+1)*segmentPx, width)
		any, all := p.pixels.convert(pix[4*x0:4*x1], row[from:to])
		p.hasAlpha = p.hasAlpha || !all
		if any {
			drawn[s>>6] |= 1 << (s & 63)
		}
	}
	p.y++
	return nil
}

// allZero looks at 32 bytes at a time.
func allZero(b []byte) bool {
	for ; len(b) >= 32; b = b[32:] {
		if le.Uint64(b)|le.Uint64(b[8:])|le.Uint64(b[16:])|le.Uint64(b[24:]) != 0 {
			return false
		}
	}
	for _, v := range b {
		if v != 0 {
			return false
		}
	}
	return true
}
