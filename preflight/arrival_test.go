package preflight

import (
	"errors"
	"image"
	"reflect"
	"slices"
	"testing"

	"peelcheck/raster"
)

// arriving hands a picture on row by row, from another goroutine, and then ends with err.
func arriving(pix *image.NRGBA, err error) *raster.Picture {
	pic := &raster.Picture{Pix: image.NewNRGBA(pix.Rect), PPIX: 300, PPIY: 300, PPIFrom: "pHYs"}
	a := pic.Arriving()
	go func() {
		alpha := false
		for y := range pix.Rect.Max.Y {
			row := pix.Pix[y*pix.Stride : (y+1)*pix.Stride]
			copy(pic.Pix.Pix[y*pix.Stride:], row)
			for i := 3; i < len(row); i += 4 {
				alpha = alpha || row[i] != 255
			}
			a.Reached(y + 1)
		}
		pic.HasAlpha = alpha
		a.End(err)
	}()
	return pic
}

// TestArriving: a picture that is surveyed while it arrives gives the same as one that is there, also where its top row is no sign
// of the rest.
func TestArriving(t *testing.T) {
	shapes := func(ground, top image.Image) *image.NRGBA {
		pix := image.NewNRGBA(image.Rect(0, 0, 300, 200))
		for y := range 200 {
			for x := range 300 {
				pix.Set(x, y, ground.At(x, y))
				if y == 0 {
					pix.Set(x, y, top.At(x, y))
				}
			}
		}
		paint(pix, image.Rect(40, 40, 200, 42), black)
		paint(pix, image.Rect(40, 60, 200, 160), yellow)
		paint(pix, image.Rect(90, 90, 150, 120), white)
		return pix
	}
	for _, tt := range []struct {
		name        string
		ground, top image.Image
	}{
		{"transparent", image.NewUniform(none), image.NewUniform(none)},
		{"white", image.NewUniform(white), image.NewUniform(white)},
		{"white under a transparent row", image.NewUniform(white), image.NewUniform(none)},
		{"transparent under a white row", image.NewUniform(none), image.NewUniform(white)},
		{"white under a black row", image.NewUniform(white), image.NewUniform(black)},
	} {
		pix := shapes(tt.ground, tt.top)
		for _, id := range []string{"toner-white-for-black", "toner-underbase", "toner-white-only"} {
			there := testScene(t, id, pix, 300, nil)
			got, err := NewScene(Artwork{Picture: arriving(pix, nil)}, there.Job)
			if err != nil {
				t.Fatalf("%s, %s: %v", tt.name, id, err)
			}
			v, w := got.survey, there.survey
			if got.ground != there.ground || v.sumOf != w.sumOf || got.Printed != there.Printed || !slices.Equal(v.ink.Words, w.ink.Words) ||
				!slices.Equal(v.solid.Words, w.solid.Words) || !reflect.DeepEqual(got.Lost(), there.Lost()) {
				t.Errorf("%s, %s: the survey of the picture as it arrived differs: background %+v, want %+v", tt.name, id, got.ground, there.ground)
			}
		}
	}
}

func TestArrivingFails(t *testing.T) {
	broken := &raster.Fault{Reason: "the file ends in the middle of the picture", Remedy: "export it again"}
	there := testScene(t, "toner-white-for-black", fill(300, 200, black), 300, nil)
	if _, err := NewScene(Artwork{Picture: arriving(fill(300, 200, black), broken)}, there.Job); !errors.Is(err, raster.ErrUnreadable) {
		t.Errorf("got %v, want %v", err, broken)
	}
}
