package codec

import (
	"bytes"
	"image"

	"golang.org/x/image/webp"
)

// vp8Most is how many pixels one byte of lossy WebP data can stand for: each macroblock of 256 spends more than one bit
// on its prediction modes (RFC 6386, 11.2 to 11.4: by the fixed probabilities of a key frame the cheapest modes take three).
const vp8Most = 256 * 8

func decodeWebP(data []byte) (image.Image, error) { return webp.Decode(bytes.NewReader(data)) }

func readWebP(data []byte) (header, error) {
	h := header{mostPixels: noBound}
	for typ, body := range webpChunks(data) {
		switch typ {
		case "ANIM", "ANMF":
			return header{}, unsupported("webp", "moving pictures", nil)
		case "VP8 ":
			h.lossy = true
			h.mostPixels = int64(len(body)) * vp8Most
		case "EXIF":
			if d, ok := parseEXIF(body); ok {
				h.density = d.density("EXIF")
				h.orientation = d.orientation()
			}
		}
	}
	config, err := webp.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return header{}, err
	}
	h.width, h.height = config.Width, config.Height
	return h, nil
}

// webpChunks yields type and content of each chunk, of a chunk that is cut off what there is of it.
func webpChunks(data []byte) func(yield func(string, []byte) bool) {
	const before, head = 12, 8
	return func(yield func(string, []byte) bool) {
		for rest := data[before:]; len(rest) >= head; {
			n := int64(le.Uint32(rest[4:]))
			typ, body := string(rest[:4]), rest[head:]
			n = min(n, int64(len(body)))
			if !yield(typ, body[:n]) {
				return
			}
			rest = body[min(n+n%2, int64(len(body))):]
		}
	}
}
