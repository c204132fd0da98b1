package printfile

import (
	"image"
	"slices"
	"testing"

	"peelcheck/raster"
	"peelcheck/raster/pdfpage"
)

// TestWhiteLayerReadBack reads the planes back from what is written, for every way to put white and colour together. White has its mark
// after ISO 19593-1: it must be found, be the plane that was given, and take nothing of colour.
func TestWhiteLayerReadBack(t *testing.T) {
	white := drawn(64, 64, func(x, y int) byte { // half of it rising, half none
		if y < 32 {
			return byte(4 * x)
		}
		return 0
	})
	tests := pairings(white)
	var all []Artwork
	for _, tt := range tests {
		all = append(all, tt.art)
	}
	doc, err := pdfpage.Open(written(t, sheetsOf(all...)), pdfpage.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer doc.Close()
	whiteAt := at(t, white)
	for i, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s, err := doc.Separations(i+1, 72, pdfpage.SeparationOptions{})
			if err != nil {
				t.Fatal(err)
			}
			if !slices.Equal(s.WhiteLayers, []string{"White"}) || len(s.Notes) != 0 || len(s.Spots) != 1 || s.Spots[0].Name != "White" {
				t.Fatalf("layers of white %q, notes %q, spots %v", s.WhiteLayers, s.Notes, s.Spots)
			}
			p := plates{"White": grey(s.Spots[0].Plane), "Cyan": grey(s.Cyan), "Magenta": grey(s.Magenta), "Yellow": grey(s.Yellow), "Black": grey(s.Black)}
			p.holds(t, "White", 1, whiteAt)
			p.holds(t, "Cyan", 1, flat(byte(tt.alpha)))
			p.holds(t, "Yellow", 1, flat(byte(tt.alpha)))
			p.holds(t, "Magenta", 0, flat(0))
			p.holds(t, "Black", 0, flat(0))
		})
	}
}

func grey(p *raster.Plane) *image.Gray {
	m := image.NewGray(image.Rect(0, 0, p.W, p.H))
	for y := range p.H {
		p.Read(m.Pix[y*m.Stride:][:p.W], image.Rect(0, y, p.W, y+1))
	}
	return m
}

// TestPreparedReadBack reads the marks of a print file back.
func TestPreparedReadBack(t *testing.T) {
	ink := drawn(8, 8, func(int, int) byte { return 255 })
	for _, process := range []string{"", "film-underbase", "grün & \"gut\" (1)"} {
		for _, mirror := range []bool{false, true} {
			f := sheetsOf(Artwork{Tone: &Tone{Ink: ink}})
			f.Process, f.Mirror = process, mirror
			data := written(t, f)
			doc, err := pdfpage.Open(data, pdfpage.Options{})
			if err != nil {
				t.Fatal(err)
			}
			facts, err := doc.Facts(1)
			doc.Close()
			if err != nil || facts == nil {
				t.Fatalf("facts %v: %v", facts, err)
			}
			if p := facts.Prepared; (p != nil) != (process != "") || p != nil && *p != (raster.FactPrepared{Process: process, Mirrored: mirror}) {
				t.Errorf("%q, mirrored %v: read back as %+v", process, mirror, p)
			}
		}
	}
}
