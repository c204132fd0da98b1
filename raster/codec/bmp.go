package codec

import (
	"bytes"
	"image"

	"golang.org/x/image/bmp"
)

func decodeBMP(data []byte) (image.Image, error) { return bmp.Decode(bytes.NewReader(data)) }

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
