package codec

import (
	"errors"
	"fmt"
	"image/jpeg"
	"image/png"
	"io"
	"strings"

	"golang.org/x/image/bmp"
	"golang.org/x/image/tiff"

	"peelcheck/raster"
)

var refusals = map[string]raster.Fault{
	"":    {Reason: "the file is not a picture that can be read here", Remedy: "export the artwork as PNG or PDF"},
	"pdf": {Reason: "the file is a PDF, not a picture", Remedy: "open it as a PDF"},
	// docs/accuracy.md has the figures that speak against reading it.
	"svg": {
		Reason: "the file is an SVG drawing, which cannot be drawn exactly here",
		Remedy: "export it as PDF from the program that drew it",
	},
	"eps": {
		Reason: "the file is a PostScript drawing (EPS, PS or AI without a PDF inside), which cannot be read here",
		Remedy: "export it as PDF",
	},
	"drawing":  {Reason: "the file is a drawing in its program's own format, which cannot be read here", Remedy: "export it as PDF from the program that drew it"},
	"layout":   {Reason: "the file is a page layout in its program's own format, which cannot be read here", Remedy: "export it as PDF from the program that made it"},
	"metafile": {Reason: "the file is a metafile (WMF, EMF), which cannot be read here", Remedy: "export it as PDF from the program that drew it"},
	"psd":      layered("PSD"),
	"xcf":      layered("XCF"),
	"ora":      layered("OpenRaster"),
	"zip":      {Reason: "the file is a ZIP package, not a picture", Remedy: "unpack it and name the artwork that was in it"},
	"office":   {Reason: "the file is an office document (text, slides or a table), not a picture", Remedy: "ask for the artwork itself, or save the document as PDF"},
	"heic":     unreadPicture("HEIC"),
	"avif":     unreadPicture("AVIF"),
	"jp2":      unreadPicture("JPEG 2000"),
	"jxl":      unreadPicture("JPEG XL"),
	"jxr":      unreadPicture("JPEG XR"),
	"ico":      {Reason: "the file is an icon (ICO), which cannot be read here", Remedy: "export it as PNG"},
	"bigtiff":  {Reason: "the file is a BigTIFF picture, which cannot be read here", Remedy: "export it as PNG or as plain TIFF"},
}

// layered refuses pictures in layers: how these lie on one another is known to the program that made them alone.
func layered(name string) raster.Fault {
	return raster.Fault{
		Reason: fmt.Sprintf("the file is a layered picture (%s), which cannot be read here", name),
		Remedy: "export it as PNG with a transparent background, or as PDF",
	}
}

func unreadPicture(name string) raster.Fault {
	return raster.Fault{Reason: fmt.Sprintf("the file is a picture in %s, which cannot be read here", name), Remedy: "export it as PNG"}
}

// Refusal says why Open refuses a file that begins with head; nil if Open reads its format.
func Refusal(head []byte) *raster.Fault {
	if len(head) == 0 {
		return &raster.Fault{Reason: "the file is empty", Remedy: "copy or export it again"}
	}
	f, ok := refusals[Sniff(head)]
	if !ok {
		return nil
	}
	return &f
}

// errInternal marks a decoder that gave up in a way it should not.
var errInternal = errors.New("internal error")

// guard runs f and turns a panic of a decoder, which a hostile file may cause, into an error.
func guard(f func() error) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("%w: %v", errInternal, r)
		}
	}()
	return f()
}

func truncated(err error) *raster.Fault {
	return &raster.Fault{Reason: "the file ends in the middle of the picture", Remedy: "copy or export it again", Err: err}
}

// unsupported says that a file is sound but of a kind that is not read: what completes "the FORMAT file has ...".
func unsupported(format, what string, err error) *raster.Fault {
	return &raster.Fault{
		Reason: fmt.Sprintf("the %s file has %s, which cannot be read here", strings.ToUpper(format), what),
		Remedy: "export it as an ordinary PNG, 8 bits, RGB",
		Err:    err,
	}
}

// unsupportedInk is unsupported for colours of ink, which a PNG would lose.
func unsupportedInk(what string) *raster.Fault {
	fault := unsupported("tiff", what, nil)
	fault.Remedy = "export it as PDF, which can hold every ink, or as TIFF with cyan, magenta, yellow and black alone, 8 bits"
	return fault
}

// faultOf turns the error of a decoder into plain words.
func faultOf(format string, err error) *raster.Fault {
	var fault *raster.Fault
	var asPNG png.UnsupportedError
	var asJPEG jpeg.UnsupportedError
	var asTIFF tiff.UnsupportedError
	switch {
	case errors.As(err, &fault):
		return fault
	case errors.Is(err, errInternal):
		return &raster.Fault{Reason: "internal error while reading the picture", Remedy: "export it again as PNG", Err: err}
	case errors.As(err, &asPNG), errors.As(err, &asJPEG), errors.As(err, &asTIFF), errors.Is(err, bmp.ErrUnsupported):
		return unsupported(format, "a rare make-up", err)
	case isShort(err):
		return truncated(err)
	}
	return &raster.Fault{
		Reason: fmt.Sprintf("the %s file is damaged", strings.ToUpper(format)),
		Remedy: "copy or export it again",
		Err:    err,
	}
}

// isShort reports whether a decoder ran out of bytes. Some decoders say so only in words.
func isShort(err error) bool {
	if errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF) {
		return true
	}
	for _, words := range []string{"unexpected EOF", "not enough pixel data", "not enough image data", "short chunk data"} {
		if strings.Contains(err.Error(), words) {
			return true
		}
	}
	return false
}
