// Package printfile writes the PDF that goes to the printer: one page a sheet at exact size, each artwork drawn once and
// placed as often as wanted, its white marked so that the printer's software knows it.
//
// Start with File and Write. OpenPage embeds a page of another PDF without turning it into pixels.
package printfile

import (
	"fmt"
	"math"
	"strings"
	"time"
)

const (
	// mostSheetMM is 14 400 points of 1/72 inch, the largest page that readers need to take (ISO 32000-1 Annex C, from memory).
	mostSheetMM = 5080
	// offSheetMM is how far a box may reach past the sheet's edge by rounding.
	offSheetMM = 0.05
)

// File is all that is written: sheets of one size with artworks placed on them.
type File struct {
	Title         string    // shown by viewers; a bare name, never a path; may be empty
	Process       string    // id of the process, by which the file is known again as a print file; may be empty
	Created       time.Time // written only if it is not zero, so that the same job gives the same bytes
	SheetWidthMM  float64
	SheetHeightMM float64
	Mirror        bool // every page is mirrored left to right as a whole
	Artworks      []Artwork
	Sheets        [][]Placement // one page each; a page may be empty
}

// Placement puts one artwork onto a sheet. X and Y are the top left corner, in millimetres from the sheet's top left before
// mirroring, of the box it takes up there; turned clockwise by TurnDeg (0 or 90), that box is as wide as the artwork is high.
type Placement struct {
	Artwork  int // index in File.Artworks
	XMM, YMM float64
	TurnDeg  int
}

// Artwork is what is drawn in a box of the given size: Tone alone; or Colour or Page, with or without White; or White alone.
type Artwork struct {
	Name              string // for messages
	WidthMM, HeightMM float64
	Tone              *Tone
	Colour            *Colour
	Page              *Page
	// White is the white plane, one byte a pixel, 255 is full ink: a Separation called White in an optional-content group marked after
	// ISO 19593-1. It leaves the other planes as they are: where it is to knock colour out, the colour given has none there.
	White *Pixels
}

// Tone is one plane drawn black, for printers that lay white from the black station: 255 is full ink.
type Tone struct {
	Ink Pixels // one byte a pixel
	// CMYK draws with the black of DeviceCMYK instead of DeviceGray.
	CMYK bool
	// Opaque draws the plane as a plain picture that paints blank paper too; otherwise nothing is painted where there is no ink.
	Opaque bool
}

// Colour is a picture in DeviceRGB (255 is light) or DeviceCMYK (255 is full ink), its colour not multiplied by Alpha.
type Colour struct {
	Pixels Pixels // three bytes a pixel, or four if CMYK
	CMYK   bool
	Alpha  *Pixels // one byte a pixel, 255 paints fully; nil paints everywhere; its size may differ from that of Pixels
}

// Pixels is a raster of W x H pixels. Read fills dst with rows y0 to y1, counted from the top, without gaps; Write calls it
// for one band of rows after the other.
type Pixels struct {
	W, H int
	Read func(dst []byte, y0, y1 int) error
}

func (f *File) check() error {
	if !(f.SheetWidthMM > 0 && f.SheetWidthMM <= mostSheetMM && f.SheetHeightMM > 0 && f.SheetHeightMM <= mostSheetMM) {
		return fmt.Errorf("sheet of %g x %g mm: each side must be more than 0 and at most %d mm", f.SheetWidthMM, f.SheetHeightMM, mostSheetMM)
	}
	if strings.ContainsAny(f.Title, `/\`) {
		return fmt.Errorf("title %q holds a path: give the bare name", f.Title)
	}
	if len(f.Sheets) == 0 {
		return fmt.Errorf("no sheets to write")
	}
	for i := range f.Artworks {
		if err := f.Artworks[i].check(); err != nil {
			return fmt.Errorf("artwork %q: %w", f.Artworks[i].Name, err)
		}
	}
	for n, places := range f.Sheets {
		for _, p := range places {
			if err := f.checkPlacement(p); err != nil {
				return fmt.Errorf("sheet %d: %w", n+1, err)
			}
		}
	}
	return nil
}

func (f *File) checkPlacement(p Placement) error {
	if p.Artwork < 0 || p.Artwork >= len(f.Artworks) {
		return fmt.Errorf("no artwork %d among %d", p.Artwork, len(f.Artworks))
	}
	if p.TurnDeg != 0 && p.TurnDeg != 90 {
		return fmt.Errorf("turn of %d degrees: only 0 and 90 are known", p.TurnDeg)
	}
	w, h := p.size(&f.Artworks[p.Artwork])
	if !(p.XMM >= -offSheetMM && p.YMM >= -offSheetMM && p.XMM+w <= f.SheetWidthMM+offSheetMM && p.YMM+h <= f.SheetHeightMM+offSheetMM) {
		return fmt.Errorf("artwork %q, %g x %g mm at %g, %g, reaches past the sheet's edge", f.Artworks[p.Artwork].Name, w, h, p.XMM, p.YMM)
	}
	return nil
}

// size is the box that a placed artwork takes up on the sheet.
func (p Placement) size(a *Artwork) (w, h float64) {
	if p.TurnDeg == 90 {
		return a.HeightMM, a.WidthMM
	}
	return a.WidthMM, a.HeightMM
}

func (a *Artwork) check() error {
	if !(a.WidthMM > 0 && a.HeightMM > 0 && !math.IsInf(a.WidthMM, 0) && !math.IsInf(a.HeightMM, 0)) {
		return fmt.Errorf("size of %g x %g mm: each side must be more than 0", a.WidthMM, a.HeightMM)
	}
	switch {
	case a.Tone == nil && a.Colour == nil && a.Page == nil && a.White == nil:
		return fmt.Errorf("nothing to draw")
	case a.Tone != nil && (a.Colour != nil || a.Page != nil || a.White != nil), a.Colour != nil && a.Page != nil:
		return fmt.Errorf("only one of tone, colour and page can be drawn, and white only with colour or page")
	}
	if a.Page != nil {
		if h := a.WidthMM * a.Page.heightMM / a.Page.widthMM; math.Abs(h-a.HeightMM) > offSheetMM {
			return fmt.Errorf("a page %g mm wide must be %g mm high, not %g", a.WidthMM, h, a.HeightMM)
		}
	}
	return a.checkPixels()
}

func (a *Artwork) checkPixels() error {
	var all []*Pixels
	if a.Tone != nil {
		all = append(all, &a.Tone.Ink)
	}
	if a.Colour != nil {
		all = append(all, &a.Colour.Pixels)
		if a.Colour.Alpha != nil {
			all = append(all, a.Colour.Alpha)
		}
	}
	if a.White != nil {
		all = append(all, a.White)
	}
	for _, p := range all {
		if p.W < 1 || p.H < 1 || p.Read == nil {
			return fmt.Errorf("picture of %d x %d pixels: there must be some, and a way to read them", p.W, p.H)
		}
	}
	return nil
}
