// Package deflate compresses pictures whose rows hardly differ, such as drawings, quicker than encoders for any bytes can: whoever
// knows that a run is of zeros says so. It writes blocks of RFC 1951 that any inflater reads.
package deflate

import (
	"encoding/binary"
	"math/bits"
)

const (
	window     = 1 << 15 // how far back a match may reach, RFC 1951, 2
	leastMatch = 4       // three bytes would cost about as much as they save
	mostMatch  = 258
	hashBits   = 15
	blockSize  = 1 << 15 // tokens that share their codes
)

// token is a byte, or a match: its length above 16 bits of its distance.
type token uint32

// Encoder compresses what it is told piece by piece. The zero value is ready; not safe for concurrent use.
type Encoder struct {
	heads  [1 << hashBits]int32 // where four bytes with this hash were last seen, plus 1
	src    []byte
	tokens []token
	out    bitWriter
	coder  coder
}

// Reset begins anew: what follows, less than 2 GiB, will refer to nothing before it.
func (e *Encoder) Reset() {
	clear(e.heads[:])
	e.src, e.tokens, e.out = e.src[:0], e.tokens[:0], bitWriter{to: e.out.to[:0]}
}

// Finish returns whole blocks, valid until Reset. None of them is the last, and they end on a byte.
func (e *Encoder) Finish() []byte {
	e.flush()
	e.out.emptyStored()
	return e.out.to
}

// Zeros appends n bytes of zero.
func (e *Encoder) Zeros(n int) {
	if n == 0 {
		return
	}
	at := len(e.src)
	e.src = append(e.src, make([]byte, n)...)
	if at == 0 || e.src[at-1] != 0 {
		e.add(0)
		n--
	}
	if n < leastMatch {
		for range n {
			e.add(0)
		}
		return
	}
	e.addMatch(n, 1)
}

// Bytes appends p.
func (e *Encoder) Bytes(p []byte) {
	i := len(e.src)
	e.src = append(e.src, p...)
	last := i // where the latest match ended
	for i+8 <= len(e.src) {
		at, n := e.match(i)
		if n >= leastMatch {
			e.addMatch(n, i-at)
			i += n
			last = i
			continue
		}
		e.add(token(e.src[i]))
		i++
		for step := (i - last) >> 7; step > 0 && i+8 <= len(e.src); step-- { // noise is not looked at closely
			e.add(token(e.src[i]))
			i++
		}
	}
	for ; i < len(e.src); i++ {
		e.add(token(e.src[i]))
	}
}

// match returns where the bytes at i were before, and how many of them.
func (e *Encoder) match(i int) (at, n int) {
	word := binary.LittleEndian.Uint64(e.src[i:])
	h := uint32(word) * 0x9E3779B1 >> (32 - hashBits)
	at = int(e.heads[h]) - 1
	e.heads[h] = int32(i) + 1
	if i > 0 && word == uint64(e.src[i-1])*0x01010101_01010101 {
		return i - 1, common(e.src, i-1, i)
	}
	if at < 0 || i-at > window || binary.LittleEndian.Uint32(e.src[at:]) != uint32(word) {
		return 0, 0
	}
	return at, common(e.src, at, i)
}

// common counts the bytes from i on that are as those from at on.
func common(src []byte, at, i int) int {
	start := i
	for ; i+8 <= len(src); i, at = i+8, at+8 {
		if d := binary.LittleEndian.Uint64(src[i:]) ^ binary.LittleEndian.Uint64(src[at:]); d != 0 {
			return i - start + bits.TrailingZeros64(d)/8
		}
	}
	for i < len(src) && src[i] == src[at] {
		i, at = i+1, at+1
	}
	return i - start
}

// addMatch adds a match of at least leastMatch bytes in pieces, none of them shorter than three (RFC 1951, 3.2.5).
func (e *Encoder) addMatch(n, distance int) {
	for n > 0 {
		piece := min(n, mostMatch)
		if rest := n - piece; rest == 1 || rest == 2 {
			piece -= 2
		}
		e.add(token(piece<<16 | distance))
		n -= piece
	}
}

func (e *Encoder) add(t token) {
	if len(e.tokens) == blockSize {
		e.flush()
	}
	e.tokens = append(e.tokens, t)
}

func (e *Encoder) flush() {
	if len(e.tokens) > 0 {
		e.coder.block(&e.out, e.tokens)
		e.tokens = e.tokens[:0]
	}
}
