package preflight

import "encoding/binary"

// eight is eight bytes worked on at once, the first in the lowest bits (multibyte add and subtract: Warren, Hacker's Delight, 2012, from
// memory).
type eight uint64

const (
	eachByte eight = 0x0101_0101_0101_0101
	topBits        = 0x80 * eachByte
)

func eightOf(v uint8) eight { return eight(v) * eachByte }

// from returns the top bit of each byte of v that is least or more.
func (v eight) from(least eight) eight {
	d := (v | topBits) - (least &^ topBits)
	return (v&^least | ^(v^least)&d) & topBits
}

// full makes 255 of each top bit.
func (v eight) full() eight { return v | (v - v>>7) }

// bits gathers the eight top bits, of eight that have no others.
func (v eight) bits() uint64 { return uint64(v * 0x0002_0408_1020_4081 >> 56) }

// most is the greater byte of each pair, least the lesser one.
func (v eight) most(u eight) eight { return u ^ (v^u)&v.from(u).full() }

func (v eight) least(u eight) eight { return v ^ (v^u)&v.from(u).full() }

// less is v - u, at least 0.
func (v eight) less(u eight) eight { return v.most(u) - u }

// plus is v + u, at most 255.
func (v eight) plus(u eight) eight {
	sum := (v&^topBits + u&^topBits) ^ (v^u)&topBits
	over := (v&u | (v|u)&^sum) & topBits
	return sum | over.full()
}

// near returns the top bit of each byte of v that is at most tol away from a value.
func (v eight) near(value uint8, tol int) eight {
	from, to := uint8(max(0, int(value)-tol)), uint8(min(255, int(value)+tol))
	return v.from(eightOf(from)) & eightOf(to).from(v)
}

// through looks each byte up.
func (v eight) through(table *[256]uint8) (out eight) {
	return eight(table[uint8(v)]) | eight(table[uint8(v>>8)])<<8 | eight(table[uint8(v>>16)])<<16 | eight(table[uint8(v>>24)])<<24 |
		eight(table[uint8(v>>32)])<<32 | eight(table[uint8(v>>40)])<<40 | eight(table[uint8(v>>48)])<<48 | eight(table[uint8(v>>56)])<<56
}

// scaled is scale for each byte.
func (v eight) scaled(a eight) (out eight) {
	switch v {
	case 0:
		return 0
	case eightOf(255):
		return a
	}
	for at := 0; at < 64; at += 8 {
		out |= eight(scale(uint8(v>>at), uint8(a>>at))) << at
	}
	return out
}

// weighed is scaled by alpha, which mostly is all or nothing.
func (v eight) weighed(a eight) eight {
	if (a & topBits).full() == a {
		return v & a
	}
	return v.scaled(a)
}

// without is, for each byte, the alpha of what is drawn besides white of the strength u, from the alpha of both one over the other.
func (v eight) without(u eight) (out eight) {
	for at := 0; at < 64; at += 8 {
		out |= eight(withoutWhite(uint8(v>>at), uint8(u>>at))) << at
	}
	return out
}

// withoutWhite leaves what lies with a strong white as it is: the little of it that shows through is mostly rounding.
func withoutWhite(both, white uint8) uint8 {
	if white >= 128 {
		return both
	}
	left := 255 - int(white)
	return uint8(255 - min(255, (int(255-both)*255+left/2)/left))
}

// paired adds the bytes two by two, so that up to 128 such sums can be added to each other.
func (v eight) paired() eight {
	const pairs = 0x00ff_00ff_00ff_00ff
	return v&pairs + v>>8&pairs
}

// sumOfPairs adds up four sums of two bytes, together under 65536.
func (v eight) sumOfPairs() int { return int(v * 0x0001_0001_0001_0001 >> 48) }

// channels are eight pixels of straight colour and alpha.
type channels struct{ r, g, b, a eight }

// channelsOf takes 32 bytes apart.
func channelsOf(px []byte) channels {
	px = px[:32]
	at := func(i int) eight { return eight(binary.LittleEndian.Uint64(px[8*i:])) }
	const low, even, pair = 0x0000_0000_ffff_ffff, 0x00ff_00ff_00ff_00ff, 0x0000_ffff_0000_ffff
	p, q, s, t := at(0), at(1), at(2), at(3)
	p, q, s, t = p&low|s<<32, p>>32|s&^low, q&low|t<<32, q>>32|t&^low // pixels 0 and 4, 1 and 5, 2 and 6, 3 and 7
	rb, ga := p&even|q&even<<8, p>>8&even|q&^even
	rb2, ga2 := s&even|t&even<<8, s>>8&even|t&^even
	return channels{
		r: rb&pair | rb2&pair<<16, b: rb>>16&pair | rb2&^pair,
		g: ga&pair | ga2&pair<<16, a: ga>>16&pair | ga2&^pair,
	}
}
