package codec

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
)

// jpegMost is how many pixels one byte of a JPEG file can stand for: each block of 64 takes a code of at least one bit
// in its first scan (ITU-T T.81, F.1.2 and G.1.2).
const jpegMost = 64 * 8

func decodeJPEG(data []byte) (image.Image, error) { return jpeg.Decode(bytes.NewReader(data)) }

func readJPEG(data []byte) (header, error) {
	config, err := jpeg.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return header{}, err
	}
	h := header{width: config.Width, height: config.Height, lossy: true, mostPixels: int64(len(data)) * jpegMost}
	if config.ColorModel == color.CMYKModel {
		h.notes = []string{noteCMYK}
	}
	var exif density
	for marker, body := range jpegSegments(data) {
		switch {
		case marker == 0xe0 && bytes.HasPrefix(body, []byte("JFIF\x00")) && !h.density.known():
			h.density = jfifDensity(body)
		case marker == 0xe1 && bytes.HasPrefix(body, []byte("Exif\x00\x00")) && h.orientation == 0:
			if d, ok := parseEXIF(body); ok {
				h.orientation = d.orientation()
				exif = d.density("EXIF")
			}
		}
	}
	if !h.density.known() {
		h.density = exif
	}
	return h, nil
}

// jpegSegments yields marker code and content of the segments before the first scan.
func jpegSegments(data []byte) func(yield func(byte, []byte) bool) {
	const startOfScan = 0xda
	return func(yield func(byte, []byte) bool) {
		for rest := data[2:]; len(rest) >= 4 && rest[0] == 0xff; {
			marker := rest[1]
			switch {
			case marker == 0xff: // a fill byte
				rest = rest[1:]
				continue
			case marker == 0x01, marker >= 0xd0 && marker <= 0xd8: // markers without a length
				rest = rest[2:]
				continue
			case marker == startOfScan:
				return
			}
			n := int(be.Uint16(rest[2:]))
			if n < 2 || 2+n > len(rest) || !yield(marker, rest[4:2+n]) {
				return
			}
			rest = rest[2+n:]
		}
	}
}

// jfifDensity reads a JFIF segment (ITU-T T.871, 10.1): unit 1 is the inch, 2 the centimetre, 0 gives the pixels' shape only.
func jfifDensity(body []byte) density {
	if len(body) < 12 {
		return density{}
	}
	x, y := float64(be.Uint16(body[8:])), float64(be.Uint16(body[10:]))
	switch body[7] {
	case 1:
		return newDensity(x, y, 1, "JFIF")
	case 2:
		return newDensity(x, y, cmPerInch, "JFIF")
	}
	return density{}
}
