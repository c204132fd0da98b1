package codec

import (
	"encoding/binary"
	"image"
	"slices"

	"golang.org/x/image/tiff"

	"peelcheck/raster"
)

// Tags of TIFF 6.0 for colours in ink (section 16) and for samples beyond the colours (ExtraSamples, page 31).
const (
	tagInkSet       = 332
	tagExtraSamples = 338

	photometricRGB     = 2
	photometricPalette = 3
	photometricCMYK    = 5
	photometricYCbCr   = 6
	inkSetCMYK         = 1
	straightAlpha      = 2
)

// photometricLab are the kinds of Lab: TIFF 6.0, section 23, and its supplements.
var photometricLab = []uint32{8, 9, 10}

// Values of SampleFormat (TIFF 6.0, section 19).
const (
	formatUnsigned  = 1
	formatUndefined = 4
)

const noteCMYK = "CMYK picture: it was judged by its own cyan, magenta, yellow and black."

// inked holds the four inks of each pixel where image.NRGBA has red, green, blue and alpha: 255 is full ink.
type inked struct{ image.NRGBA }

// inksOf returns the inks of a decoded picture, false where it has colours of light.
func inksOf(m image.Image) (*inked, bool) {
	switch m := m.(type) {
	case *inked:
		return m, true
	case *image.CMYK:
		return &inked{*adopt(m.Pix[m.PixOffset(m.Rect.Min.X, m.Rect.Min.Y):], m.Stride, m.Rect)}, true
	}
	return nil, false
}

// fill sets the planes of a picture from its inks, and its colours from the planes: r = (1-c)(1-k).
func (m *inked) fill(pic *raster.Picture) {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	pic.Pix = drawn(&image.CMYK{Pix: m.Pix, Stride: m.Stride, Rect: m.Rect})
	var planes [4]*raster.Plane
	for i := range planes {
		planes[i] = raster.NewPlane(w, h)
	}
	across := (w + raster.TilePx - 1) / raster.TilePx
	bands((h+raster.TilePx-1)/raster.TilePx, func(r0, r1 int) {
		for row := r0; row < r1; row++ {
			for column := range across {
				for i, p := range planes {
					p.SetTile(column, row, m.tile(column, row, i))
				}
			}
		}
	})
	pic.Separations = &raster.Separations{Cyan: planes[0], Magenta: planes[1], Yellow: planes[2], Black: planes[3]}
}

// tile returns one ink of a tile.
func (m *inked) tile(column, row, ink int) *raster.Tile {
	t := new(raster.Tile)
	x0, y0 := column*raster.TilePx, row*raster.TilePx
	n := min(raster.TilePx, m.Rect.Dx()-x0)
	for y := range min(raster.TilePx, m.Rect.Dy()-y0) {
		src := m.Pix[(y0+y)*m.Stride+4*x0+ink:]
		dst := t[y*raster.TilePx:][:n]
		for x := range dst {
			dst[x] = src[4*x]
		}
	}
	return t
}

// cmykKind refuses the colours in ink that are not read.
func cmykKind(d directory) error {
	switch {
	case d.uint(tagInkSet, inkSetCMYK) != inkSetCMYK:
		return unsupportedInk("inks other than cyan, magenta, yellow and black")
	case d.uint(tagSamplesPerPixel, 1) != 4:
		return unsupportedInk("CMYK colours with transparency or further channels")
	case d.uint(tagBitsPerSample, 1) != 8 && d.uint(tagBitsPerSample, 1) != 16:
		return unsupportedInk("CMYK colours that are not of 8 or 16 bits")
	}
	return nil
}

// asFourSamples returns a TIFF file of CMYK as one of red, green, blue and straight alpha with the same samples, which the decoder
// reads as they are: the directory is written anew behind the file.
func asFourSamples(data []byte, d directory) []byte {
	tags := []uint16{tagPhotometric, tagExtraSamples}
	for tag := range d.entry {
		if !slices.Contains(tags, tag) {
			tags = append(tags, tag)
		}
	}
	slices.Sort(tags)
	order := d.order.(binary.AppendByteOrder)
	out := slices.Clone(data)
	d.order.PutUint32(out[4:], uint32(len(data)))
	out = order.AppendUint16(out, uint16(len(tags)))
	for _, tag := range tags {
		switch tag {
		case tagPhotometric:
			out = appendShort(out, order, tag, photometricRGB)
		case tagExtraSamples:
			out = appendShort(out, order, tag, straightAlpha)
		default:
			out = append(out, d.entry[tag]...)
		}
	}
	return order.AppendUint32(out, 0)
}

func appendShort(b []byte, order binary.AppendByteOrder, tag, v uint16) []byte {
	b = order.AppendUint16(order.AppendUint16(b, tag), typeShort)
	b = order.AppendUint16(order.AppendUint32(b, 1), v)
	return append(b, 0, 0)
}

// decodeCMYKTIFF decodes what asFourSamples made.
func decodeCMYKTIFF(m image.Image, err error) (image.Image, error) {
	if err != nil {
		return nil, err
	}
	switch m := m.(type) {
	case *image.NRGBA:
		return &inked{*m}, nil
	case *image.NRGBA64:
		return &inked{*eachRow(m, func(dst []byte, y int) { highBytes(dst, m.Pix[m.PixOffset(m.Rect.Min.X, y):]) })}, nil
	}
	return nil, tiff.UnsupportedError("CMYK samples")
}
