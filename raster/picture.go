// Package raster holds pixels and geometry: pictures, one-bit bitmaps and their morphology, connected components
// and widths. It knows pixels only: no inch beyond a picture's own resolution tag, no ink, no garment.
//
// Start with Picture (what a codec returns) and Bitmap (what is measured). A set bit or a coverage of 255 always means
// "something is there"; zero means nothing.
package raster

import (
	"bytes"
	"encoding/binary"
	"image"
)

// Picture is one decoded page or image with what its file said about its printed size. Its rows may still be arriving: call Await
// before looking at them. Nothing but its decoder may modify Pix once the picture has been handed on.
type Picture struct {
	// Pix has straight (not premultiplied) alpha and its origin at (0,0).
	Pix *image.NRGBA
	// HasAlpha reports whether any pixel is not fully opaque.
	HasAlpha bool
	// PPIX and PPIY are pixels per inch (25.4 mm); zero where the file does not tell.
	PPIX, PPIY float64
	// PPIFrom names where the resolution came from: "pHYs", "JFIF", "EXIF", "TIFF tags", "BMP header", "page size"; empty if unknown.
	PPIFrom string
	// Vector reports whether the picture was drawn from a page's own outlines, so that its resolution is only how it was drawn.
	Vector bool
	// Lossy reports whether the file's compression can leave noise round edges (JPEG, lossy WebP).
	Lossy bool
	// Notes are plain sentences about what had to be assumed or reduced while reading, for the person who reads the report.
	Notes []string
	// Drawn has one bit for each 64 pixels of a row, the last ones of a row fewer: it is clear where all of them are wholly
	// transparent. Nil where the decoder did not look.
	Drawn *Bitmap

	// Separations are the planes of a file whose colours are inks; nil for colours of light, which a process separates in its own way.
	Separations *Separations
	// Facts are what the objects of a document's page say of themselves; nil for pictures.
	Facts *Facts

	arrival *Arrival
}

// OpaqueBits returns which of up to 64 pixels of straight colour and alpha, of four bytes each, are half opaque or more, the first in the lowest bit.
func OpaqueBits(px []byte) uint64 {
	if bytes.Equal(px[4:], px[:len(px)-4]) { // all are alike
		return -uint64(px[3]>>7) >> (64 - len(px)/4)
	}
	var out uint64
	at := 0
	for ; len(px) >= 8; px, at = px[8:], at+2 {
		two := binary.LittleEndian.Uint64(px)
		out |= (two>>31&1 | two>>62&2) << (at & 63)
	}
	if len(px) > 0 {
		out |= uint64(px[3]>>7) << (at & 63)
	}
	return out
}
