// Command train makes the weights of package likeness from open fonts (faces.txt, of the Debian packages in packages.txt, none under the
// GPL alone, four of the Go fonts, and display faces of npm packages, families.txt) and from drawings without lettering. It draws every face in several ways, some of them wider, fatter,
// on a slope or unsteady, has package rows find the shapes, and learns which glyph each is, or that it is none. The same fonts and drawings make the same weights on one kind of processor.
package main

import (
	"bufio"
	"errors"
	"flag"
	"fmt"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goitalic"
	"golang.org/x/image/font/gofont/gomono"
	"golang.org/x/image/font/gofont/goregular"

	"peelcheck/raster/lettering/internal/clipart"
	"peelcheck/raster/lettering/internal/likeness"
	"peelcheck/raster/lettering/internal/rows"
	"peelcheck/raster/lettering/internal/typecase"
)

func main() {
	fonts := flag.String("fonts", "/usr/share", "folder under which the fonts of -faces are")
	list := flag.String("faces", "faces.txt", "file with one font a line")
	families := flag.String("families", "families.txt", "file with one font a line, of the npm packages in -npm")
	npm := flag.String("npm", "", "folder of installed npm packages (node_modules) with the fonts of -families")
	openmoji := flag.String("openmoji", "", "folder of the unpacked npm package openmoji")
	out := flag.String("out", "weights.bin", "file to write")
	epochs := flag.Int("epochs", 8, "how often every sample is looked at")
	works := flag.Int("artworks", 8, "artworks drawn of each face")
	number := flag.Uint64("number", 1, "which network: others are made from other artworks of the same faces and begin otherwise")
	flag.Parse()
	if err := run([]source{{*fonts, *list}, {*npm, *families}}, *openmoji, *out, *epochs, *works, *number); err != nil {
		fmt.Fprintln(os.Stderr, "train:", err)
		os.Exit(1)
	}
}

// sample is a shape and the glyph it is, or none.
type sample struct {
	f     *likeness.Features
	glyph int
}

const none = -1

func run(fonts []source, openmoji, out string, epochs, works int, number uint64) error {
	faces, err := openFaces(fonts)
	if err != nil {
		return err
	}
	samples, err := lettered(faces, works, number)
	if err != nil {
		return err
	}
	letters := 0
	for _, s := range samples {
		if s.glyph != none {
			letters++
		}
	}
	fmt.Printf("%d faces: %d letters, %d other shapes\n", len(faces), letters, len(samples)-letters)
	more, err := drawn(openmoji)
	if err != nil {
		return err
	}
	fmt.Printf("drawings: %d shapes\n", len(more))
	samples = append(samples, more...)
	n := newNetwork(rand.New(rand.NewPCG(1, number)))
	learn(n, samples, epochs, number)
	return os.WriteFile(out, n.Encode(), 0o644)
}

// source is a folder and a file that lists fonts below it.
type source struct{ folder, list string }

func openFaces(from []source) ([]*typecase.Face, error) {
	var out []*typecase.Face
	for name, data := range map[string][]byte{"Go": goregular.TTF, "Go Bold": gobold.TTF, "Go Italic": goitalic.TTF, "Go Mono": gomono.TTF} {
		f, err := typecase.Parse(name, data, likeness.Glyphs)
		if err != nil {
			return nil, err
		}
		out = append(out, f)
	}
	slices.SortFunc(out, func(a, b *typecase.Face) int { return strings.Compare(a.Name, b.Name) })
	for _, s := range from {
		listed, err := s.open()
		if err != nil {
			return nil, err
		}
		out = append(out, listed...)
	}
	return out, nil
}

func (s source) open() (out []*typecase.Face, err error) {
	file, err := os.Open(s.list)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	for lines := bufio.NewScanner(file); lines.Scan(); {
		f, err := typecase.Open(filepath.Join(s.folder, lines.Text()), likeness.Glyphs)
		if err != nil {
			return nil, err
		}
		out = append(out, f)
	}
	return out, nil
}

// lettered draws artworks of all faces and takes their shapes.
func lettered(faces []*typecase.Face, works int, number uint64) ([]sample, error) {
	found := make([][]sample, len(faces))
	broken := make([]error, len(faces))
	var wg sync.WaitGroup
	next := make(chan int)
	for range 2 {
		wg.Go(func() {
			for i := range next {
				for k := range works {
					s, err := shapesOf(faces[i], rand.New(rand.NewPCG(uint64(i), (number-1)*uint64(works)+uint64(k))))
					if err != nil {
						broken[i] = err
					}
					found[i] = append(found[i], s...)
				}
			}
		})
	}
	for i := range faces {
		next <- i
	}
	close(next)
	wg.Wait()
	return slices.Concat(found...), errors.Join(broken...)
}

// shapesOf draws one artwork and takes its shapes, each of which is a glyph if it lies where that was drawn.
func shapesOf(face *typecase.Face, rng *rand.Rand) ([]sample, error) {
	a := randomArtwork(face, rng)
	pix, glyphs, err := a.Draw()
	if err != nil {
		return nil, err
	}
	p := rows.Open(pix, nil)
	var out []sample
	for _, r := range slices.Concat(p.Find(rows.Least), p.FindByColour(rows.Least)) {
		if !r.Along {
			continue
		}
		for _, s := range r.Shapes {
			glyph := none
			for _, g := range glyphs {
				if alike(s.Box, g, a.LinePx) {
					glyph = strings.IndexRune(likeness.Glyphs, g.Rune)
				}
			}
			out = append(out, sample{likeness.Describe(r.Cut(s)), glyph})
		}
	}
	return out, nil
}

func alike(box image.Rectangle, g typecase.Glyph, linePx float64) bool {
	least := 0.72
	if g.Rune == 'i' || g.Rune == 'j' {
		least = 0.6
	}
	return overlap(box, g.Box) > least || overlap(box, g.Box.Inset(-int(linePx+0.5))) > least
}

func overlap(a, b image.Rectangle) float64 {
	area := func(r image.Rectangle) float64 { return float64(r.Dx() * r.Dy()) }
	both := area(a.Intersect(b))
	return both / (area(a) + area(b) - both)
}

func randomArtwork(face *typecase.Face, rng *rand.Rand) *typecase.Artwork {
	a := &typecase.Artwork{
		Face: face, XHeightPx: 11 * math.Exp(rng.Float64()*math.Log(8)), Style: rng.IntN(typecase.StyleCount),
		Ground: color.NRGBA{}, Ink: color.NRGBA{A: 255}, Second: color.NRGBA{255, 200, 0, 255},
		Tracking: 0.02 + rng.Float64()*0.15, Leading: 1.6, Slope: (rng.Float64() - 0.5) * 0.15, Shear: (rng.Float64() - 0.4) * 0.3, MarginPx: 24,
	}
	if rng.IntN(4) == 0 {
		a.Slope = (rng.Float64() - 0.5) * 0.55
	}
	if rng.IntN(2) == 0 {
		a.Wider = 0.6*math.Exp(rng.Float64()*math.Log(2.6)) - 1
	}
	if rng.IntN(4) == 0 {
		a.FatterPx = rng.Float64() * a.XHeightPx / 16
		a.Tracking += 2 * a.FatterPx / a.XHeightPx * face.XHeight
	}
	if rng.IntN(2) == 0 {
		a.Ground = color.NRGBA{255, 255, 255, 255}
	}
	if a.Style == typecase.Outlined || a.Style == typecase.Filled {
		a.LinePx = 1 + rng.Float64()*a.XHeightPx/8
		a.Tracking += 2 * a.LinePx / a.XHeightPx * face.XHeight
	}
	if rng.IntN(3) == 0 {
		a.Warp = unsteady(rng)
	}
	const perLine = 8
	for range 2 {
		var b strings.Builder
		for range perLine {
			b.WriteByte(likeness.Glyphs[rng.IntN(len(likeness.Glyphs))])
		}
		a.Lines = append(a.Lines, b.String())
	}
	return a
}

// unsteady tilts, widens and bends every glyph a little, each otherwise, as a hand does.
func unsteady(rng *rand.Rand) func(n int, x, y float64) (float64, float64) {
	much := 0.2 + rng.Float64()*0.6
	const glyphs = 16
	var ways [glyphs][8]float64
	for i := range ways {
		for k := range ways[i] {
			ways[i][k] = rng.NormFloat64() * much
		}
	}
	return func(n int, x, y float64) (float64, float64) {
		w := &ways[n%glyphs]
		bx := 0.02 * math.Sin(2*math.Pi*(0.8*y+0.4*w[0]*x)+3*w[1])
		by := 0.02 * math.Sin(2*math.Pi*(0.8*x+0.4*w[2]*y)+3*w[3])
		return x*(1+0.08*w[4]) + 0.08*w[5]*y + bx*w[6], y + 0.06*w[7]*(x-0.25) + by*w[0]
	}
}

// drawn takes the shapes of the drawings for tuning, none of which is a letter.
func drawn(dir string) ([]sample, error) {
	files, _, err := clipart.List(dir)
	if err != nil {
		return nil, err
	}
	var out []sample
	for i := range 2 * len(files) {
		name, widthPx := files[i/2], 618
		if i%2 == 1 { // in lines alone, as small as symbols are
			name, widthPx = strings.Replace(name, "/color/", "/black/", 1), 200
		}
		pix, err := clipart.Draw(name, widthPx)
		if err != nil {
			return nil, err
		}
		seen := map[rows.Shape]bool{}
		p := rows.Open(pix, nil)
		for _, r := range slices.Concat(p.Find(1), p.FindByColour(1), p.FindUnlike(1)) {
			for _, s := range r.Shapes[:min(24, len(r.Shapes))] {
				if !seen[s] {
					seen[s] = true
					out = append(out, sample{likeness.Describe(r.Cut(s)), none})
				}
			}
		}
	}
	return out, nil
}
