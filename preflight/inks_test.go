package preflight

import (
	"image"
	"image/color"
	"math"
	"testing"

	"peelcheck/raster"
)

// inkedPicture is a picture of 200 x 100 pixels, dark grey as an 86 % black looks on a screen, whose own inks are full in a box of 80 x 60.
func inkedPicture(spot string) *raster.Picture {
	box := image.Rect(40, 20, 120, 80)
	pic := &raster.Picture{Pix: image.NewNRGBA(image.Rect(0, 0, 200, 100)), HasAlpha: true, PPIX: 300, PPIY: 300, PPIFrom: "page size"}
	full, none := raster.NewPlane(200, 100), raster.NewPlane(200, 100)
	for row := range 2 {
		for column := range 4 {
			t := new(raster.Tile)
			for i := range t {
				if image.Pt(column*64+i%64, row*64+i/64).In(box) {
					t[i] = 255
				}
			}
			full.SetTile(column, row, t)
		}
	}
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			copy(pic.Pix.Pix[pic.Pix.PixOffset(x, y):], []byte{35, 31, 32, 255})
		}
	}
	pic.Separations = &raster.Separations{Cyan: none, Magenta: none, Yellow: none, Black: full}
	if spot != "" {
		pic.Separations.Black = none
		pic.Separations.Spots = []raster.Spot{{Name: spot, Plane: full}}
	}
	return pic
}

// Where a file lays white over its own colours, a process whose white knocks out leaves those out, and does so once only.
func TestOwnWhiteKnocksOut(t *testing.T) {
	s := newSeparation(mustProcess(t, "beside"), "white", true)
	white := &inks{}
	white.planes[inkWhite] = []*raster.Plane{raster.NewPlane(1, 1)}
	tests := []struct {
		brought *inks
		own     ink
		alpha   uint8
		want    ink
	}{
		{white, ink{255, 255, 90, 0, 40}, 255, ink{255, 0, 0, 0, 0}},
		{white, ink{200, 255, 40, 0, 255}, 255, ink{200, 55, 40, 0, 55}},
		{white, ink{0, 255, 255, 255, 255}, 255, ink{0, 255, 255, 255, 255}},
		{&inks{}, ink{0, 0, 0, 0, 0}, 255, ink{255, 0, 0, 0, 0}},
		{&inks{}, ink{0, 51, 20, 0, 30}, 255, ink{174, 51, 20, 0, 30}},
		{&inks{}, ink{0, 51, 20, 0, 30}, 100, ink{19, 51, 20, 0, 30}},
		{&inks{}, ink{0, 200, 20, 0, 255}, 255, ink{0, 200, 20, 0, 255}},
	}
	for _, tt := range tests {
		got := s.inked(tt.own, tt.brought, 90, 90, 90, tt.alpha)
		if got != tt.want {
			t.Errorf("%v at alpha %d: %v, want %v", tt.own, tt.alpha, got, tt.want)
		}
		if again := s.inked(got, white, 90, 90, 90, tt.alpha); again != got {
			t.Errorf("%v, knocked out twice: %v", got, again)
		}
	}
}

// A file's own black, and a spot colour called white, print in full, whatever they look like on a screen.
func TestOwnInks(t *testing.T) {
	tests := []struct {
		process, spot string
		white, black  float64 // mean strength where they print, 0 where they do not
	}{
		{"toner-white-for-black", "", 1, 0},
		{"toner-white-for-black", "White", 1, 0},
		{"toner-white-for-black", "WHITE", 1, 0},
		{"toner-white-for-black", "Fog", 0, 0},
		{"toner-white-for-black", "opaque", 1, 0},
		{"toner-underbase", "", 1, 1},
		{"toner-underbase", "White", 1, 0},
		{"toner-white-only", "White", 1, 0},
		{"beside", "", 0, 1},
		{"beside", "White", 1, 0},
	}
	for _, tt := range tests {
		t.Run(tt.process+" "+tt.spot, func(t *testing.T) {
			pic := inkedPicture(tt.spot)
			like := testScene(t, tt.process, pic.Pix, 300, nil)
			like.Job.WhiteNames = []string{"Opaque"} // White is white besides
			s, err := NewScene(Artwork{Picture: pic}, like.Job)
			if err != nil {
				t.Fatal(err)
			}
			strength := map[Plane]float64{}
			for _, p := range s.planes() {
				strength[p.Plane] = p.MeanStrength
			}
			if strength[White] != tt.white || strength[Black] != tt.black {
				t.Errorf("mean strengths %v, want white %v and black %v", strength, tt.white, tt.black)
			}
			_, white := s.Appearance().Preview(image.Pt(100, 50), image.Rect(0, 0, 100, 50))
			inside, outside := white.GrayAt(40, 25).Y, white.GrayAt(90, 25).Y
			if inside != uint8(255*tt.white) || outside != 0 {
				t.Errorf("the preview's white is %d inside and %d outside, want %v and 0", inside, outside, 255*tt.white)
			}
		})
	}
}

// Where white alone is printed, a file in black ink says by it how much; one with other inks too prints wherever anything is drawn.
func TestBlackInkAlone(t *testing.T) {
	for _, tt := range []struct {
		alone       bool
		left, right uint8
	}{{true, 128, 0}, {false, 255, 255}} {
		pic := inkedPicture("")
		half, some := new(raster.Tile), new(raster.Tile)
		for i := range half {
			half[i], some[i] = 128, 40
		}
		pic.Separations.Black = raster.NewPlane(200, 100)
		pic.Separations.Black.SetTile(0, 0, half)
		pic.Separations.Cyan = raster.NewPlane(200, 100)
		if !tt.alone {
			pic.Separations.Cyan.SetTile(2, 1, some)
		}
		like := testScene(t, "toner-white-only", pic.Pix, 300, nil)
		s, err := NewScene(Artwork{Picture: pic}, like.Job)
		if err != nil {
			t.Fatal(err)
		}
		planes, err := s.PrintPlanes()
		if err != nil {
			t.Fatal(err)
		}
		var got [1]uint8
		for _, at := range []struct {
			p    image.Point
			want uint8
		}{{image.Pt(50, 30), tt.left}, {image.Pt(100, 30), tt.right}} {
			if at.p.In(planes.Box) {
				p := at.p.Sub(planes.Box.Min)
				planes.Plane(White).Read(got[:], image.Rectangle{p, p.Add(image.Pt(1, 1))})
			} else {
				got[0] = 0
			}
			if got[0] != at.want {
				t.Errorf("black alone %v: white at %v is %d, want %d", tt.alone, at.p, got[0], at.want)
			}
		}
	}
}

// A file that brings its own white leaves the colour beside it bare.
func TestBareBesideOwnWhite(t *testing.T) {
	pic := inkedPicture("White")
	colour := raster.NewPlane(200, 100)
	tile := new(raster.Tile)
	for y := 10; y < 30; y++ {
		for x := 10; x < 40; x++ {
			tile[y*raster.TilePx+x] = 255
			copy(pic.Pix.Pix[pic.Pix.PixOffset(128+x, y):], []byte{255, 0, 255, 255})
		}
	}
	colour.SetTile(2, 0, tile)
	pic.Separations.Magenta = colour
	like := testScene(t, "toner-underbase", pic.Pix, 300, nil)
	s, err := NewScene(Artwork{Picture: pic}, like.Job)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := s.Bare().Bounds(), image.Rect(138, 10, 168, 30); got != want {
		t.Errorf("bare in %v, want %v", got, want)
	}
}

// Where a file brings its own white, white looks white, colour over it pure, and colour beside it as dark as the cloth lets it.
func TestLookOfOwnWhite(t *testing.T) {
	cloth := color.NRGBA{0, 0, 128, 255}
	white := over(color.NRGBA{255, 255, 255, 255}, 255, cloth)
	for _, tt := range []struct {
		own    ink
		ground color.NRGBA
		want   color.NRGBA
	}{
		{ink{}, white, color.NRGBA{255, 255, 255, 255}},
		{ink{inkMagenta: 255}, white, color.NRGBA{255, 0, 255, 255}},
		{ink{inkYellow: 255}, cloth, color.NRGBA{0, 0, 0, 255}},
		{ink{inkBlack: 255}, white, color.NRGBA{0, 0, 0, 255}},
	} {
		if got := throughInk(tt.own, tt.ground); got != tt.want {
			t.Errorf("%v on %v looks %v, want %v", tt.own, tt.ground, got, tt.want)
		}
	}
}

// A white that a file brings is printed as it is, also where the process pulls its own in.
func TestOwnWhiteIsNotPulledIn(t *testing.T) {
	for _, spot := range []string{"", "White"} {
		pic := inkedPicture(spot)
		if spot != "" {
			pic.Separations.Black = pic.Separations.Spots[0].Plane // colour as wide as the white
		}
		like := testScene(t, "film-underbase", pic.Pix, 300, nil)
		s, err := NewScene(Artwork{Picture: pic}, like.Job)
		if err != nil {
			t.Fatal(err)
		}
		// 0.15 mm are 1.8 pixels of 1/300 inch: two, off the 80 x 60 that print.
		want := 80 * 60
		if spot == "" {
			want = 76 * 56
		}
		if got := s.White().Count(); got != want {
			t.Errorf("white of the file's own %q: %d pixels, want %d", spot, got, want)
		}
	}
}

// What is drawn besides a white is told from both together: a + w - aw, as ISO 32000-1, 11.3.6 composes them.
func TestWithoutWhite(t *testing.T) {
	for a := range 256 {
		for w := range 128 {
			both := uint8(math.Round(float64(a) + float64(w) - float64(a*w)/255))
			if got := int(withoutWhite(both, uint8(w))); max(got-a, a-got) > 1 {
				t.Fatalf("alpha %d with white %d, %d together, is taken for %d", a, w, both, got)
			}
		}
	}
}
