package codec

// Filter types (PNG, third edition, 9.2, table 10).
const (
	filterNone  = 0
	filterSub   = 1
	filterUp    = 2
	filterMean  = 3
	filterPaeth = 4
)

// unfilter undoes a filter in place for the bytes from to to-1 of a row, the ones before them being done (PNG, third edition, 9.2).
// pixel is the number of bytes of a whole pixel, at least 1; from is a multiple of it.
func unfilter(filter byte, row, above []byte, from, to, pixel int) {
	var before, aboveBefore [4]byte // of the pixel left of the first there is: zero
	if from > 0 {
		copy(before[:], row[from-pixel:from])
		copy(aboveBefore[:], above[from-pixel:from])
	}
	row, above = row[from:to], above[from:to]
	switch filter {
	case filterSub:
		undoSub(row, before, pixel)
	case filterUp:
		undoUp(row, above)
	case filterMean:
		undoMean(row, above, before, pixel)
	case filterPaeth:
		undoPaeth(row, above, before, aboveBefore, pixel)
	}
}

// The bits of four bytes, for working on all of them at once without one running over into the next.
const (
	lowBits  = 0x7f7f7f7f
	highBits = 0x80808080
)

// addBytes adds byte by byte, modulo 256.
func addBytes(a, b uint32) uint32 { return (a&lowBits + b&lowBits) ^ (a^b)&highBits }

// meanBytes is the mean of each two bytes, rounded down.
func meanBytes(a, b uint32) uint32 { return a&b + (a^b)>>1&lowBits }

func undoUp(row, above []byte) {
	const low, high = lowBits<<32 | lowBits, highBits<<32 | highBits
	for len(row) >= 8 && len(above) >= 8 {
		a, b := le.Uint64(row), le.Uint64(above)
		le.PutUint64(row, (a&low+b&low)^(a^b)&high)
		row, above = row[8:], above[8:]
	}
	for i, b := range above[:len(row)] {
		row[i] += b
	}
}

func undoSub(row []byte, before [4]byte, pixel int) {
	left := le.Uint32(before[:])
	switch pixel {
	case 4:
		for ; len(row) >= 4; row = row[4:] {
			left = addBytes(le.Uint32(row), left)
			le.PutUint32(row, left)
		}
	case 3:
		for ; len(row) >= 3; row = row[3:] {
			left = addBytes(load3(row), left)
			store3(row, left)
		}
	default:
		for k, left := range before[:pixel] {
			for i := k; i < len(row); i += pixel {
				left += row[i]
				row[i] = left
			}
		}
	}
}

func undoMean(row, above []byte, before [4]byte, pixel int) {
	left := le.Uint32(before[:])
	switch pixel {
	case 4:
		for len(row) >= 4 && len(above) >= 4 {
			left = addBytes(le.Uint32(row), meanBytes(left, le.Uint32(above)))
			le.PutUint32(row, left)
			row, above = row[4:], above[4:]
		}
	case 3:
		for len(row) >= 3 && len(above) >= 3 {
			left = addBytes(load3(row), meanBytes(left, load3(above)))
			store3(row, left)
			row, above = row[3:], above[3:]
		}
	default:
		above = above[:len(row)]
		for k, left := range before[:pixel] {
			for i := k; i < len(row); i += pixel {
				left = row[i] + uint8((int(left)+int(above[i]))/2)
				row[i] = left
			}
		}
	}
}

func undoPaeth(row, above []byte, before, aboveBefore [4]byte, pixel int) {
	a, c := before, aboveBefore
	switch pixel {
	case 4: // one after the other, for the processor to work on all four at once
		a0, a1, a2, a3 := int(a[0]), int(a[1]), int(a[2]), int(a[3])
		c0, c1, c2, c3 := int(c[0]), int(c[1]), int(c[2]), int(c[3])
		for len(row) >= 4 && len(above) >= 4 {
			b0, b1, b2, b3 := int(above[0]), int(above[1]), int(above[2]), int(above[3])
			a0 = (paeth(a0, b0, c0) + int(row[0])) & 0xff
			a1 = (paeth(a1, b1, c1) + int(row[1])) & 0xff
			a2 = (paeth(a2, b2, c2) + int(row[2])) & 0xff
			a3 = (paeth(a3, b3, c3) + int(row[3])) & 0xff
			row[0], row[1], row[2], row[3] = uint8(a0), uint8(a1), uint8(a2), uint8(a3)
			c0, c1, c2, c3 = b0, b1, b2, b3
			row, above = row[4:], above[4:]
		}
	case 3:
		a0, a1, a2 := int(a[0]), int(a[1]), int(a[2])
		c0, c1, c2 := int(c[0]), int(c[1]), int(c[2])
		for len(row) >= 3 && len(above) >= 3 {
			b0, b1, b2 := int(above[0]), int(above[1]), int(above[2])
			a0 = (paeth(a0, b0, c0) + int(row[0])) & 0xff
			a1 = (paeth(a1, b1, c1) + int(row[1])) & 0xff
			a2 = (paeth(a2, b2, c2) + int(row[2])) & 0xff
			row[0], row[1], row[2] = uint8(a0), uint8(a1), uint8(a2)
			c0, c1, c2 = b0, b1, b2
			row, above = row[3:], above[3:]
		}
	default:
		above = above[:len(row)]
		for k := range pixel {
			left, upperLeft := int(a[k]), int(c[k])
			for i := k; i < len(row); i += pixel {
				up := int(above[i])
				left = (paeth(left, up, upperLeft) + int(row[i])) & 0xff
				row[i], upperLeft = uint8(left), up
			}
		}
	}
}

func load3(b []byte) uint32 {
	_ = b[2]
	return uint32(b[0]) | uint32(b[1])<<8 | uint32(b[2])<<16
}

func store3(b []byte, v uint32) {
	_ = b[2]
	b[0], b[1], b[2] = uint8(v), uint8(v>>8), uint8(v>>16)
}

// paeth is the predictor of PNG, third edition, 9.4, with fewer comparisons. Of a, b and c it is c that is nearest to a+b-c unless
// that lies beyond a and b: with t = 3c-a-b, the lower of them where t is no less than the higher, and the higher where t is no
// more than the lower.
func paeth(a, b, c int) int {
	low, high := min(a, b), max(a, b)
	t := 3*c - b - a
	p := c
	if high <= t {
		p = low
	}
	if t <= low {
		p = high
	}
	return p
}
