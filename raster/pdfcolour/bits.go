package pdfcolour

// bitReader reads whole numbers of up to 32 bits, highest bit first. Past the end it reads zeros.
type bitReader struct {
	data []byte
	bit  int
}

func (b *bitReader) read(n int) uint32 {
	var v uint64
	for n > 0 {
		at := b.bit >> 3
		var octet byte
		if at < len(b.data) {
			octet = b.data[at]
		}
		free := 8 - b.bit&7
		take := min(free, n)
		v = v<<take | uint64(octet>>(free-take))&(1<<take-1)
		b.bit += take
		n -= take
	}
	return uint32(v)
}

// align moves to the next whole byte.
func (b *bitReader) align() { b.bit = (b.bit + 7) &^ 7 }

// left is how many bits there still are.
func (b *bitReader) left() int { return len(b.data)*8 - b.bit }

// bitWriter writes whole numbers of up to 32 bits, highest bit first.
type bitWriter struct {
	data []byte
	bit  int
}

func (b *bitWriter) write(v uint32, n int) {
	for n > 0 {
		if b.bit&7 == 0 {
			b.data = append(b.data, 0)
		}
		free := 8 - b.bit&7
		take := min(free, n)
		part := byte(v>>(n-take)) & byte(1<<take-1)
		b.data[len(b.data)-1] |= part << (free - take)
		b.bit += take
		n -= take
	}
}
