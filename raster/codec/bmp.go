package codec

import (
	"bytes"
	"image"

	"golang.org/x/image/bmp"
)

func decodeBMP(data []byte) (image.Image, error) { return bmp.Decode(bytes.NewReader(data)) }

// claimBMP reads the sides, where a negative height means that the rows go from top to bottom.
func claimBMP(data []byte) (width, height int64, ok bool) {
	const shortest = 40 // of the headers that hold the sides in 32 bits
	if len(data) < 26 || le.Uint32(data[14:]) < shortest {
		return 0, 0, false
	}
	width, height = int64(int32(le.Uint32(data[18:]))), int64(int32(le.Uint32(data[22:])))
	return width, max(height, -height), true
}

func readBMP(data []byte) (header, error) {
	config, err := bmp.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return header{}, err
	}
	// DecodeConfig has read a header of at least 40 bytes after the 14 of the file's own.
	bitsPerPixel := int64(le.Uint16(data[28:]))
	return header{
		width: config.Width, height: config.Height,
		density:    bmpDensity(data),
		mostPixels: int64(len(data)) * 8 / bitsPerPixel,
	}, nil
}

// bmpDensity reads the pixels per metre of the header, where zero means unknown.
func bmpDensity(data []byte) density {
	return newDensity(float64(le.Uint32(data[38:])), float64(le.Uint32(data[42:])), metrePerInch, "BMP header")
}
