package codec

import (
	"bytes"
	"fmt"
	"image"
	"slices"

	"golang.org/x/image/tiff"
)

// Values of Compression in TIFF 6.0 and its supplements.
const (
	compressNone       = 1
	compressG3         = 3
	compressG4         = 4
	compressLZW        = 5
	compressJPEGOld    = 6
	compressJPEG       = 7
	compressDeflate    = 8
	compressPackBits   = 32773
	compressDeflateOld = 32946
)

// compressions are those that are read.
var compressions = []uint32{0, compressNone, compressG3, compressG4, compressLZW, compressDeflate, compressPackBits, compressDeflateOld}

// lzwMost is how many bytes one byte of LZW data can stand for: a code of 12 bits and at most 4096 table entries, each
// one byte longer than another (TIFF 6.0, section 13; GIF89a, appendix F).
const lzwMost = 4096 * 8 / 12

func decodeTIFF(data []byte) (image.Image, error) {
	if d, ok := parseTIFF(data); ok && d.uint(tagPhotometric, 0) == photometricCMYK {
		return decodeCMYKTIFF(tiff.Decode(bytes.NewReader(asFourSamples(data, d))))
	}
	return tiff.Decode(bytes.NewReader(data))
}

func claimTIFF(data []byte) (width, height int64, ok bool) {
	d, ok := parseTIFF(data)
	if !ok || d.entry[tagWidth] == nil || d.entry[tagHeight] == nil {
		return 0, 0, false
	}
	return int64(d.uint(tagWidth, 0)), int64(d.uint(tagHeight, 0)), true
}

func readTIFF(data []byte) (header, error) {
	d, ok := parseTIFF(data)
	if !ok {
		return header{}, truncated(nil)
	}
	if err := tiffKind(d); err != nil {
		return header{}, err
	}
	plain := data
	if d.uint(tagPhotometric, 0) == photometricCMYK {
		plain = asFourSamples(data, d)
	}
	config, err := tiff.DecodeConfig(bytes.NewReader(plain))
	if err != nil {
		return header{}, err
	}
	h := header{
		width: config.Width, height: config.Height,
		density:     d.density("TIFF tags"),
		orientation: d.orientation(),
		mostPixels:  tiffMost(d, int64(len(data))),
	}
	if d.uint(tagPhotometric, 0) == photometricCMYK {
		h.notes = append(h.notes, noteCMYK)
	}
	if d.entry[tagLayers] != nil {
		h.notes = append(h.notes, "The file carries layers as well as a flat picture; the flat picture was looked at.")
	}
	if morePages(d) {
		h.notes = append(h.notes, "The file holds more than one page; only the first was looked at.")
	}
	return h, nil
}

// tiffKind refuses what the decoder would misread or refuse in words that help nobody.
func tiffKind(d directory) error {
	samples, photometric := d.uint(tagSamplesPerPixel, 1), d.uint(tagPhotometric, 0)
	compression := d.uint(tagCompression, compressNone)
	switch {
	case compression == compressJPEGOld, compression == compressJPEG:
		return unsupported("tiff", "a JPEG picture inside", nil)
	case !slices.Contains(compressions, compression):
		return unsupported("tiff", "a rare compression", nil)
	case !slices.Contains([]uint32{formatUnsigned, formatUndefined}, d.uint(tagSampleFormat, formatUnsigned)):
		return unsupported("tiff", "its colours as decimal fractions or with a sign", nil)
	case d.uint(tagPlanar, 1) == 2 && samples > 1:
		return unsupported("tiff", "its colour channels stored one after the other", nil)
	case d.uint(tagFillOrder, 1) == 2 && compression != compressG3 && compression != compressG4:
		return unsupported("tiff", "its bits stored in reverse order", nil)
	case photometric == photometricCMYK:
		return cmykKind(d)
	case samples > 4:
		return unsupported("tiff", fmt.Sprintf("%d colour channels", samples), nil)
	}
	return lightKind(d, photometric, samples)
}

// lightKind refuses colours of light that are not read.
func lightKind(d directory, photometric, samples uint32) error {
	switch bits := d.uint(tagBitsPerSample, 1); {
	case bits != 1 && bits != 8 && bits != 16:
		return unsupported("tiff", fmt.Sprintf("%d bits a colour", bits), nil)
	case photometric == photometricYCbCr:
		return unsupported("tiff", "its colours as brightness and two differences (YCbCr)", nil)
	case slices.Contains(photometricLab, photometric):
		return unsupported("tiff", "Lab colours", nil)
	case photometric > photometricPalette:
		return unsupported("tiff", "colours of a rare kind", nil)
	case photometric == photometricRGB && samples == 4 && d.uint(tagExtraSamples, 0) == 0:
		return unsupported("tiff", "a fourth channel beside red, green and blue, which it does not explain", nil)
	case photometric != photometricRGB && samples > 1:
		return unsupported("tiff", "grey or a palette with transparency or further channels", nil)
	}
	return nil
}

// tiffMost is the most pixels that the bytes can stand for.
func tiffMost(d directory, size int64) int64 {
	bits := int64(d.uint(tagBitsPerSample, 1)) * int64(d.uint(tagSamplesPerPixel, 1))
	if bits == 0 {
		return noBound
	}
	switch d.uint(tagCompression, compressNone) {
	case 0, compressNone:
		return size * 8 / bits
	case compressLZW:
		return size * lzwMost * 8 / bits
	case compressDeflate, compressDeflateOld:
		return size * deflateMost * 8 / bits
	case compressPackBits: // two bytes stand for at most 128 (TIFF 6.0, section 9)
		return size * 64 * 8 / bits
	case compressG3, compressG4: // a row of any width takes at least one bit (ITU-T T.6, 2.2)
		if size*8 < int64(d.uint(tagHeight, 0)) {
			return 0
		}
	}
	return noBound
}

// morePages reports whether a further directory holds a page rather than a small copy of the picture.
func morePages(d directory) bool {
	const most = 64 // directories looked at, since they may lead in a circle
	for range most {
		if d.next == 0 {
			return false
		}
		next, ok := parseDirectory(d.data, d.order, d.next)
		if !ok {
			return false
		}
		const reducedCopy = 1
		if _, hasSize := next.entry[tagHeight]; hasSize && next.uint(tagNewSubfileType, 0)&reducedCopy == 0 {
			return true
		}
		d = next
	}
	return false
}
