package drawing

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"math"
)

// WritePNG writes a PNG picture. Its pHYs chunk (PNG, third edition, 11.3.4.3) says ppi; ppi 0 leaves the chunk out.
func WritePNG(w io.Writer, pic image.Image, ppi float64) error {
	var buf bytes.Buffer
	if err := png.Encode(&buf, pic); err != nil {
		return err
	}
	const head = 8 + 12 + 13 // the signature and the IHDR chunk
	data := buf.Bytes()
	out := append([]byte{}, data[:head]...)
	if ppi > 0 {
		out = append(out, physChunk(ppi)...)
	}
	_, err := w.Write(append(out, data[head:]...))
	return err
}

// physChunk gives pixels a metre both ways; the last byte says that the unit is the metre.
func physChunk(ppi float64) []byte {
	perMetre := uint32(math.Round(ppi / 0.0254))
	body := []byte("pHYs")
	body = binary.BigEndian.AppendUint32(body, perMetre)
	body = binary.BigEndian.AppendUint32(body, perMetre)
	body = append(body, 1)
	chunk := binary.BigEndian.AppendUint32(nil, uint32(len(body)-4))
	chunk = append(chunk, body...)
	return binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(body))
}

// WriteJPEG writes a JPEG picture with an APP0 segment that says ppi (ITU-T T.871, 10.1).
func WriteJPEG(w io.Writer, pic image.Image, quality int, ppi uint16) error {
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, pic, &jpeg.Options{Quality: quality}); err != nil {
		return err
	}
	const unitInch = 1
	app0 := []byte{0xff, 0xe0, 0, 16, 'J', 'F', 'I', 'F', 0, 1, 2, unitInch}
	app0 = binary.BigEndian.AppendUint16(app0, ppi)
	app0 = binary.BigEndian.AppendUint16(app0, ppi)
	app0 = append(app0, 0, 0)
	data := buf.Bytes()
	out := append([]byte{}, data[:2]...) // the start-of-image marker
	out = append(out, app0...)
	_, err := w.Write(append(out, data[2:]...))
	return err
}
