package printfile

import (
	"bytes"
	"image"
	"strings"
	"testing"

	"peelcheck/raster"
)

func TestFromPlanes(t *testing.T) {
	const w, h = 150, 70
	var planes []*raster.Plane
	for c := range 4 {
		p := raster.NewPlane(w, h)
		for row := range 2 {
			for column := range 3 {
				tile := p.EditTile(column, row)
				for i := range tile {
					tile[i] = byte(i*7 + 31*c + column + 3*row)
				}
				p.SetTile(column, row, tile)
			}
		}
		planes = append(planes, p)
	}
	all, err := FromPlanes(planes...)
	if err != nil {
		t.Fatal(err)
	}
	got := make([]byte, 4*w*30)
	if err := all.Read(got, 35, 65); err != nil {
		t.Fatal(err)
	}
	for c, p := range planes {
		want := make([]byte, w*30)
		p.Read(want, image.Rect(0, 35, w, 65))
		single, err := FromPlanes(p)
		if err != nil {
			t.Fatal(err)
		}
		one := make([]byte, w*30)
		if err := single.Read(one, 35, 65); err != nil || !bytes.Equal(one, want) {
			t.Errorf("plane %d alone differs, %v", c, err)
		}
		for i, v := range want {
			if got[4*i+c] != v {
				t.Fatalf("plane %d, byte %d: %d, want %d", c, i, got[4*i+c], v)
			}
		}
	}
	if _, err := FromPlanes(); err == nil {
		t.Error("no planes make a picture")
	}
	if _, err := FromPlanes(planes[0], raster.NewPlane(w, h+1)); err == nil || !strings.Contains(err.Error(), "150 x 70 and 150 x 71") {
		t.Errorf("planes of two sizes: %v", err)
	}
}

func TestFromNRGBA(t *testing.T) {
	whole := image.NewNRGBA(image.Rect(-3, -2, 8, 9))
	for i := range whole.Pix {
		whole.Pix[i] = byte(i * 13)
	}
	m := whole.SubImage(image.Rect(-1, 0, 6, 7)).(*image.NRGBA)
	colour, alpha := FromNRGBA(m)
	if colour.W != 7 || colour.H != 7 || alpha.W != 7 || alpha.H != 7 {
		t.Fatalf("%d x %d and %d x %d pixels, want 7 x 7", colour.W, colour.H, alpha.W, alpha.H)
	}
	rgb, a := make([]byte, 3*7*2), make([]byte, 7*2)
	if err := colour.Read(rgb, 3, 5); err != nil {
		t.Fatal(err)
	}
	if err := alpha.Read(a, 3, 5); err != nil {
		t.Fatal(err)
	}
	for i := range a {
		want := m.NRGBAAt(-1+i%7, 3+i/7)
		if rgb[3*i] != want.R || rgb[3*i+1] != want.G || rgb[3*i+2] != want.B || a[i] != want.A {
			t.Fatalf("pixel %d: %v %d, want %v", i, rgb[3*i:3*i+3], a[i], want)
		}
	}
}
