// Package codec turns the bytes of an image file into a raster.Document of one page. Start with Open; Sniff names the
// format of a file by its content. The header is always read, and its size judged, before the pixels.
package codec

import (
	"errors"
	"fmt"
	"image"
	"math/big"
	"slices"
	"strings"

	"peelcheck/raster"
)

// Options bound what is decoded.
type Options struct {
	MaxPixels int64 // width times height; 0 means raster.DefaultMaxPixels
}

// header is what a file tells before its pixels are decoded.
type header struct {
	width, height int
	density       density
	orientation   int // EXIF 2.3 tag 274, 1 to 8; 0 counts as 1
	lossy         bool
	notes         []string
	// mostPixels is the most pixels the file's bytes can stand for in its format, so that a header which promises more
	// is refused before anything is allocated; negative where there is no such bound.
	mostPixels int64
}

// noBound marks a format that can describe any number of pixels in a few bytes.
const noBound = -1

type format struct {
	name string
	// claim reads the size alone, with ok false where there is none, in a format whose decoder finds no plain words for one
	// that is zero or gigantic; nil elsewhere.
	claim  func(data []byte) (width, height int64, ok bool)
	read   func(data []byte) (header, error)
	decode func(data []byte) (image.Image, error)
	// stream starts to decode into a picture whose rows then arrive, with ok false where decode must do it; nil where it always must.
	stream func(pic *raster.Picture, data []byte) (ok bool, err error)
}

var formats = []format{
	{"png", claimPNG, readPNG, decodePNG, streamPNG},
	{"jpeg", nil, readJPEG, decodeJPEG, nil},
	{"tiff", claimTIFF, readTIFF, decodeTIFF, nil},
	{"webp", nil, readWebP, decodeWebP, nil},
	{"bmp", claimBMP, readBMP, decodeBMP, nil},
	{"gif", nil, readGIF, decodeGIF, nil},
}

// Open reads the header of an image file and returns it as a document of one page, whose Page decodes the pixels anew
// each time. It keeps data. A file that cannot be used is a *raster.Fault, here or from Page or, where rows are still arriving,
// from the picture's Await.
func Open(data []byte, opt Options) (raster.Document, error) {
	if opt.MaxPixels < 0 {
		return nil, fmt.Errorf("codec: limit of %d pixels is negative", opt.MaxPixels)
	}
	if opt.MaxPixels == 0 {
		opt.MaxPixels = raster.DefaultMaxPixels
	}
	if fault := Refusal(data); fault != nil {
		return nil, fault
	}
	i := slices.IndexFunc(formats, func(f format) bool { return f.name == Sniff(data) })
	return open(formats[i], data, opt.MaxPixels)
}

func open(f format, data []byte, maxPixels int64) (raster.Document, error) {
	var h header
	err := guard(func() (err error) {
		if f.claim != nil {
			if w, h, ok := f.claim(data); ok {
				if err := checkSize(w, h, maxPixels); err != nil {
					return err
				}
			}
		}
		h, err = f.read(data)
		return err
	})
	if err != nil {
		return nil, faultOf(f.name, err)
	}
	if err := checkSize(int64(h.width), int64(h.height), maxPixels); err != nil {
		return nil, err
	}
	if h.mostPixels >= 0 && int64(h.width)*int64(h.height) > h.mostPixels {
		return nil, truncated(fmt.Errorf("too few bytes for %d x %d pixels", h.width, h.height))
	}
	return &document{format: f, header: h, data: data}, nil
}

// millions words a number of pixels to a tenth of a million, rounded up or down; small ones are written out.
func millions(n *big.Int, up int64) string {
	const tenth = 100_000
	if n.IsInt64() && n.Int64() < 10*tenth {
		return n.String()
	}
	rounded := new(big.Int).Div(new(big.Int).Add(n, big.NewInt(up*(tenth-1))), big.NewInt(tenth)).String()
	whole, part := rounded[:len(rounded)-1], rounded[len(rounded)-1:]
	return strings.TrimSuffix(whole+"."+part, ".0") + " million"
}

func checkSize(width, height, maxPixels int64) error {
	if width <= 0 || height <= 0 {
		return &raster.Fault{
			Reason: fmt.Sprintf("the picture is %d pixels wide and %d high", width, height),
			Remedy: "export it again",
		}
	}
	if width > maxPixels/height { // their product may be more than an int64 holds
		pixels := new(big.Int).Mul(big.NewInt(width), big.NewInt(height))
		return &raster.Fault{
			Reason: fmt.Sprintf("the picture has %d x %d = %s pixels, and at most %s are read", width, height, millions(pixels, 1), millions(big.NewInt(maxPixels), 0)),
			Remedy: "export it at a lower resolution or raise --max-pixels",
		}
	}
	return nil
}

type document struct {
	format format
	header header
	data   []byte
}

func (d *document) Format() string { return d.format.name }

func (d *document) Pages() int { return 1 }

func (d *document) Close() error {
	d.data = nil
	return nil
}

func (d *document) Page(number int, _ float64) (*raster.Picture, error) {
	if number != 1 {
		return nil, fmt.Errorf("codec: there is no page %d in a file of one page", number)
	}
	if d.data == nil {
		return nil, errors.New("codec: the document is closed")
	}
	var pic *raster.Picture
	err := guard(func() (err error) {
		pic, err = d.picture()
		return err
	})
	if err != nil {
		return nil, faultOf(d.format.name, err)
	}
	return pic, nil
}

func (d *document) picture() (*raster.Picture, error) {
	h := d.header
	pic := &raster.Picture{
		PPIX: h.density.x, PPIY: h.density.y, PPIFrom: h.density.from,
		Lossy: h.lossy, Notes: slices.Clone(h.notes),
	}
	if d.format.stream != nil {
		if ok, err := d.format.stream(pic, d.data); ok || err != nil {
			return pic, err
		}
	}
	m, err := d.format.decode(d.data)
	if err != nil {
		return nil, err
	}
	if size := m.Bounds().Size(); size != image.Pt(h.width, h.height) {
		return nil, fmt.Errorf("header says %d x %d pixels, picture has %d x %d", h.width, h.height, size.X, size.Y)
	}
	if inks, ok := inksOf(m); ok {
		(&inked{*orient(&inks.NRGBA, h.orientation)}).fill(pic)
	} else {
		pic.Pix, pic.HasAlpha = toNRGBA(m)
		pic.Pix = orient(pic.Pix, h.orientation)
	}
	if h.orientation > 1 {
		pic.Notes = append(pic.Notes, "The file says that the picture is to be turned or mirrored, and it was judged that way round.")
	}
	if h.orientation >= 5 {
		pic.PPIX, pic.PPIY = pic.PPIY, pic.PPIX
	}
	return pic, nil
}
