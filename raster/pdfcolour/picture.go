package pdfcolour

import (
	"math"
	"slices"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster"
)

// picture holds unpacked samples, one byte each, to which those of 16 bits are rounded. It is never written to once it is made.
type picture struct {
	width, height int
	n             int // components
	step          int // bytes from one sample to the next on its right: n, or more if there are others between
	most          int // the greatest value
	data          []byte
	wide          []byte // samples of 16 bits as they were, nil without any
	outside       []byte // what a colour key leaves out, a bit each, rows of whole bytes; nil without a colour key
}

func (p *picture) size() int { return len(p.data) + len(p.wide) }

// mostCached bounds the bytes of unpacked pictures that are kept for the next plane: an A4 page of CMYK at 600 ppi has 139 million.
const mostCached = 160 << 20

// sampleCache keeps the pictures unpacked last, by where their data lies.
type sampleCache struct {
	keys  []*byte
	items []*picture
	size  int
}

func (c *sampleCache) get(data []byte) *picture {
	if len(data) > 0 {
		if i := slices.Index(c.keys, &data[0]); i >= 0 {
			return c.items[i]
		}
	}
	return nil
}

func (c *sampleCache) put(data []byte, p *picture) {
	if len(data) == 0 || p.size() > mostCached {
		return
	}
	c.keys, c.items = append(c.keys, &data[0]), append(c.items, p)
	c.size += p.size()
	for c.size > mostCached {
		c.size -= c.items[0].size()
		c.keys, c.items = slices.Delete(c.keys, 0, 1), slices.Delete(c.items, 0, 1)
	}
}

// picture unpacks the image's samples, applies a colour key and takes out a matte colour.
func (im *image) picture() (*picture, error) {
	if p := im.r.samples.get(im.Raw); p != nil && p.n == im.space.Components() { // a name may mean another space in other resources
		return p, nil
	}
	p, err := im.unpack()
	if err != nil {
		return nil, err
	}
	if m := im.matte(); m != nil {
		im.unmix(p, m)
	}
	im.r.samples.put(im.Raw, p)
	return p, nil
}

func (im *image) unpack() (*picture, error) {
	n := im.space.Components()
	row := (im.width*n*im.bits + 7) / 8
	data, rest, err := im.r.decodePart(im.StreamDict, row*im.height)
	switch {
	case err != nil:
		return nil, err
	case len(rest) == 1 && rest[0].name == "DCTDecode":
		return im.unpackJPEG(data, rest[0].parms)
	case len(rest) > 0:
		return nil, fault("a picture is packed as %s in a way that makes no sense", rest[0].name)
	case len(data) == 0:
		return nil, fault("a picture is empty")
	}
	if short := row*im.height - len(data); short > 0 {
		im.r.note("a picture ends before its last row; what is missing counts as unprinted")
		data = append(slices.Clip(data), im.unprinted(short)...)
	}
	p := &picture{width: im.width, height: im.height, n: n, step: n, most: 255, data: data}
	if err := im.applyKey(p, data, row); err != nil {
		return nil, err
	}
	if im.bits != 8 {
		p.data = im.widen(data, row)
		p.most = min(255, 1<<im.bits-1)
	}
	if im.bits == 16 {
		p.wide = data
	}
	return p, nil
}

// unprinted is data of the samples that print least: all zeros or all ones.
func (im *image) unprinted(size int) []byte {
	ink := func(end int) (sum float64) {
		c := make([]float64, im.space.Components())
		for i := range c {
			c[i] = im.decode[2*i+end]
		}
		for _, share := range im.space.Paint(c).Share {
			sum += share
		}
		return sum
	}
	if ink(1) < ink(0) {
		return slices.Repeat([]byte{255}, size)
	}
	return make([]byte, size)
}

// widen turns rows of packed samples into bytes.
func (im *image) widen(data []byte, row int) []byte {
	perRow := im.width * im.space.Components()
	out := make([]byte, perRow*im.height)
	raster.Bands(im.height, fewestRows, func(from, to int) {
		for y := from; y < to; y++ {
			src, dst := data[y*row:(y+1)*row], out[y*perRow:(y+1)*perRow]
			if im.bits == 16 {
				for i := range dst {
					v := uint32(src[2*i])<<8 | uint32(src[2*i+1])
					dst[i] = byte((v*255 + 32767) / 65535)
				}
				continue
			}
			in := bitReader{data: src}
			for i := range dst {
				dst[i] = byte(in.read(im.bits))
			}
		}
	})
	return out
}

// applyKey finds the samples that a colour key leaves out: those all components of which lie in the key's ranges (8.9.6.4).
func (im *image) applyKey(p *picture, data []byte, row int) error {
	if im.key == nil {
		return nil
	}
	key := im.r.numbers(im.key)
	if len(key) != 2*p.n {
		return fault("a picture's colour key has %d numbers, where its %d components need %d", len(im.key), p.n, 2*p.n)
	}
	outRow := (p.width + 7) / 8
	p.outside = make([]byte, outRow*p.height)
	raster.Bands(p.height, fewestRows, func(from, to int) {
		for y := from; y < to; y++ {
			in := bitReader{data: data[y*row : (y+1)*row]}
			for x := range p.width {
				all := true
				for c := range p.n {
					v := float64(in.read(im.bits))
					all = all && v >= key[2*c] && v <= key[2*c+1]
				}
				in.bit += (p.step - p.n) * im.bits
				if all {
					p.outside[y*outRow+x/8] |= 128 >> (x % 8)
				}
			}
		}
	})
	return nil
}

// unmix takes the matte colour out of the samples: c = m + (c' - m) / alpha (11.6.5.3). A soft mask of another size, which the standard
// forbids, is left alone.
func (im *image) unmix(p *picture, matte []float64) {
	alpha, ok := im.alpha(p)
	if !ok {
		im.r.note("a picture's soft mask does not fit it, so that its half-transparent parts may be off in colour")
	}
	if alpha == nil {
		return
	}
	data := slices.Clone(p.data) // those of an unpacked stream are not ours
	for c := range p.n {
		m := interpolate(matte[c], im.decode[2*c], im.decode[2*c+1], 0, float64(p.most))
		for i, a := range alpha {
			if at := i*p.step + c; a > 0 && a < 255 {
				data[at] = byte(math.Round(clamp(m+(float64(data[at])-m)*255/float64(a), 0, float64(p.most))))
			}
		}
	}
	p.data, p.wide = data, nil
}

// alpha is the soft mask's opacity for each sample of p, nil if it is all or nothing. It is not ok if it is of another size or cannot be read.
func (im *image) alpha(p *picture) (opacity []byte, ok bool) {
	sd := bare(*im.softMask())
	sd.Dict["ColorSpace"] = types.Name("DeviceGray")
	mask := &image{StreamDict: sd, r: im.r}
	if mask.read(nil) != nil || mask.width != p.width || mask.height != p.height {
		return nil, false
	}
	if mask.bits == 1 {
		return nil, true
	}
	q, err := mask.unpack()
	if err != nil {
		return nil, false
	}
	opacity = make([]byte, p.width*p.height)
	for i := range opacity {
		opacity[i] = 255 - tone(interpolate(float64(q.data[i*q.step]), 0, float64(q.most), mask.decode[0], mask.decode[1]))
	}
	return opacity, true
}
