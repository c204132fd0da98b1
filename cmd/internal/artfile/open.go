// Package artfile finds artwork files and opens them as documents. Start with Gather and Open.
package artfile

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"peelcheck/raster"
	"peelcheck/raster/codec"
	"peelcheck/raster/pdfcolour"
	"peelcheck/raster/pdfpage"
)

// Options bound what is read.
type Options struct {
	MaxPixels   int64  // width times height of a page; 0 means raster.DefaultMaxPixels
	CacheDir    string // where the PDF renderer keeps its compiled code, empty for nowhere
	OnSlowStart func() // called when the PDF renderer must be compiled first; may be nil
	Inks        Inks
}

// Inks say how the colours of a PDF become what a printer lays down.
type Inks struct {
	White   func(name string) bool // tells by its name whether a spot colour is white; the others are mixed as the file says
	BG, UCR func(k float64) float64
}

// File is an open artwork file.
type File struct {
	raster.Document
	SHA256 string // of the whole file, in hex
	// TimeLimit is the least time that may have cut the reading short, and so have changed what was read; 0 if none does.
	TimeLimit time.Duration
	inks      Inks
	pixels    int64 // of an image file by its header, 0 if that does not tell
}

// A file may take eight bytes a pixel (16 bits in four channels), and as much again is left for what else it carries.
const (
	bytesPerPixel = 8
	sparedBytes   = 64 << 20
)

// Open reads the whole file and opens it. A file that cannot be used is a *raster.Fault or an error of package os.
func Open(path string, opt Options) (*File, error) {
	if _, err := Kind(path); err != nil {
		return nil, err
	}
	if opt.MaxPixels == 0 {
		opt.MaxPixels = raster.DefaultMaxPixels
	}
	data, err := readAll(path, opt.MaxPixels*bytesPerPixel+sparedBytes)
	if err != nil {
		return nil, err
	}
	format, err := kindOf(data[:min(len(data), headBytes)], filepath.Ext(path))
	if err != nil {
		return nil, err
	}
	doc, err := open(format, data, opt)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(data)
	file := &File{Document: doc, SHA256: hex.EncodeToString(sum[:]), inks: opt.Inks}
	if format == "pdf" {
		file.TimeLimit = pdfpage.TimeLimit
	} else if c, _, err := image.DecodeConfig(bytes.NewReader(data)); err == nil {
		file.pixels = int64(c.Width) * int64(c.Height)
	}
	return file, nil
}

// Sum returns the SHA-256 of a file in hex, as Open would give it, without opening it. It fails as Open does.
func Sum(path string, maxPixels int64) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	if info, err := f.Stat(); err != nil || !info.Mode().IsRegular() {
		return "", &raster.Fault{Reason: "this is not an ordinary file", Remedy: "save the artwork as a file first"}
	}
	h := sha256.New()
	most := maxPixels*bytesPerPixel + sparedBytes
	if n, err := io.Copy(h, io.LimitReader(f, most+1)); err != nil || n > most {
		return "", cmp.Or(err, tooLarge(n, most))
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

func tooLarge(size, most int64) error {
	return &raster.Fault{
		Reason: fmt.Sprintf("the file has %d bytes, and at most %d are read", size, most),
		Remedy: "export it at a lower resolution or raise --max-pixels",
	}
}

func open(format string, data []byte, opt Options) (raster.Document, error) {
	if format == "pdf" {
		return pdfpage.Open(data, pdfpage.Options{MaxPixels: opt.MaxPixels, CacheDir: opt.CacheDir, OnSlowStart: opt.OnSlowStart})
	}
	return codec.Open(data, codec.Options{MaxPixels: opt.MaxPixels})
}

func readAll(path string, maxBytes int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	if info.Size() > maxBytes {
		return nil, tooLarge(info.Size(), maxBytes)
	}
	buf := bytes.NewBuffer(make([]byte, 0, info.Size()+bytes.MinRead)) // room to see the end without growing
	if _, err := io.Copy(buf, io.LimitReader(f, maxBytes)); err != nil {
		return nil, err
	}
	return buf.Bytes(), nil
}

// pager is a document that tells the printed size of a page without rendering it: a PDF.
type pager interface {
	PageSize(n int) (widthMM, heightMM float64, err error)
	PicturePPI(n int) (float64, error)
}

// RenderPPI returns the resolution at which page n has ppi pixels per inch once it is printed at the width or height
// asked for, in millimetres, 0 if not asked for. With ppi 0 a page of nothing but pictures gets their own resolution, any other
// pdfpage.DefaultPPI. For image files, whose pixels are what they are, it returns ppi. A page that cannot be measured, or drawn so
// finely or coarsely, is an error.
func (f *File) RenderPPI(n int, ppi, widthMM, heightMM float64) (float64, error) {
	doc, ok := f.Document.(pager)
	if !ok {
		return ppi, nil
	}
	if ppi == 0 {
		own, err := doc.PicturePPI(n)
		if err != nil || own != 0 {
			return own, err
		}
		ppi = pdfpage.DefaultPPI
	}
	if widthMM == 0 && heightMM == 0 {
		return ppi, nil
	}
	w, h, err := doc.PageSize(n)
	if err != nil {
		return 0, err
	}
	times := max(widthMM/w, heightMM/h)
	if ppi*times < 1 || ppi*times > pdfpage.MaxPPI {
		return 0, &raster.Fault{
			Reason: fmt.Sprintf("page %d is %.4g x %.4g mm, and %.3g times that size is asked for", n, w, h, times),
			Remedy: "check --width and --height",
		}
	}
	return ppi * times, nil
}

// Prepared reports whether it is a print file of our own.
func (f *File) Prepared() bool {
	doc, ok := f.Document.(interface{ Prepared() bool })
	return ok && doc.Prepared()
}

// mmPerInch is exact (international inch, 1959).
const mmPerInch = 25.4

// Pixels returns how many pixels page n will have at ppi (for PDF, 0 meaning the default), before it is decoded. ok is
// false where that cannot be told.
func (f *File) Pixels(n int, ppi float64) (px int64, ok bool) {
	doc, isPDF := f.Document.(pager)
	if !isPDF {
		return f.pixels, f.pixels > 0
	}
	w, h, err := doc.PageSize(n)
	if ppi == 0 {
		ppi = pdfpage.DefaultPPI
	}
	perMM := ppi / mmPerInch
	return int64(w*perMM) * int64(h*perMM), err == nil
}

// inked is a document that tells what each ink lays down, and what its objects are: a PDF.
type inked interface {
	PageWithSeparations(n int, ppi float64, opt pdfpage.SeparationOptions) (pic *raster.Picture, own *raster.Separations, noSeparations, err error)
	Facts(n int) (*raster.Facts, error)
}

// Page is the picture of a page, with what each ink lays down where the page has colours of ink. A page that can be drawn but not taken
// apart is judged by its colours, with a note.
func (f *File) Page(n int, ppi float64) (*raster.Picture, error) {
	doc, ok := f.Document.(inked)
	if !ok {
		return f.Document.Page(n, ppi)
	}
	facts, err := doc.Facts(n)
	if err != nil {
		return nil, err
	}
	pic, own, noSeparations, err := doc.PageWithSeparations(n, ppi, pdfpage.SeparationOptions{
		Spot: f.inks.White, InkOnly: true, Curves: pdfcolour.Curves{BG: f.inks.BG, UCR: f.inks.UCR},
	})
	if err != nil {
		return nil, err
	}
	pic.Facts, err = facts, noSeparations
	var fault *raster.Fault
	switch {
	case errors.Is(err, pdfpage.ErrNoSeparations) && errors.As(err, &fault):
		pic.Notes = append(pic.Notes, fmt.Sprintf("What each ink prints could not be read (%s), so it was worked out from red, green and blue: a black of the file may print weaker than said.", fault.Reason))
	case err != nil:
		return nil, err
	case own != nil:
		pic.Notes = append(pic.Notes, own.Notes...)
		if own.WhiteLayers != nil {
			pic.Notes = append(pic.Notes, fmt.Sprintf("The file marks %s as white (ISO 19593-1); what is drawn there is the white plane.", layerWords(own.WhiteLayers)))
		}
		pic.Separations = own
	}
	return pic, nil
}

func layerWords(names []string) string {
	quoted := make([]string, len(names))
	for i, n := range names {
		quoted[i] = fmt.Sprintf("%q", n)
	}
	if len(quoted) == 1 {
		return "the layer " + quoted[0]
	}
	return "the layers " + strings.Join(quoted, ", ")
}
