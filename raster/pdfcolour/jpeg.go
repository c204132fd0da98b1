package pdfcolour

import (
	"bytes"
	stdimage "image"
	"image/jpeg"

	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"

	"peelcheck/raster"
)

// unpackJPEG gives the samples as DCTDecode does: not inverted, whatever Adobe's marker says, since the Decode array tells of that.
func (im *image) unpackJPEG(data []byte, parms types.Dict) (*picture, error) {
	head, ok := readJPEGHead(data)
	if !ok {
		return nil, fault("a picture is not a valid JPEG")
	}
	n := im.space.Components()
	if head.components != n {
		return nil, fault("a picture has %d components, where its colour space has %d", head.components, n)
	}
	if head.width < 1 || head.height < 1 || n*head.width > mostDecoded/head.height {
		return nil, fault("a picture of %d x %d points is too large or empty", head.width, head.height)
	}
	given, ok := im.r.integer(parms["ColorTransform"], 0, 1)
	if !ok {
		given = -1
	}
	luminance := n > 1 && head.luminance(given)
	if n > 1 {
		data = head.marked(data, n == 3 && luminance) // of four components, the decoder would convert less finely
	}
	decoded, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		if _, ok := err.(jpeg.UnsupportedError); ok {
			return nil, inseparable("a rare kind of JPEG")
		}
		return nil, fault("a picture is a damaged JPEG")
	}
	p := &picture{width: decoded.Bounds().Dx(), height: decoded.Bounds().Dy(), n: n, step: n, most: 255}
	switch d := decoded.(type) {
	case *stdimage.Gray:
		p.data = packRows(d.Pix, d.Stride, p.width, p.height)
	case *stdimage.RGBA:
		p.step = 4
		p.data = packRows(d.Pix, d.Stride, 4*p.width, p.height)
	case *stdimage.CMYK:
		p.data = packRows(d.Pix, d.Stride, 4*p.width, p.height)
		p.fourComponents(head.halved, luminance)
	case *stdimage.YCbCr:
		p.data = rgbOf(d)
	default:
		return nil, inseparable("a rare kind of JPEG")
	}
	if err := im.applyKey(p, p.data, p.width*p.step); err != nil {
		return nil, err
	}
	return p, nil
}

// packRows closes the gaps between rows, in place.
func packRows(pix []byte, stride, row, height int) []byte {
	if stride == row {
		return pix[:row*height]
	}
	for y := range height {
		copy(pix[y*row:(y+1)*row], pix[y*stride:])
	}
	return pix[:row*height]
}

// jpegHead is what the segments before the picture tell.
type jpegHead struct {
	width, height, components int
	ids                       [4]byte
	halved                    bool // the second component has half the width and height of the first
	adobe                     int  // transform of Adobe's marker, -1 without one
	jfif                      [2]int
	adobeAt                   [2]int // start and end of these segments
}

// readJPEGHead walks the segments up to the frame header and on to the first scan (ITU-T T.81, B.1).
func readJPEGHead(data []byte) (h jpegHead, ok bool) {
	h.adobe = -1
	if len(data) < 4 || data[0] != 0xFF || data[1] != 0xD8 {
		return h, false
	}
	for at := 2; at+4 <= len(data); {
		if data[at] != 0xFF {
			at++ // junk between segments, as decoders pass over
			continue
		}
		marker := data[at+1]
		if marker == 0xFF || marker == 0 || marker == 1 || marker >= 0xD0 && marker <= 0xD8 {
			at++
			continue
		}
		size := int(data[at+2])<<8 | int(data[at+3])
		end := at + 2 + size
		if size < 2 || end > len(data) {
			return h, false
		}
		body := data[at+4 : end]
		switch {
		case marker == 0xDA:
			return h, h.components > 0
		case marker == 0xE0 && bytes.HasPrefix(body, []byte("JFIF\x00")):
			h.jfif = [2]int{at, end}
		case marker == 0xEE && bytes.HasPrefix(body, []byte("Adobe")) && len(body) >= 12:
			h.adobe, h.adobeAt = int(body[11]), [2]int{at, end}
		case marker >= 0xC0 && marker <= 0xCF && marker != 0xC4 && marker != 0xC8 && marker != 0xCC && len(body) >= 6:
			h.height, h.width = int(body[1])<<8|int(body[2]), int(body[3])<<8|int(body[4])
			h.components = int(body[5])
			for i := range min(h.components, 4) {
				if 6+3*i < len(body) {
					h.ids[i] = body[6+3*i]
				}
			}
			h.halved = len(body) >= 12 && body[7] == 0x22 && body[10] == 0x11
		}
		at = end
	}
	return h, false
}

// luminance reports whether the samples are YCbCr or YCCK, as DCTDecode takes them (Table 13): an Adobe marker tells, else
// ColorTransform (-1 if it is not given), else the number of components; components named R, G, B are that.
func (h jpegHead) luminance(colorTransform int) bool {
	switch {
	case h.adobe >= 0:
		return h.adobe > 0
	case colorTransform >= 0:
		return colorTransform > 0
	}
	return h.components == 3 && (h.jfif[1] > 0 || [3]byte(h.ids[:3]) != [3]byte{'R', 'G', 'B'})
}

// marked is data with an Adobe marker that tells the decoder outright whether to convert from YCbCr.
func (h jpegHead) marked(data []byte, convert bool) []byte {
	var transform byte
	if convert {
		transform = 1
	}
	out := make([]byte, 0, len(data)+16)
	out = append(out, 0xFF, 0xD8, 0xFF, 0xEE, 0, 14, 'A', 'd', 'o', 'b', 'e', 0, 100, 0, 0, 0, 0, transform)
	at := 2
	for _, segment := range segmentsInOrder(h.jfif, h.adobeAt) {
		out = append(out, data[at:segment[0]]...)
		at = segment[1]
	}
	return append(out, data[at:]...)
}

// fourComponents undoes the decoder's inversion, smooths the second and third component if they were halved, and turns YCCK into CMYK.
func (p *picture) fourComponents(halved, luminance bool) {
	var halves [3][]byte
	cw, ch := (p.width+1)/2, (p.height+1)/2
	for c := 1; halved && c < 3; c++ {
		halves[c] = make([]byte, cw*ch)
		for i := range halves[c] {
			halves[c][i] = 255 ^ p.data[4*(i/cw*2*p.width+i%cw*2)+c]
		}
	}
	raster.Bands(p.height, fewestRows, func(from, to int) {
		rows := chromaRows{halfX: true, halfY: true, width: p.width, cw: cw, ch: ch, stride: cw, sums: make([]int, cw)}
		smooth := make([]int, p.width)
		for y := from; y < to; y++ {
			row := p.data[4*p.width*y:][:4*p.width]
			for i := range row {
				row[i] ^= 255
			}
			for c := 1; halved && c < 3; c++ {
				rows.fill(smooth, halves[c], y)
				for x, v := range smooth {
					row[4*x+c] = byte(v)
				}
			}
			for x := 0; luminance && x < len(row); x += 4 {
				putRGB(row[x:], int(row[x]), int(row[x+1]), int(row[x+2]))
				row[x], row[x+1], row[x+2] = 255-row[x], 255-row[x+1], 255-row[x+2]
			}
		}
	})
}

// segmentsInOrder are those that were found.
func segmentsInOrder(a, b [2]int) (out [][2]int) {
	if a[1] > 0 && b[1] > 0 && b[0] < a[0] {
		a, b = b, a
	}
	for _, s := range [][2]int{a, b} {
		if s[1] > 0 {
			out = append(out, s)
		}
	}
	return out
}

// rgbOf converts by ITU-T T.871. Chroma of half the width or height is interpolated between neighbours as by common decoders, with
// weights 3/4 and 1/4.
func rgbOf(im *stdimage.YCbCr) []byte {
	w, h := im.Rect.Dx(), im.Rect.Dy()
	out := make([]byte, 3*w*h)
	halfX, halfY := false, false
	switch im.SubsampleRatio {
	case stdimage.YCbCrSubsampleRatio422:
		halfX = true
	case stdimage.YCbCrSubsampleRatio420:
		halfX, halfY = true, true
	case stdimage.YCbCrSubsampleRatio440:
		halfY = true
	case stdimage.YCbCrSubsampleRatio444:
	default:
		nearestRGB(out, im)
		return out
	}
	cw, ch := w, h
	if halfX {
		cw = (w + 1) / 2
	}
	if halfY {
		ch = (h + 1) / 2
	}
	raster.Bands(h, fewestRows, func(from, to int) {
		rows := chromaRows{halfX: halfX, halfY: halfY, width: w, cw: cw, ch: ch, stride: im.CStride, sums: make([]int, cw)}
		cb, cr := make([]int, w), make([]int, w)
		for y := from; y < to; y++ {
			rows.fill(cb, im.Cb, y)
			rows.fill(cr, im.Cr, y)
			luma := im.Y[y*im.YStride:][:w]
			dst := out[3*w*y:][:3*w]
			for x, v := range luma {
				putRGB(dst[3*x:3*x+3:3*x+3], int(v), cb[x], cr[x])
			}
		}
	})
	return out
}

// putRGB is ITU-T T.871, 7, in 16 bits of fraction.
func putRGB(dst []byte, y, cb, cr int) {
	cb -= 128
	cr -= 128
	y = y<<16 + 1<<15
	dst[0] = clip8((y + 91881*cr) >> 16)
	dst[1] = clip8((y - 22554*cb - 46802*cr) >> 16)
	dst[2] = clip8((y + 116130*cb) >> 16)
}

func clip8(v int) byte { return byte(min(max(v, 0), 255)) }

func nearestRGB(out []byte, im *stdimage.YCbCr) {
	w, h := im.Rect.Dx(), im.Rect.Dy()
	raster.Bands(h, fewestRows, func(from, to int) {
		for y := from; y < to; y++ {
			for x := range w {
				c := im.COffset(x+im.Rect.Min.X, y+im.Rect.Min.Y)
				putRGB(out[3*(y*w+x):], int(im.Y[y*im.YStride+x]), int(im.Cb[c]), int(im.Cr[c]))
			}
		}
	})
}

// chromaRows brings chroma to the size of luma.
type chromaRows struct {
	halfX, halfY  bool
	width, cw, ch int
	stride        int
	sums          []int // of a row, times 4 if the rows are halved
}

func (r *chromaRows) fill(dst []int, plane []byte, y int) {
	unit := 1
	if r.halfY {
		unit = 4
		near := y / 2
		far := min(max(near+y%2*2-1, 0), r.ch-1)
		a, b := plane[near*r.stride:][:r.cw], plane[far*r.stride:][:r.cw]
		for i := range r.sums {
			r.sums[i] = 3*int(a[i]) + int(b[i])
		}
	} else {
		for i, v := range plane[y*r.stride:][:r.cw] {
			r.sums[i] = int(v)
		}
	}
	if !r.halfX {
		for x := range dst {
			dst[x] = (r.sums[x] + unit/2) / unit
		}
		return
	}
	even, odd := unit*2, unit*2-1 // halves are rounded up and down in turn
	if !r.halfY {
		even, odd = odd, even
	}
	for x := range dst {
		near := x / 2
		if x%2 == 0 {
			dst[x] = (3*r.sums[near] + r.sums[max(near-1, 0)] + even) / (4 * unit)
		} else {
			dst[x] = (3*r.sums[near] + r.sums[min(near+1, r.cw-1)] + odd) / (4 * unit)
		}
	}
}
