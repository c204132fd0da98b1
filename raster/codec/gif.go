package codec

import (
	"bytes"
	"image"
	"image/gif"
)

// ampleScreen is a size in pixels up to which a GIF's screen may be far larger than its bytes can fill, as the first
// frame need not cover it.
const ampleScreen = 1 << 24

func readGIF(data []byte) (header, error) {
	config, err := gif.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return header{}, err
	}
	h := header{
		width: config.Width, height: config.Height,
		mostPixels: max(int64(len(data))*lzwMost, ampleScreen),
	}
	if gifFrames(data) > 1 {
		h.notes = []string{"The picture is animated; only its first frame was looked at."}
	}
	return h, nil
}

// decodeGIF places the first frame on the screen it belongs to; what it leaves free is transparent.
func decodeGIF(data []byte) (image.Image, error) {
	m, err := gif.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	config, err := gif.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	screen := image.Rect(0, 0, config.Width, config.Height)
	if m.Bounds() == screen {
		return m, nil
	}
	canvas := image.NewNRGBA(screen)
	frame, _ := toNRGBA(m)
	at := m.Bounds().Intersect(screen)
	for y := at.Min.Y; y < at.Max.Y; y++ {
		from := frame.PixOffset(at.Min.X-m.Bounds().Min.X, y-m.Bounds().Min.Y)
		copy(canvas.Pix[canvas.PixOffset(at.Min.X, y):], frame.Pix[from:from+4*at.Dx()])
	}
	return canvas, nil
}

// gifFrames counts the image descriptors by walking the blocks (GIF89a, sections 15 to 27), up to where the file breaks off.
func gifFrames(data []byte) int {
	const screenBytes, descriptorBytes, extension, descriptor = 13, 10, 0x21, 0x2c
	frames := 0
	at := screenBytes + colourTableBytes(data[10])
	for at+descriptorBytes <= len(data) {
		switch data[at] {
		case extension:
			at = afterSubBlocks(data, at+2)
		case descriptor:
			frames++
			const minimumCodeSize = 1
			at = afterSubBlocks(data, at+descriptorBytes+colourTableBytes(data[at+9])+minimumCodeSize)
		default:
			return frames
		}
	}
	return frames
}

func colourTableBytes(flags byte) int {
	if flags&0x80 == 0 {
		return 0
	}
	return 3 << (1 + flags&7)
}

func afterSubBlocks(data []byte, at int) int {
	for at < len(data) && data[at] != 0 {
		at += 1 + int(data[at])
	}
	return at + 1
}
