package codec

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"peelcheck/raster"
)

// goOutput runs the go command, whose folders hold the pictures that these tests read.
func goOutput(t testing.TB, args ...string) string {
	t.Helper()
	out, err := exec.Command("go", args...).Output()
	if err != nil {
		t.Fatalf("go %s: %v", strings.Join(args, " "), err)
	}
	return strings.TrimSpace(string(out))
}

// goTree is the src/image folder of the Go source tree (BSD-3; its pngsuite folder is free for any use).
func goTree(t testing.TB) string { return filepath.Join(goOutput(t, "env", "GOROOT"), "src", "image") }

// imageModule is the folder of module golang.org/x/image (BSD-3).
func imageModule(t testing.TB) string {
	return goOutput(t, "list", "-m", "-f", "{{.Dir}}", "golang.org/x/image")
}

// glob is filepath.Glob for patterns that must match.
func glob(t testing.TB, elem ...string) []string {
	t.Helper()
	pattern := filepath.Join(elem...)
	names, err := filepath.Glob(pattern)
	if err != nil || len(names) == 0 {
		t.Fatalf("%s matches no file (%v)", filepath.Base(pattern), err)
	}
	return names
}

func load(t testing.TB, elem ...string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(elem...))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// page opens data and decodes all of its only page.
func page(data []byte) (*raster.Picture, error) { return pageWithin(data, Options{}) }

func pageWithin(data []byte, opt Options) (*raster.Picture, error) {
	doc, err := Open(data, opt)
	if err != nil {
		return nil, err
	}
	pic, err := doc.Page(1, 0)
	if err != nil {
		return nil, err
	}
	if err := pic.Complete(); err != nil {
		return nil, err
	}
	return pic, nil
}

func mustPage(t testing.TB, data []byte) *raster.Picture {
	t.Helper()
	p, err := page(data)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func encodePNG(t testing.TB, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func encodeJPEG(t testing.TB, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 100}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func pngChunk(typ string, body []byte) []byte {
	b := be.AppendUint32(nil, uint32(len(body)))
	b = append(append(b, typ...), body...)
	return be.AppendUint32(b, crc32.ChecksumIEEE(b[4:]))
}

// withChunk puts a chunk after the header chunk, which ends at byte 33.
func withChunk(file []byte, typ string, body []byte) []byte {
	return bytes.Join([][]byte{file[:33], pngChunk(typ, body), file[33:]}, nil)
}

// withSegments puts segments after the marker that begins a JPEG file.
func withSegments(file []byte, segments ...[]byte) []byte {
	return bytes.Join([][]byte{file[:2], bytes.Join(segments, nil), file[2:]}, nil)
}

func segment(marker byte, body []byte) []byte {
	b := be.AppendUint16([]byte{0xff, marker}, uint16(len(body)+2))
	return append(b, body...)
}

func jfif(unit byte, x, y uint16) []byte {
	b := append([]byte("JFIF\x00\x01\x02"), unit)
	b = be.AppendUint16(be.AppendUint16(b, x), y)
	return segment(0xe0, append(b, 0, 0))
}

func exif(fields ...field) []byte {
	return segment(0xe1, append([]byte("Exif\x00\x00"), tiffBytes(be, nil, fields...)...))
}

// field is a field of a TIFF directory: SHORT values, LONG values, or one RATIONAL of two.
type field struct {
	tag, typ uint16
	values   []uint32
}

func short(tag uint16, v ...uint32) field { return field{tag, typeShort, v} }
func long(tag uint16, v ...uint32) field  { return field{tag, typeLong, v} }
func rational(tag uint16, over, under uint32) field {
	return field{tag, typeRational, []uint32{over, under}}
}

type appendOrder interface {
	binary.ByteOrder
	binary.AppendByteOrder
}

// tiffBytes lays out a TIFF file: header, pixels from byte 8 on, one directory, then the values that do not fit in it.
func tiffBytes(order appendOrder, pixels []byte, fields ...field) []byte {
	start := "II*\x00"
	if order.Uint16([]byte{0, 1}) == 1 {
		start = "MM\x00*"
	}
	at := 8 + len(pixels)
	out := append(order.AppendUint32([]byte(start), uint32(at)), pixels...)
	out = order.AppendUint16(out, uint16(len(fields)))
	var far []byte
	farAt := at + 2 + entryBytes*len(fields) + 4
	for _, f := range fields {
		var value []byte
		for _, v := range f.values {
			if f.typ == typeShort {
				value = order.AppendUint16(value, uint16(v))
			} else {
				value = order.AppendUint32(value, v)
			}
		}
		count := len(f.values)
		if f.typ == typeRational {
			count = 1
		}
		out = order.AppendUint32(order.AppendUint16(order.AppendUint16(out, f.tag), f.typ), uint32(count))
		if len(value) > 4 {
			out = order.AppendUint32(out, uint32(farAt+len(far)))
			far = append(far, value...)
			continue
		}
		out = append(out, append(value, 0, 0, 0, 0)[:4]...)
	}
	return append(order.AppendUint32(out, 0), far...)
}

// greyTIFF is an uncompressed 8-bit grey TIFF file with further fields, which must have tags over 278.
func greyTIFF(order appendOrder, w, h int, pixels []byte, orientation uint32, more ...field) []byte {
	fields := []field{
		long(tagWidth, uint32(w)), long(tagHeight, uint32(h)), short(tagBitsPerSample, 8),
		short(tagCompression, compressNone), short(tagPhotometric, 1), long(273, 8),
		short(tagOrientation, orientation), short(tagSamplesPerPixel, 1), long(278, uint32(h)), long(279, uint32(w*h)),
	}
	return tiffBytes(order, pixels, append(fields, more...)...)
}

// painted is a picture with a different colour, and where asked for a different alpha, at each pixel.
func painted(w, h int, alpha bool) *image.NRGBA {
	m := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := color.NRGBA{uint8(7*x + y), uint8(3*x + 11*y), uint8(x * y), 0xff}
			if alpha {
				c.A = uint8(5*x + 13*y)
			}
			m.SetNRGBA(x, y, c)
		}
	}
	return m
}
