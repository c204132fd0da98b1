package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"peelcheck/raster"
	"peelcheck/raster/codec"
)

const demoDir = "../../testdata/demo"

// Processors that fuse a multiplication with an addition round a coverage the other way now and then. Encoders of JPEG may
// change from one Go version to the next.
const (
	pngLevels  = 2
	jpegLevels = 10
)

// TestCommittedArtworkIsFresh draws everything again and compares it with what is committed; UPDATE=1 renews it first.
func TestCommittedArtworkIsFresh(t *testing.T) {
	if os.Getenv("UPDATE") == "1" {
		if err := run(demoDir, nil); err != nil {
			t.Fatal(err)
		}
	}
	fresh := t.TempDir()
	if err := run(fresh, nil); err != nil {
		t.Fatal(err)
	}
	want := names(t, fresh)
	if got := names(t, demoDir); !slices.Equal(got, want) {
		t.Fatalf("committed files are %q, the program draws %q", got, want)
	}
	for _, name := range want {
		t.Run(name, func(t *testing.T) {
			got, want := read(t, demoDir, name), read(t, fresh, name)
			switch filepath.Ext(name) {
			case ".png":
				samePicture(t, picture(t, got), picture(t, want), pngLevels)
			case ".jpg":
				samePicture(t, picture(t, got), picture(t, want), jpegLevels)
			default:
				if !bytes.Equal(got, want) {
					t.Errorf("committed file differs from what the program writes: run UPDATE=1 go test ./cmd/drawdemo")
				}
			}
		})
	}
}

func names(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return out
}

func read(t *testing.T, dir, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func picture(t *testing.T, data []byte) *raster.Picture {
	t.Helper()
	doc, err := codec.Open(data, codec.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer doc.Close()
	pic, err := doc.Page(1, 0)
	if err != nil {
		t.Fatal(err)
	}
	if err := pic.Complete(); err != nil {
		t.Fatal(err)
	}
	return pic
}

func samePicture(t *testing.T, got, want *raster.Picture, levels int) {
	t.Helper()
	if got.Pix.Rect != want.Pix.Rect || got.PPIX != want.PPIX || got.PPIY != want.PPIY {
		t.Fatalf("committed picture is %v at %g x %g ppi, the program draws %v at %g x %g",
			got.Pix.Rect, got.PPIX, got.PPIY, want.Pix.Rect, want.PPIX, want.PPIY)
	}
	for i, g := range got.Pix.Pix {
		if w := want.Pix.Pix[i]; max(int(g)-int(w), int(w)-int(g)) > levels {
			t.Fatalf("pixel (%d,%d) channel %d is %d in the committed picture, drawn now %d: run UPDATE=1 go test ./cmd/drawdemo",
				i%got.Pix.Stride/4, i/got.Pix.Stride, i%4, g, w)
		}
	}
}

// TestTruthFitsThePictures checks the committed list: every artwork but the clean one has a fault, and every fault's box
// lies on its picture and is not all of one colour.
func TestTruthFitsThePictures(t *testing.T) {
	var faults []fault
	if err := json.Unmarshal(read(t, demoDir, truthFile), &faults); err != nil {
		t.Fatal(err)
	}
	perFile := map[string]int{}
	pictures := map[string]*raster.Picture{}
	for _, f := range faults {
		perFile[f.File]++
		if f.Box == nil || strings.HasSuffix(f.File, ".pdf") {
			continue
		}
		if pictures[f.File] == nil {
			pictures[f.File] = picture(t, read(t, demoDir, f.File))
		}
		boxLiesOn(t, f, pictures[f.File])
	}
	for _, a := range artworks {
		if clean := a.file == "clean-lantern-shirt.png"; clean != (perFile[a.file] == 0) {
			t.Errorf("%s has %d faults", a.file, perFile[a.file])
		}
	}
}

func boxLiesOn(t *testing.T, f fault, pic *raster.Picture) {
	t.Helper()
	const slackMM = 0.001
	w, h := float64(pic.Pix.Rect.Dx())*25.4/pic.PPIX, float64(pic.Pix.Rect.Dy())*25.4/pic.PPIY
	b := f.Box
	if !(b.X >= -slackMM && b.Y >= -slackMM && b.W > 0 && b.H > 0 && b.X+b.W <= w+slackMM && b.Y+b.H <= h+slackMM) {
		t.Errorf("%s: %s box %+v is not on the picture of %.2f x %.2f mm", f.File, f.Rule, *b, w, h)
		return
	}
	k := pic.PPIX / 25.4
	varied := false
	x0, y0, x1, y1 := int(b.X*k), int(b.Y*k), int((b.X+b.W)*k), int((b.Y+b.H)*k)
	first := pic.Pix.NRGBAAt(x0, y0)
	for y := max(0, y0-2); y < min(pic.Pix.Rect.Dy(), y1+3) && !varied; y++ {
		for x := max(0, x0-2); x < min(pic.Pix.Rect.Dx(), x1+3) && !varied; x++ {
			varied = pic.Pix.NRGBAAt(x, y) != first
		}
	}
	if !varied {
		t.Errorf("%s: %s box %+v shows nothing but one colour", f.File, f.Rule, *b)
	}
}

func TestRunRefuses(t *testing.T) {
	if err := run("", nil); err == nil {
		t.Error("no folder: no error")
	}
	if err := run(t.TempDir(), []string{"more"}); err == nil {
		t.Error("a surplus argument: no error")
	}
}
