package codec

import (
	"bytes"
	"compress/bzip2"
	"compress/gzip"
	"errors"
	"hash/crc32"
	"image"
	"image/color"
	"image/gif"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"golang.org/x/image/bmp"
	"golang.org/x/image/tiff"

	"peelcheck/raster"
)

func TestSniff(t *testing.T) {
	for _, tt := range []struct{ want, head string }{
		{"png", "\x89PNG\r\n\x1a\n"}, {"jpeg", "\xff\xd8\xff\xe0"}, {"tiff", "II*\x00"}, {"tiff", "MM\x00*"},
		{"webp", "RIFF\x00\x00\x00\x00WEBPVP8 "}, {"gif", "GIF87a"}, {"gif", "GIF89a"},
		{"bmp", "BM" + strings.Repeat("\x00", 12) + "\x28\x00\x00\x00"},
		{"pdf", "%PDF-1.7"}, {"pdf", strings.Repeat("\n", 1019) + "%PDF-1.4"}, {"", strings.Repeat("\n", 1020) + "%PDF-1.4"},
		{"svg", "\xef\xbb\xbf <?xml version=\"1.0\"?>\n<!-- a lantern -->\n<svg>"}, {"svg", "<svg xmlns"},
		{"", "<html>"}, {"", "<!DOCTYPE html>\n<HTML lang=\"en\"><svg>"}, {"", ""}, {"", "BM, the shop's own letters"}, {"", "RIFF\x00\x00\x00\x00WAVE"}, {"psd", "8BPS"},
		{"heic", "\x00\x00\x00\x18ftypheic"}, {"zip", "PK\x03\x04"}, {"zip", "PK\x03\x04" + strings.Repeat("\x00", 26) + "design.png"},
		{"svg", "\xff\xfe<\x00s\x00v\x00g\x00>\x00"}, {"svg", "\xfe\xff\x00<\x00s\x00v\x00g"}, {"svg", "<svg:svg xmlns:svg="},
		{"heic", "\x00\x00\x00\x14ftypmif1\x00\x00\x00\x00heic"}, {"avif", "\x00\x00\x00\x14ftypmif1\x00\x00\x00\x00avif"},
		{"heic", "\x00\x00\x00\x10ftypmif1\x00\x00\x00\x00avif"}, {"heic", "\xff\xff\xff\xffftypmif1"}, {"heic", "\x00\x00\x00\x00ftypmif1"},
		{"", "PK\x05\x06"}, {"", "\x1f\x8b\x08"}, {"", gzipped("hello")}, {"svg", gzipped("<svg>" + strings.Repeat("<g/>", 9000))},
		{"", "\x89PNG"},
	} {
		if got := Sniff([]byte(tt.head)); got != tt.want {
			t.Errorf("Sniff(%.20q) = %q, want %q", tt.head, got, tt.want)
		}
	}
}

func gzipped(text string) string {
	var out bytes.Buffer
	w := gzip.NewWriter(&out)
	_, _ = io.WriteString(w, text) // a bytes.Buffer takes everything
	_ = w.Close()
	return out.String()
}

// isFault fails unless err is a fault with a reason and a remedy in the form that package raster asks for.
func isFault(t *testing.T, err error) *raster.Fault {
	t.Helper()
	var f *raster.Fault
	if !errors.As(err, &f) || !errors.Is(err, raster.ErrUnreadable) {
		t.Fatalf("got error %v, want a fault", err)
	}
	for _, s := range []string{f.Reason, f.Remedy} {
		if s == "" || strings.HasSuffix(s, ".") || strings.Contains(s, "\n") {
			t.Errorf("fault says %q", s)
		}
	}
	return f
}

func TestOpenRefusesByName(t *testing.T) {
	for _, tt := range []struct{ data, reason, remedy string }{
		{"", "empty", "export"},
		{"Dear shop, here is our design", "not a picture", "PNG or PDF"},
		{"%PDF-1.7", "a PDF", "as a PDF"},
		{"<svg>", "SVG", "export it as PDF"},
		{"8BPS\x00\x01", "PSD", "PNG"},
		{"%!PS-Adobe-3.0 EPSF-3.0", "EPS", "PDF"},
		{"PK\x03\x04", "ZIP", "unpack"},
		{"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00", "HEIC", "PNG"},
		{"\x00\x00\x00\x18ftypavif\x00\x00\x00\x00", "AVIF", "PNG"},
		{"\x00\x00\x00\x0cjP  \r\n\x87\n", "JPEG 2000", "PNG"},
		{"\xff\x0a", "JPEG XL", "PNG"},
		{"\x00\x00\x01\x00\x01\x00", "ICO", "PNG"},
		{"II+\x00\x08\x00", "BigTIFF", "TIFF"},
		{gzipped("<svg>"), "SVG", "export it as PDF"},
		{"gimp xcf v011\x00", "layered picture (XCF)", "PNG with a transparent background"},
		{"PK\x03\x04" + strings.Repeat("\x00", 26) + "mimetypeimage/openrasterPK", "layered picture (OpenRaster)", "PNG"},
		{"PK\x03\x04" + strings.Repeat("\x00", 26) + "mimetypeapplication/vnd.oasis.opendocument.graphicsPK", "drawing in its program's own", "PDF"},
		{"PK\x03\x04" + strings.Repeat("\x00", 26) + "mimetypeapplication/vnd.oasis.opendocument.textPK", "office document", "save the document as PDF"},
		{"PK\x03\x04" + strings.Repeat("\x00", 26) + "[Content_Types].xml", "office document", "save the document as PDF"},
		{"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "office document", "save the document as PDF"},
		{"\xc5\xd0\xd3\xc6\x1e\x00", "EPS", "PDF"},
		{"\xff\x4f\xff\x51\x00\x29", "JPEG 2000", "PNG"},
		{"II\xbc\x01", "JPEG XR", "PNG"},
		{"\x00\x00\x00\x0cJXL \r\n\x87\n", "JPEG XL", "PNG"},
		{"RIFF\x00\x00\x00\x00CDRDvrsn", "drawing in its program's own format", "export it as PDF"},
		{"\x06\x06\xed\xf5\xd8\x1d\x46\xe5\xbd\x31\xef\xe7\xfe\x74\xb7\x1dDOCUMENT", "page layout", "export it as PDF"},
		{"\x01\x00\x00\x00" + strings.Repeat("\x00", 36) + " EMF", "metafile", "export it as PDF"},
		{"\xd7\xcd\xc6\x9a\x00\x00", "metafile", "export it as PDF"},
	} {
		_, err := Open([]byte(tt.data), Options{})
		f := isFault(t, err)
		if !strings.Contains(f.Reason, tt.reason) || !strings.Contains(f.Remedy, tt.remedy) {
			t.Errorf("%.10q: %q, %q: want words %q, %q", tt.data, f.Reason, f.Remedy, tt.reason, tt.remedy)
		}
		if Refusal([]byte(tt.data)) == nil {
			t.Errorf("%.10q: Refusal is silent", tt.data)
		}
	}
}

func TestDocument(t *testing.T) {
	doc, err := Open(encodePNG(t, painted(5, 4, true)), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if doc.Format() != "png" || doc.Pages() != 1 {
		t.Errorf("format %q, %d pages", doc.Format(), doc.Pages())
	}
	for _, n := range []int{-1, 0, 2} {
		if _, err := doc.Page(n, 0); err == nil || errors.Is(err, raster.ErrUnreadable) {
			t.Errorf("page %d: error %v, want one that is no fault of the file", n, err)
		}
	}
	first, err := doc.Page(1, 300)
	if err != nil {
		t.Fatal(err)
	}
	if err := first.Complete(); err != nil {
		t.Fatal(err)
	}
	if d := difference(first.Pix, painted(5, 4, true)); d != "" || !first.HasAlpha || first.Lossy {
		t.Errorf("%s, alpha %v, lossy %v", d, first.HasAlpha, first.Lossy)
	}
	if err := doc.Close(); err != nil {
		t.Error(err)
	}
	if _, err := doc.Page(1, 0); err == nil {
		t.Error("page of a closed document")
	}
}

func TestMaxPixels(t *testing.T) {
	var frame bytes.Buffer
	if err := gif.Encode(&frame, image.NewPaletted(image.Rect(0, 0, 20, 10), color.Palette{color.Black}), nil); err != nil {
		t.Fatal(err)
	}
	var bitmap, tagged bytes.Buffer
	if err := errors.Join(bmp.Encode(&bitmap, painted(20, 10, false)), tiff.Encode(&tagged, painted(20, 10, false), nil)); err != nil {
		t.Fatal(err)
	}
	for name, data := range map[string][]byte{
		"png": encodePNG(t, painted(20, 10, false)), "jpeg": encodeJPEG(t, painted(20, 10, false)),
		"gif": frame.Bytes(), "bmp": bitmap.Bytes(), "tiff": tagged.Bytes(),
	} {
		if _, err := Open(data, Options{MaxPixels: 200}); err != nil {
			t.Errorf("%s at the limit: %v", name, err)
		}
		_, err := Open(data, Options{MaxPixels: 199})
		if f := isFault(t, err); !strings.Contains(f.Reason, "20 x 10 = 200 pixels, and at most 199") {
			t.Errorf("%s over the limit: %q", name, f.Reason)
		}
	}
	if _, err := Open(nil, Options{MaxPixels: -1}); err == nil || errors.Is(err, raster.ErrUnreadable) {
		t.Errorf("negative limit: error %v", err)
	}
}

// Every picture of the Go source tree decodes to what the standard library's decoder and the slow twin make of it, the colour of
// clear pixels aside, save the five that are broken on purpose.
func TestGoTree(t *testing.T) {
	tree := goTree(t)
	names := slices.Concat(
		glob(t, tree, "testdata", "*.png"), glob(t, tree, "testdata", "*.jpeg"), glob(t, tree, "testdata", "*.gif"),
		glob(t, tree, "png", "testdata", "*.png"), glob(t, tree, "png", "testdata", "pngsuite", "*.png"),
	)
	invalid := 0
	for _, name := range names {
		t.Run(filepath.Base(name), func(t *testing.T) {
			data := load(t, name)
			got, err := page(data)
			if strings.HasPrefix(filepath.Base(name), "invalid-") {
				invalid++
				isFault(t, err)
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			m, format, err := image.Decode(bytes.NewReader(data))
			if err != nil {
				t.Fatal(err)
			}
			if d := visibleDifference(got.Pix, slow(m)); d != "" {
				t.Error(d)
			}
			if got.HasAlpha != anyClear(got.Pix) || got.Lossy != (format == "jpeg") {
				t.Errorf("alpha %v, lossy %v", got.HasAlpha, got.Lossy)
			}
		})
	}
	if invalid != 5 {
		t.Errorf("%d pictures broken on purpose, want 5", invalid)
	}
}

// Files of golang.org/x/image that hold the same picture as a PNG file beside them, which its makers wrote with other
// programs.
func TestImageModuleAgainstPNG(t *testing.T) {
	folder := filepath.Join(imageModule(t), "testdata")
	for file, twin := range map[string]string{
		"blue-purple-pink.lossless.webp":       "blue-purple-pink.png",
		"blue-purple-pink-large.lossless.webp": "blue-purple-pink-large.png",
		"gopher-doc.1bpp.lossless.webp":        "gopher-doc.1bpp.png",
		"gopher-doc.8bpp.lossless.webp":        "gopher-doc.8bpp.png",
		"gopher-doc.with-alpha.lossless.webp":  "gopher-doc.with-alpha.png",
		"tux.lossless.webp":                    "tux.png",
		"yellow_rose.lossless.webp":            "yellow_rose.png",
		"blue-purple-pink.lzwcompressed.tiff":  "blue-purple-pink.png",
		"bw-deflate.tiff":                      "bw-gopher.png",
		"bw-packbits.tiff":                     "bw-gopher.png",
		"bw-uncompressed.tiff":                 "bw-gopher.png",
		"bw-gopher_ccittGroup3.tiff":           "bw-gopher.png",
		"bw-gopher_ccittGroup4.tiff":           "bw-gopher.png",
		"video-001.tiff":                       "video-001.png",
		"video-001-16bit.tiff":                 "video-001.png",
		"video-001-strip-64.tiff":              "video-001.png",
		"video-001-tile-64x64.tiff":            "video-001.png",
		"video-001-uncompressed.tiff":          "video-001.png",
		"video-001.bmp":                        "video-001.png",
		"bmp_1bpp.bmp":                         "bmp_1bpp.png",
		"bmp_4bpp.bmp":                         "bmp_4bpp.png",
		"bmp_8bpp.bmp":                         "bmp_8bpp.png",
		"colormap.bmp":                         "colormap.png",
		"yellow_rose-small.bmp":                "yellow_rose-small.png",
		"yellow_rose-small-v5.bmp":             "yellow_rose-small-v5.png",
	} {
		t.Run(file, func(t *testing.T) {
			got := mustPage(t, load(t, folder, file))
			m, err := png.Decode(bytes.NewReader(load(t, folder, twin)))
			if err != nil {
				t.Fatal(err)
			}
			if d := difference(got.Pix, slow(m)); d != "" {
				t.Error(d)
			}
			if got.Lossy {
				t.Error("lossy")
			}
		})
	}
}

// All else in golang.org/x/image decodes as its own decoders and the slow twin do, or is refused where they refuse it.
func TestImageModule(t *testing.T) {
	module := imageModule(t)
	names := slices.Concat(
		glob(t, module, "testdata", "*.tiff"), glob(t, module, "testdata", "*.webp"), glob(t, module, "testdata", "*.bmp"),
		glob(t, module, "tiff", "testdata", "*.tiff"), glob(t, module, "tiff", "testdata", "*.tiff.bz2"),
	)
	for _, name := range names {
		t.Run(filepath.Base(name), func(t *testing.T) {
			data := load(t, name)
			if strings.HasSuffix(name, ".bz2") {
				var err error
				if data, err = io.ReadAll(bzip2.NewReader(bytes.NewReader(data))); err != nil {
					t.Fatal(err)
				}
			}
			got, err := page(data)
			m, _, wantErr := image.Decode(bytes.NewReader(data))
			if wantErr != nil || m.Bounds().Empty() {
				isFault(t, err)
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if d := difference(got.Pix, slow(m)); d != "" {
				t.Error(d)
			}
			if lossy := strings.Contains(name, ".lossy"); got.Lossy != lossy {
				t.Errorf("lossy %v, want %v", got.Lossy, lossy)
			}
		})
	}
}

// The CMYK file and its PNG twin are the same picture, which a swapped or inverted channel would not leave so. The
// tolerance is that of the Go tree's own test of the pair.
func TestCMYK(t *testing.T) {
	folder := filepath.Join(goTree(t), "testdata")
	got := mustPage(t, load(t, folder, "video-001.cmyk.jpeg"))
	want := mustPage(t, load(t, folder, "video-001.cmyk.png"))
	const tolerance = 8
	for i := range want.Pix.Pix {
		if d := int(got.Pix.Pix[i]) - int(want.Pix.Pix[i]); d < -tolerance || d > tolerance {
			t.Fatalf("at byte %d: %d, want %d", i, got.Pix.Pix[i], want.Pix.Pix[i])
		}
	}
	if !slices.Contains(got.Notes, noteCMYK) || len(want.Notes) != 0 {
		t.Errorf("notes %q and %q", got.Notes, want.Notes)
	}
}

// A frame smaller than its screen keeps its place, and the rest stays transparent (GIF89a, sections 18 and 20).
func TestGIFFrameOnScreen(t *testing.T) {
	red := color.NRGBA{255, 0, 0, 255}
	frame := image.NewPaletted(image.Rect(3, 2, 6, 4), color.Palette{red})
	anim := &gif.GIF{
		Image: []*image.Paletted{frame, frame}, Delay: []int{1, 1},
		Config: image.Config{Width: 9, Height: 7},
	}
	for frames := 1; frames <= 2; frames++ {
		var b bytes.Buffer
		if err := gif.EncodeAll(&b, &gif.GIF{Image: anim.Image[:frames], Delay: anim.Delay[:frames], Config: anim.Config}); err != nil {
			t.Fatal(err)
		}
		p := mustPage(t, b.Bytes())
		want := image.NewNRGBA(image.Rect(0, 0, 9, 7))
		for y := 2; y < 4; y++ {
			for x := 3; x < 6; x++ {
				want.SetNRGBA(x, y, red)
			}
		}
		if d := difference(p.Pix, want); d != "" || !p.HasAlpha {
			t.Errorf("%d frames: %s, alpha %v", frames, d, p.HasAlpha)
		}
		if len(p.Notes) != frames-1 {
			t.Errorf("%d frames: notes %q", frames, p.Notes)
		}
	}
}

func TestTIFFPagesNoted(t *testing.T) {
	for subfile, notes := range map[uint32]int{0: 1, 1: 0} { // 1 is a reduced copy (TIFF 6.0, NewSubfileType)
		data := greyTIFF(le, 3, 2, []byte{1, 2, 3, 4, 5, 6}, 1)
		d, ok := parseTIFF(data)
		if !ok {
			t.Fatal("no directory")
		}
		link := bytes.LastIndex(data, []byte{0, 0, 0, 0}) // the last four bytes: no value lies after them
		le.PutUint32(data[link:], uint32(len(data)))
		data = append(data, 2, 0)
		for _, f := range []field{long(tagNewSubfileType, subfile), long(tagHeight, 2)} {
			data = le.AppendUint16(le.AppendUint16(data, f.tag), f.typ)
			data = le.AppendUint32(le.AppendUint32(data, 1), f.values[0])
		}
		data = le.AppendUint32(data, d.next)
		if p := mustPage(t, data); len(p.Notes) != notes {
			t.Errorf("second directory of kind %d: notes %q", subfile, p.Notes)
		}
	}
}

func TestTIFFKindsRefused(t *testing.T) {
	const paletteKind, lab, ycbcr, colourFilter = 3, 8, 6, 32803
	kind := func(photometric, samples, bits, compression uint32, more ...field) []byte {
		return tiffBytes(le, make([]byte, 256), append([]field{
			long(tagWidth, 2), long(tagHeight, 2), short(tagBitsPerSample, slices.Repeat([]uint32{bits}, int(samples))...), short(tagCompression, compression),
			short(tagPhotometric, photometric), long(273, 8), short(tagSamplesPerPixel, samples), long(278, 2), long(279, 4*samples*bits/8)}, more...)...)
	}
	const ordinary, keepInk = "ordinary PNG", "export it as PDF, which can hold every ink"
	for _, tt := range []struct {
		words, remedy string
		data          []byte
	}{
		{"further channels", keepInk, kind(5, 5, 8, 1)},
		{"not of 8 or 16 bits", keepInk, kind(5, 4, 32, 1)},
		{"other than cyan", keepInk, kind(5, 4, 8, 1, short(tagInkSet, 2))},
		{"one after the other", ordinary, kind(2, 3, 8, 1, short(tagPlanar, 2))},
		{"reverse order", ordinary, kind(2, 3, 8, 1, short(tagFillOrder, 2))},
		{"5 colour channels", ordinary, kind(2, 5, 8, 1)},
		{"a fourth channel", ordinary, kind(2, 4, 8, 1)},
		{"a fourth channel", ordinary, kind(2, 4, 8, 1, short(tagExtraSamples, 0))},
		{"grey or a palette with transparency", ordinary, kind(1, 2, 8, 1, short(tagExtraSamples, 2))},
		{"grey or a palette with transparency", ordinary, kind(paletteKind, 2, 8, 1)},
		{"Lab colours", ordinary, kind(lab, 3, 8, 1)},
		{"YCbCr", ordinary, kind(ycbcr, 3, 8, 1)},
		{"a rare kind", ordinary, kind(colourFilter, 1, 16, 1)},
		{"a JPEG picture inside", ordinary, kind(2, 3, 8, 7)},
		{"a rare compression", ordinary, kind(2, 3, 8, 50000)},
		{"decimal fractions", ordinary, kind(2, 3, 16, 1, short(tagSampleFormat, 3, 3, 3))},
		{"32 bits a colour", ordinary, kind(2, 3, 32, 1)},
	} {
		_, err := Open(tt.data, Options{})
		if f := isFault(t, err); !strings.Contains(f.Reason, tt.words) || !strings.Contains(f.Remedy, tt.remedy) {
			t.Errorf("got %q, %q, want words %q, %q", f.Reason, f.Remedy, tt.words, tt.remedy)
		}
	}
	plain := mustPage(t, kind(2, 3, 8, 1))
	layers := mustPage(t, kind(2, 3, 8, 1, short(tagLayers, 1)))
	if len(layers.Notes) != len(plain.Notes)+1 || !strings.Contains(layers.Notes[0], "layers") {
		t.Errorf("layers: notes %q, without them %q", layers.Notes, plain.Notes)
	}
}

// giants are files of a few bytes that promise 399 million pixels, or none.
func giants(t testing.TB) map[string][]byte {
	const w, h = 21000, 19000
	m := make(map[string][]byte)

	p := encodePNG(t, painted(2, 2, false))
	ihdr := bytes.Clone(p[16:29])
	be.PutUint32(ihdr, w)
	be.PutUint32(ihdr[4:], h)
	m["png"] = bytes.Join([][]byte{p[:8], pngChunk("IHDR", ihdr), p[33:]}, nil)

	j := encodeJPEG(t, painted(8, 8, false))
	at := bytes.Index(j, []byte{0xff, 0xc0})
	be.PutUint16(j[at+5:], h)
	be.PutUint16(j[at+7:], w)
	m["jpeg"] = j

	for name, compression := range map[string]uint32{
		"tiff": compressNone, "tiff lzw": compressLZW, "tiff deflate": compressDeflate, "tiff packbits": compressPackBits, "tiff G4": compressG4,
	} {
		m[name] = tiffBytes(le, make([]byte, 16), long(tagWidth, w), long(tagHeight, h), short(tagBitsPerSample, 1),
			short(tagCompression, compression), short(tagPhotometric, 1), long(273, 8), long(278, h), long(279, 16))
	}

	var b bytes.Buffer
	if err := bmp.Encode(&b, painted(2, 2, false)); err != nil {
		t.Fatal(err)
	}
	le.PutUint32(b.Bytes()[18:], w)
	le.PutUint32(b.Bytes()[22:], h)
	m["bmp"] = b.Bytes()

	m["gif"] = []byte("GIF89a\x08\x52\x38\x4a\x00\x00\x00,\x00\x00\x00\x00\x08\x52\x38\x4a\x00\x02\x01\x00\x00;")

	frame := le.AppendUint16([]byte{0x10, 0, 0, 0x9d, 0x01, 0x2a}, 16000)
	frame = append(le.AppendUint16(frame, 16000), make([]byte, 32)...)
	w8 := le.AppendUint32([]byte("VP8 "), uint32(len(frame)))
	w8 = append(append([]byte("WEBP"), w8...), frame...)
	m["webp"] = append(le.AppendUint32([]byte("RIFF"), uint32(len(w8))), w8...)
	return m
}

func TestGiantHeadersCostLittle(t *testing.T) {
	for name, data := range giants(t) {
		t.Run(name, func(t *testing.T) {
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			_, err := page(data)
			runtime.ReadMemStats(&after)
			f := isFault(t, err)
			if !strings.Contains(f.Reason, "in the middle") {
				t.Errorf("fault %q", f)
			}
			if n := after.TotalAlloc - before.TotalAlloc; n > 8<<20 {
				t.Errorf("%d bytes of file made %d bytes of memory", len(data), n)
			}
		})
	}
}

func TestNoSize(t *testing.T) {
	_, err := Open([]byte("GIF89a\x00\x00\x02\x00\x00\x00\x00;"), Options{})
	if f := isFault(t, err); !strings.Contains(f.Reason, "0 pixels wide and 2 high") {
		t.Errorf("fault %q", f.Reason)
	}
	for _, data := range [][]byte{greyTIFF(le, 0, 2, nil, 1), greyTIFF(be, 0, 2, nil, 1), pngOf(t, 0, 2), bmpOf(t, 0, 2)} {
		_, err := page(data)
		if f := isFault(t, err); !strings.Contains(f.Reason, "0 pixels wide and 2 high") {
			t.Errorf("%.4q: fault %q", data, f.Reason)
		}
	}
}

// Sizes whose bytes, or even whose pixels, are more than an int64 counts are too large, not something odd.
func TestTooLargeToCount(t *testing.T) {
	for _, tt := range []struct {
		data []byte
		want string
	}{
		{pngOf(t, 2e9, 2e9), "2000000000 x 2000000000 = 4000000000000 million pixels, and at most 400 million are read"},
		{pngOf(t, 30000, 30000), "30000 x 30000 = 900 million pixels"},
		{pngOf(t, 400_000_001, 1), "400000001 x 1 = 400.1 million pixels, and at most 400 million"},
		{pngOf(t, math.MaxUint32, math.MaxUint32), "4294967295 x 4294967295 = 18446744065119.7 million pixels"},
		{pngOf(t, math.MaxUint32, 1), "4294967295 x 1 = 4295 million pixels"},
		{bmpOf(t, math.MaxInt32, math.MaxInt32), "2147483647 x 2147483647 = 4611686014132.5 million pixels"},
		{bmpOf(t, math.MaxInt32, 1<<31), "2147483647 x 2147483648 = "},
		{greyTIFF(le, math.MaxUint32, math.MaxUint32, nil, 1), "4294967295 x 4294967295 = 18446744065119.7 million pixels"},
	} {
		_, err := Open(tt.data, Options{})
		if f := isFault(t, err); !strings.Contains(f.Reason, tt.want) {
			t.Errorf("%.4q: fault %q, want %q", tt.data, f.Reason, tt.want)
		}
	}
}

// pngOf is a picture of 1 x 1 pixels whose header says w x h.
func pngOf(t *testing.T, w, h uint32) []byte {
	data := encodePNG(t, painted(1, 1, false))
	be.PutUint32(data[16:], w)
	be.PutUint32(data[20:], h)
	be.PutUint32(data[29:], crc32.ChecksumIEEE(data[12:29]))
	return data
}

// bmpOf is a picture of 1 x 1 pixels whose header says w x h.
func bmpOf(t *testing.T, w, h uint32) []byte {
	var b bytes.Buffer
	if err := bmp.Encode(&b, painted(1, 1, false)); err != nil {
		t.Fatal(err)
	}
	le.PutUint32(b.Bytes()[18:], w)
	le.PutUint32(b.Bytes()[22:], h)
	return b.Bytes()
}

// seeds are small files of each format.
func seeds(t testing.TB) map[string][][]byte {
	tree, module := goTree(t), imageModule(t)
	small := map[string][]string{
		"png":  slices.Concat(glob(t, tree, "png", "testdata", "*.png"), glob(t, tree, "png", "testdata", "pngsuite", "*.png")),
		"jpeg": glob(t, tree, "testdata", "*.jpeg"),
		"gif":  glob(t, tree, "testdata", "*.gif"),
		"tiff": slices.Concat(glob(t, module, "testdata", "*.tiff"), glob(t, module, "tiff", "testdata", "*.tiff")),
		"webp": glob(t, module, "testdata", "*.webp"),
		"bmp":  glob(t, module, "testdata", "*.bmp"),
	}
	const most = 12 << 10
	out := make(map[string][][]byte)
	for format, names := range small {
		for _, name := range names {
			if info, err := os.Stat(name); err == nil && info.Size() <= most {
				out[format] = append(out[format], load(t, name))
			}
		}
	}
	out["jpeg"] = append(out["jpeg"], withSegments(encodeJPEG(t, painted(16, 8, false)), jfif(2, 118, 118),
		exif(short(tagOrientation, 6), rational(282, 300, 1), rational(283, 300, 1))))
	out["tiff"] = append(out["tiff"], greyTIFF(be, 3, 2, []byte{1, 2, 3, 4, 5, 6}, 8, rational(282, 300, 1), rational(283, 300, 1)))
	out["png"] = append(out["png"], withChunk(encodePNG(t, painted(5, 4, true)), "pHYs", physBody(11811, 11811, 1)))
	var b bytes.Buffer
	if err := bmp.Encode(&b, painted(5, 4, false)); err != nil {
		t.Fatal(err)
	}
	out["bmp"] = append(out["bmp"], b.Bytes())
	for name, data := range giants(t) {
		format, _, _ := strings.Cut(name, " ")
		out[format] = append(out[format], data)
	}
	for _, f := range formats {
		if len(out[f.name]) < 2 {
			t.Fatalf("%d seeds of %s", len(out[f.name]), f.name)
		}
	}
	return out
}

// A file cut short anywhere is refused in plain words or, where only what follows the pixels is gone, read.
func TestTruncated(t *testing.T) {
	for format, files := range seeds(t) {
		t.Run(format, func(t *testing.T) {
			refused := 0
			for _, data := range files {
				step := max(1, len(data)/150)
				for n := 0; n < len(data); n += step {
					p, err := page(data[:n:n])
					if err != nil {
						refused++
						if f := isFault(t, err); strings.Contains(f.Reason, "internal") {
							t.Errorf("%d of %d bytes: %v", n, len(data), err)
						}
					} else if p.Pix.Rect.Empty() {
						t.Errorf("%d of %d bytes: an empty picture", n, len(data))
					}
				}
			}
			if refused == 0 {
				t.Error("no cut was refused")
			}
		})
	}
}

func TestPanicIsFault(t *testing.T) {
	broken := format{
		name:   "tiff",
		read:   func([]byte) (header, error) { return header{width: 1, height: 1, mostPixels: noBound}, nil },
		decode: func([]byte) (image.Image, error) { panic("index out of range") },
	}
	doc, err := open(broken, []byte{0}, 1)
	if err != nil {
		t.Fatal(err)
	}
	_, err = doc.Page(1, 0)
	if f := isFault(t, err); !strings.Contains(f.Error(), "internal error") {
		t.Errorf("got %v", f)
	}
}
