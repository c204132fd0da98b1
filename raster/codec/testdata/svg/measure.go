// Command measure draws SVG drawings with Go libraries and holds the pictures against those of librsvg:
//
//	measure FOLDER [PICTURES]
//
// FOLDER holds NAME.svg; PICTURES, if named, holds NAME.svg.png drawn 576 pixels wide by one more renderer. README.md says how to get them.
package main

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"time"

	fyne "github.com/fyne-io/oksvg"
	srwiley "github.com/srwiley/oksvg"
	"github.com/srwiley/rasterx"
	"github.com/tdewolff/canvas"
	"github.com/tdewolff/canvas/renderers/rasterizer"
)

const (
	widthPx   = 576
	near      = 8  // levels of 255 between which two pixels agree
	far       = 64 // levels of 255 that no smoothing of an edge in the same place explains
	timeLimit = 10 * time.Second
)

type drawing struct {
	name string
	data []byte
	size image.Point
}

type renderer struct {
	name string
	draw func(drawing) (image.Image, error)
}

func renderers(pictures string) []renderer {
	all := []renderer{{"srwiley/oksvg", drawSrwiley}, {"fyne-io/oksvg", drawFyne}, {"tdewolff/canvas", drawCanvas}}
	if pictures != "" {
		all = append(all, renderer{"PICTURES", func(d drawing) (image.Image, error) {
			f, err := os.Open(filepath.Join(pictures, d.name+".png"))
			if err != nil {
				return nil, err
			}
			defer f.Close()
			return png.Decode(f)
		}})
	}
	return all
}

// The icons are scaled before the strokes are: both forks leave a stroke's width as it is under SetTarget, so it is widened here.
func drawSrwiley(d drawing) (image.Image, error) {
	icon, err := srwiley.ReadIconStream(bytes.NewReader(d.data), srwiley.StrictErrorMode)
	if err != nil {
		return nil, err
	}
	icon.SetTarget(0, 0, float64(d.size.X), float64(d.size.Y))
	for i := range icon.SVGPaths {
		p := &icon.SVGPaths[i]
		widen(&p.LineWidth, p.Dash, float64(d.size.X)/icon.ViewBox.W)
	}
	m := image.NewRGBA(image.Rectangle{Max: d.size})
	icon.Draw(rasterx.NewDasher(d.size.X, d.size.Y, rasterx.NewScannerGV(d.size.X, d.size.Y, m, m.Rect)), 1)
	return m, nil
}

func drawFyne(d drawing) (image.Image, error) {
	icon, err := fyne.ReadIconStream(bytes.NewReader(d.data), fyne.StrictErrorMode)
	if err != nil {
		return nil, err
	}
	icon.SetTarget(0, 0, float64(d.size.X), float64(d.size.Y))
	for i := range icon.SVGPaths {
		p := &icon.SVGPaths[i]
		widen(&p.LineWidth, p.Dash, float64(d.size.X)/icon.ViewBox.W)
	}
	m := image.NewRGBA(image.Rectangle{Max: d.size})
	icon.Draw(rasterx.NewDasher(d.size.X, d.size.Y, rasterx.NewScannerGV(d.size.X, d.size.Y, m, m.Rect)), 1)
	return m, nil
}

func widen(width *float64, dash []float64, times float64) {
	*width *= times
	for i := range dash {
		dash[i] *= times
	}
}

func drawCanvas(d drawing) (image.Image, error) {
	c, err := canvas.ParseSVG(bytes.NewReader(d.data))
	if err != nil {
		return nil, err
	}
	w, _ := c.Size()
	return rasterizer.Draw(c, canvas.DPMM(float64(d.size.X)/w), canvas.SRGBColorSpace{}), nil
}

var errCrash = errors.New("crash")

// bounded draws with a bound in time and turns a panic into errCrash.
func bounded(r renderer, d drawing) (image.Image, error) {
	type result struct {
		m   image.Image
		err error
	}
	done := make(chan result, 1)
	go func() {
		defer func() {
			if p := recover(); p != nil {
				done <- result{nil, fmt.Errorf("%w: %v", errCrash, p)}
			}
		}()
		m, err := r.draw(d)
		done <- result{m, err}
	}()
	select {
	case got := <-done:
		return got.m, got.err
	case <-time.After(timeLimit):
		return nil, fmt.Errorf("%w: longer than %v", errCrash, timeLimit)
	}
}

func librsvg(path string) (image.Image, error) {
	out, err := exec.Command("rsvg-convert", "-w", strconv.Itoa(widthPx), path).Output()
	if err != nil {
		return nil, fmt.Errorf("rsvg-convert: %w", err)
	}
	return png.Decode(bytes.NewReader(out))
}

func onWhite(m image.Image) *image.RGBA {
	out := image.NewRGBA(image.Rectangle{Max: m.Bounds().Size()})
	draw.Draw(out, out.Rect, image.NewUniform(color.White), image.Point{}, draw.Src)
	draw.Draw(out, out.Rect, m, m.Bounds().Min, draw.Over)
	return out
}

// compare returns the share of the pixels that agree and of those that are far off; a pixel that is missing is far off.
func compare(truth, got *image.RGBA) (agree, off float64) {
	for y := range truth.Rect.Dy() {
		for x := range truth.Rect.Dx() {
			most := 255
			if image.Pt(x, y).In(got.Rect) {
				most = difference(truth.RGBAAt(x, y), got.RGBAAt(x, y))
			}
			if most <= near {
				agree++
			}
			if most > far {
				off++
			}
		}
	}
	n := float64(truth.Rect.Dx() * truth.Rect.Dy())
	return agree / n, off / n
}

func difference(a, b color.RGBA) int {
	distance := func(a, b uint8) int { return max(int(a)-int(b), int(b)-int(a)) }
	return max(distance(a.R, b.R), distance(a.G, b.G), distance(a.B, b.B))
}

type tally struct {
	exact, fair, wrong, refused, crashed int
	took                                 []time.Duration
}

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(args []string) error {
	if len(args) < 1 || len(args) > 2 {
		return errors.New("name a folder of SVG drawings")
	}
	files, err := filepath.Glob(filepath.Join(args[0], "*.svg"))
	if err != nil || len(files) == 0 {
		return fmt.Errorf("no drawings in %s", args[0])
	}
	all := renderers(append(args, "")[1])
	tallies := make([]tally, len(all))
	for _, path := range files {
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		m, err := librsvg(path)
		if err != nil {
			return err
		}
		truth := onWhite(m)
		fmt.Printf("%-34s", filepath.Base(path))
		for i, r := range all {
			fmt.Printf("  %-16s", tallies[i].add(r, drawing{filepath.Base(path), data, truth.Rect.Size()}, truth))
		}
		fmt.Println()
	}
	fmt.Printf("\n%-16s %9s %6s %6s %8s %8s %9s %9s   of %d\n", "", "99% agree", "else", "wrong", "refused", "crashed", "median", "longest", len(files))
	for i, t := range tallies {
		slices.Sort(t.took)
		fmt.Printf("%-16s %9d %6d %6d %8d %8d %9v %9v\n", all[i].name, t.exact, t.fair, t.wrong, t.refused, t.crashed,
			t.took[len(t.took)/2].Round(time.Millisecond), t.took[len(t.took)-1].Round(time.Millisecond))
	}
	return nil
}

func (t *tally) add(r renderer, d drawing, truth *image.RGBA) string {
	began := time.Now()
	m, err := bounded(r, d)
	t.took = append(t.took, time.Since(began))
	switch {
	case errors.Is(err, errCrash):
		t.crashed++
		return "crashed"
	case err != nil:
		t.refused++
		return "refused"
	}
	agree, off := compare(truth, onWhite(m))
	word := ""
	switch {
	case off > 0.001:
		t.wrong++
		word = " wrong"
	case agree >= 0.99:
		t.exact++
	default:
		t.fair++
	}
	return fmt.Sprintf("%.4f%s", agree, word)
}
