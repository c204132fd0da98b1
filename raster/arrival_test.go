package raster_test

import (
	"errors"
	"image"
	"testing"

	"peelcheck/raster"
)

func TestArrival(t *testing.T) {
	const h = 40
	pic := &raster.Picture{Pix: image.NewNRGBA(image.Rect(0, 0, 1, h))}
	if err := pic.Complete(); err != nil {
		t.Fatalf("a picture that is not marked: %v", err)
	}
	a := pic.Arriving()
	go func() {
		for y := range h {
			pic.Pix.Pix[4*y] = 1
			a.Reached(y + 1)
		}
		pic.HasAlpha = true
		a.End(nil)
	}()
	for y := range h {
		if err := pic.Await(y + 1); err != nil || pic.Pix.Pix[4*y] != 1 {
			t.Fatalf("row %d: %v, pixel %d", y, err, pic.Pix.Pix[4*y])
		}
	}
	if err := pic.Complete(); err != nil || !pic.HasAlpha {
		t.Errorf("at the end: %v, alpha %v", err, pic.HasAlpha)
	}
}

func TestArrivalFails(t *testing.T) {
	pic := &raster.Picture{Pix: image.NewNRGBA(image.Rect(0, 0, 1, 9))}
	broken := errors.New("broken")
	a := pic.Arriving()
	go a.End(broken)
	if err := pic.Await(1); err != broken {
		t.Errorf("got %v, want %v", err, broken)
	}
}
