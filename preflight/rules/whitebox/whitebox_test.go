package whitebox_test

import (
	"image"
	"image/color"
	"image/draw"
	"strings"
	"testing"

	"peelcheck/preflight"
	"peelcheck/preflight/rules/whitebox"
	"peelcheck/preflight/ruletest"
	"peelcheck/raster"
)

func TestRule(t *testing.T) { ruletest.Run(t, whitebox.Rule) }

// TestWhiteOnBlackPage: taking a black page out of a design that stands on it in white would leave the white unprinted, so the other way
// is told first.
func TestWhiteOnBlackPage(t *testing.T) {
	process, err := preflight.ProcessByID("toner-white-for-black")
	if err != nil {
		t.Fatal(err)
	}
	for drawn, want := range map[color.NRGBA]bool{{255, 255, 255, 255}: true, {200, 0, 0, 255}: false} {
		pix := image.NewNRGBA(image.Rect(0, 0, 100, 100))
		draw.Draw(pix, pix.Rect, image.Black, image.Point{}, draw.Src)
		draw.Draw(pix, image.Rect(40, 40, 60, 60), image.NewUniform(drawn), image.Point{}, draw.Src)
		job := preflight.Job{Process: process, PPI: 100, Background: preflight.BackgroundAuto}
		art := preflight.Artwork{File: "box.png", Format: "png", Page: 1, PageCount: 1, Picture: &raster.Picture{Pix: pix}}
		rep, _, err := preflight.Judge(art, job, []*preflight.Rule{whitebox.Rule})
		if err != nil {
			t.Fatal(err)
		}
		if len(rep.Findings) != 1 || strings.Contains(rep.Findings[0].Remedy, "--white-drawn-as white. Otherwise") != want {
			t.Errorf("%v on black: %+v, want the other way told: %v", drawn, rep.Findings, want)
		}
	}
}

// TestBoxIsOfItsColour: where colour lies on the white, only a white background comes out as a white box.
func TestBoxIsOfItsColour(t *testing.T) {
	for _, tt := range []struct {
		process string
		ground  color.NRGBA
		want    string
	}{
		{"toner-underbase", color.NRGBA{255, 255, 255, 255}, "The flat background (#ffffff) will print as a white box of 25 x 25 mm."},
		{"toner-underbase", color.NRGBA{171, 171, 171, 255}, "The flat background (#ababab) will print as a box of 25 x 25 mm in that colour, with white under it."},
		{"toner-white-for-black", color.NRGBA{0, 0, 0, 255}, "The flat background (#000000) will print as a white box of 25 x 25 mm."},
	} {
		process, err := preflight.ProcessByID(tt.process)
		if err != nil {
			t.Fatal(err)
		}
		pix := image.NewNRGBA(image.Rect(0, 0, 100, 100))
		draw.Draw(pix, pix.Rect, image.NewUniform(tt.ground), image.Point{}, draw.Src)
		draw.Draw(pix, image.Rect(40, 40, 60, 60), image.NewUniform(color.NRGBA{200, 0, 0, 255}), image.Point{}, draw.Src)
		job := preflight.Job{Process: process, PPI: 100, Background: preflight.BackgroundAuto}
		art := preflight.Artwork{File: "box.png", Format: "png", Page: 1, PageCount: 1, Picture: &raster.Picture{Pix: pix}}
		rep, _, err := preflight.Judge(art, job, []*preflight.Rule{whitebox.Rule})
		if err != nil {
			t.Fatal(err)
		}
		if len(rep.Findings) != 1 || rep.Findings[0].Message != tt.want {
			t.Errorf("%s: %+v, want %q", tt.process, rep.Findings, tt.want)
		}
	}
}
