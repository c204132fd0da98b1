package codec

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
)

// deflateMost is how many bytes one byte of deflate data can stand for: 258 bytes in two bits (RFC 1951, section 3.2.5).
const deflateMost = 1032

// decodePNG refuses a pixel that names no colour of the palette, which image/png shows as black: black may be just what
// is printed as white.
func decodePNG(data []byte) (image.Image, error) {
	m, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	if p, ok := m.(*image.Paletted); ok {
		for typ, body := range pngChunks(data) {
			if colours := len(body) / 3; typ == "PLTE" && len(p.Palette) > colours {
				return nil, fmt.Errorf("colour %d of a palette of %d", len(p.Palette), colours)
			}
		}
	}
	return m, nil
}

// claimPNG reads the header chunk (PNG, third edition, 11.2.1).
func claimPNG(data []byte) (width, height int64, ok bool) {
	const at = 16
	if len(data) < at+8 || string(data[at-4:at]) != "IHDR" {
		return 0, 0, false
	}
	return int64(be.Uint32(data[at:])), int64(be.Uint32(data[at+4:])), true
}

func readPNG(data []byte) (header, error) {
	config, err := png.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return header{}, err
	}
	h := header{width: config.Width, height: config.Height}
	var pixelBytes int64
	var exif density
	for typ, body := range pngChunks(data) {
		switch typ {
		case "IDAT":
			pixelBytes += int64(len(body))
		case "pHYs":
			h.density = physDensity(body)
		case "eXIf":
			if d, ok := parseEXIF(body); ok {
				exif = d.density("EXIF")
			}
		case "acTL":
			h.notes = []string{"The picture is animated; only its first frame was looked at."}
		}
	}
	if !h.density.known() {
		h.density = exif
	}
	h.mostPixels = pixelBytes * deflateMost * 8 / int64(pngBitsPerPixel(data[24], data[25]))
	return h, nil
}

// pngBitsPerPixel is for a depth and colour type that DecodeConfig has found sound (PNG, third edition, 11.2.1, table 8).
func pngBitsPerPixel(depth, colourType byte) int {
	samples := [...]int{pngGrey: 1, pngRGB: 3, pngIndexed: 1, pngGreyAlpha: 2, pngRGBA: 4}
	return int(depth) * samples[colourType]
}

// pngChunks yields type and content of each chunk, of a chunk that is cut off what there is of it.
func pngChunks(data []byte) func(yield func(string, []byte) bool) {
	const signature, around = 8, 12
	return func(yield func(string, []byte) bool) {
		for rest := data[signature:]; len(rest) >= around; {
			n := int64(be.Uint32(rest))
			typ, body := string(rest[4:8]), rest[8:]
			if !yield(typ, body[:min(n, int64(len(body)))]) || n+around > int64(len(rest)) {
				return
			}
			rest = rest[n+around:]
		}
	}
}

// physDensity reads a pHYs chunk (PNG, third edition, 11.3.4.3): unit 1 is the metre, unit 0 gives the pixels' shape only.
func physDensity(body []byte) density {
	if len(body) != 9 || body[8] != 1 {
		return density{}
	}
	return newDensity(float64(be.Uint32(body)), float64(be.Uint32(body[4:])), metrePerInch, "pHYs")
}
