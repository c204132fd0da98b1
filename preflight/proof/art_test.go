package proof

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"
	"math/rand/v2"
	"sync"

	"peelcheck/preflight"
)

// lanterns is made-up artwork for the Quillmoor Lantern Walk: a moon, a row of lanterns on a string, reeds with thin stems.
// It is a function of millimetres, so that it can be drawn at any resolution.
type lanterns struct {
	w, h float64 // of the artwork, mm
	ppi  float64
	dots [][3]float64 // specks: middle and diameter, mm
}

var (
	cloth  = color.NRGBA{0x14, 0x1c, 0x3c, 0xff}
	amber  = color.NRGBA{0xff, 0xb4, 0x20, 0xff}
	teal   = color.NRGBA{0x1e, 0x96, 0x8c, 0xff}
	paper  = color.NRGBA{0xff, 0xff, 0xff, 0xff}
	inset  = 0.06 // of the artwork's shorter side stays empty all round
	stemMM = 0.2
)

// at returns the colour seen at a place and whether it prints white there.
func (a lanterns) at(x, y float64) (color.NRGBA, bool) {
	m := inset * min(a.w, a.h)
	if x < m || y < m || x > a.w-m || y > a.h-m {
		return cloth, false
	}
	u := min(a.w, a.h)
	for _, d := range a.dots {
		if math.Hypot(x-d[0], y-d[1]) < d[2]/2 {
			return paper, true
		}
	}
	if math.Hypot(x-a.w*0.78, y-a.h*0.26) < 0.16*u {
		return paper, true // the moon
	}
	count := max(2, math.Floor(a.w/(0.22*u)))
	pitch := (a.w - 2*m) / count
	k := math.Floor((x - m) / pitch)
	cx := m + (k+0.5)*pitch
	cy := a.h*0.5 + 0.05*a.h*math.Sin(k)
	dx, dy := math.Abs(x-cx)/(0.3*pitch), math.Abs(y-cy)/(0.1*u)
	switch {
	case dx < 1 && dy < 1 && dx*dx*dx+dy*dy*dy < 1:
		if math.Mod(x-cx+100*pitch, 0.1*pitch) < 0.012*pitch {
			return paper, true // a lantern's ribs
		}
		return amber, false
	case math.Abs(y-a.h*0.38) < 0.008*a.h:
		return paper, true // the string
	case math.Abs(x-cx) < stemMM/2 && y > a.h*0.66:
		return paper, true // a reed's stem
	case y > a.h*0.86+0.02*a.h*math.Sin(x/u*9):
		return teal, false // the bank
	}
	return cloth, false
}

func (a lanterns) px(mm float64) int { return int(mm*a.ppi/25.4 + 0.5) }

// preview draws a part of the artwork scaled to whole pixels, from three by three samples a pixel, or from the middle of the artwork's
// own pixel where that enlarges.
func (a lanterns) preview(whole image.Point, part image.Rectangle) (*image.NRGBA, *image.Gray) {
	look, plane := image.NewNRGBA(part), image.NewGray(part)
	across, down := samples(a.px(a.w), whole.X, part.Min.X, part.Max.X), samples(a.px(a.h), whole.Y, part.Min.Y, part.Max.Y)
	for y := part.Min.Y; y < part.Max.Y; y++ {
		for x := part.Min.X; x < part.Max.X; x++ {
			var sum [4]int
			for _, sy := range down[y-part.Min.Y] {
				for _, sx := range across[x-part.Min.X] {
					c, isWhite := a.at(sx*25.4/a.ppi, sy*25.4/a.ppi)
					sum[0], sum[1], sum[2] = sum[0]+int(c.R), sum[1]+int(c.G), sum[2]+int(c.B)
					if isWhite {
						sum[3] += 255
					}
				}
			}
			look.SetNRGBA(x, y, color.NRGBA{uint8(sum[0] / 9), uint8(sum[1] / 9), uint8(sum[2] / 9), 255})
			plane.SetGray(x, y, color.Gray{uint8(sum[3] / 9)})
		}
	}
	return look, plane
}

// samples are the places, in pixels of n, from which the pixels lo to hi-1 of out are drawn.
func samples(n, out, lo, hi int) [][3]float64 {
	list := make([][3]float64, hi-lo)
	for i := range list {
		for k := range list[i] {
			list[i][k] = (float64(lo+i) + (float64(k)+0.5)/3) * float64(n) / float64(out)
			if out >= n {
				list[i][k] = math.Floor((float64(lo+i)+0.5)*float64(n)/float64(out)) + 0.5
			}
		}
	}
	return list
}

// report is a report without findings on the artwork.
func (a lanterns) report() *preflight.Report {
	m := inset * min(a.w, a.h)
	box := preflight.BoxMM{X: m, Y: m, W: a.w - 2*m, H: a.h - 2*m}
	sheet := preflight.Sheet{Name: "a4", Width: 210, Height: 297, Margin: 4.2}
	return &preflight.Report{
		SchemaVersion: 1, Tool: preflight.Tool{Name: "peelcheck", Version: "0.1.0"}, Verdict: preflight.Ready,
		Artwork: preflight.ArtworkInfo{
			File: "lantern-walk.png", Page: 1, PageCount: 1, WidthPx: a.px(a.w), HeightPx: a.px(a.h), PPIX: a.ppi, PPIY: a.ppi,
			PPIFrom: "the file", WidthMM: a.w, HeightMM: a.h, PrintedBoxMM: box,
		},
		Job: preflight.JobInfo{
			Process: "toner-white-for-black", Garment: "#141c3c", Fabric: "cotton",
			Sheet: preflight.SheetInfo{Name: "a4", WidthMM: 210, HeightMM: 297, MarginMM: 4.2},
		},
		Placement: preflight.Place(preflight.SizeMM{W: box.W, H: box.H}, sheet, 5),
	}
}

func (a lanterns) input(rep *preflight.Report) Input {
	return Input{Report: rep, Preview: remembered(a.preview), ProcessTitle: "white toner in the black station"}
}

type preview = func(whole image.Point, part image.Rectangle) (*image.NRGBA, *image.Gray)

// remembered draws every preview but once.
func remembered(draw preview) preview {
	type place struct {
		whole image.Point
		part  image.Rectangle
	}
	type pair struct {
		look  *image.NRGBA
		white *image.Gray
	}
	var mu sync.Mutex
	known := map[place]pair{}
	return func(whole image.Point, part image.Rectangle) (*image.NRGBA, *image.Gray) {
		mu.Lock()
		defer mu.Unlock()
		p, ok := known[place{whole, part}]
		if !ok {
			p.look, p.white = draw(whole, part)
			known[place{whole, part}] = p
		}
		return p.look, p.white
	}
}

// bare is an input whose artwork is nothing but cloth, for what looks at the layout alone.
func bare(rep *preflight.Report) Input {
	return Input{Report: rep, Preview: func(_ image.Point, part image.Rectangle) (*image.NRGBA, *image.Gray) {
		look := image.NewNRGBA(part)
		draw.Draw(look, part, image.NewUniform(cloth), image.Point{}, draw.Src)
		return look, image.NewGray(part)
	}}
}

// found adds a finding with its box in millimetres and counts it.
func (a lanterns) found(rep *preflight.Report, rule string, level preflight.Level, x, y, w, h float64, m preflight.Measure, message, remedy string) {
	b := preflight.BoxPx{X: a.px(x), Y: a.px(y), W: max(1, a.px(w)), H: max(1, a.px(h))}
	rep.Findings = append(rep.Findings, preflight.Finding{
		ID: len(rep.Findings) + 1, Rule: rule, Level: level, Message: message, Remedy: remedy, BoxPx: b,
		BoxMM: preflight.BoxMM{X: x, Y: y, W: w, H: h}, Measure: m,
	})
	switch level {
	case preflight.LevelError:
		rep.Counts.Error++
		rep.Verdict = preflight.Hold
	case preflight.LevelWarning:
		rep.Counts.Warning++
		if rep.Verdict == preflight.Ready {
			rep.Verdict = preflight.Review
		}
	default:
		rep.Counts.Note++
	}
}

func (a lanterns) line(rep *preflight.Report, level preflight.Level, x, y, w, h, width float64) {
	a.found(rep, "hairline", level, x, y, w, h, preflight.Measure{Quantity: "width", Value: width, Limit: 0.35, Unit: "mm"},
		fmt.Sprintf("A line %.2f mm wide over %.1f mm.", width, max(w, h)), "Thicken the line to at least the limit, or take it out.")
}

func (a *lanterns) speck(rep *preflight.Report, x, y, d float64) {
	a.dots = append(a.dots, [3]float64{x, y, d})
	a.found(rep, "speck", preflight.LevelWarning, x-d/2, y-d/2, d, d, preflight.Measure{Quantity: "diameter", Value: d, Limit: 0.6, Unit: "mm"},
		fmt.Sprintf("A dot %.2f mm across.", d), "Take the dot out, or make it at least as large as the limit.")
}

func (a lanterns) gap(rep *preflight.Report, x, y, w, h, width float64) {
	a.found(rep, "thin-gap", preflight.LevelWarning, x, y, w, h, preflight.Measure{Quantity: "width", Value: width, Limit: 0.35, Unit: "mm"},
		fmt.Sprintf("A gap %.2f mm wide over %.1f mm.", width, max(w, h)), "Open the gap to at least the limit, or close it for good.")
}

// stems adds a finding for every reed's stem.
func (a lanterns) stems(rep *preflight.Report, level preflight.Level) {
	m, u := inset*min(a.w, a.h), min(a.w, a.h)
	count := max(2, math.Floor(a.w/(0.22*u)))
	pitch := (a.w - 2*m) / count
	for k := range int(count) {
		a.line(rep, level, m+(float64(k)+0.5)*pitch-stemMM/2, a.h*0.66, stemMM, a.h*0.2, stemMM)
	}
}

var (
	shirt  = lanterns{w: 180, h: 140, ppi: 300}
	tall   = lanterns{w: 90, h: 272, ppi: 300}
	banner = lanterns{w: 900, h: 110, ppi: 100}
	capArt = lanterns{w: 58, h: 34, ppi: 600}
)

func manyFindings() Input {
	shirt := shirt
	rep := shirt.report()
	rep.Artwork.File = "Quillmoor Lantern Walk, volunteers' shirt, front, final version 3 (really final) with the moon larger, as agreed on the telephone.png"
	shirt.stems(rep, preflight.LevelError)
	rng := rand.New(rand.NewPCG(3, 4))
	for range 14 {
		shirt.speck(rep, 20+60*rng.Float64(), 15+25*rng.Float64(), 0.15+0.4*rng.Float64())
	}
	for range 5 {
		shirt.gap(rep, 20+130*rng.Float64(), 62+16*rng.Float64(), 0.3, 3, 0.12+0.2*rng.Float64())
	}
	shirt.found(rep, "stray-white", preflight.LevelWarning, 10, 118, 160, 12, preflight.Measure{Quantity: "strength", Value: 0.41, Limit: 0.25, Unit: "share"},
		"A dark colour over 1650.0 mm2 will print with 41 % white in it and come out pale.",
		"Use a colour without black in it (lighter or purer), or draw the place pure black if it should be white.")
	shirt.found(rep, "heavy-area", preflight.LevelNote, 118, 14, 45, 45, preflight.Measure{Quantity: "area", Value: 1590, Unit: "mm2"},
		"A solid area of 1590 mm2 makes the print stiff there.", "Break the area up, or leave the garment showing through in places.")
	shirt.found(rep, "low-ppi", preflight.LevelWarning, 0, 0, 180, 140, preflight.Measure{Quantity: "resolution", Value: 132, Limit: 150, Unit: "ppi"},
		"The picture has 132 pixels an inch at its printed size of 180 x 140 mm; edges will look stepped.",
		"Ask for the artwork with more pixels or as a vector PDF, or print it smaller.")
	return shirt.input(rep)
}

func tallArtwork() Input {
	tall := tall
	rep := tall.report()
	rep.Artwork.Page, rep.Artwork.PageCount = 2, 3
	tall.stems(rep, preflight.LevelWarning)
	tall.speck(rep, 30, 40, 0.2)
	return tall.input(rep)
}

func bannerOffSheet() Input {
	rep := banner.report()
	b := rep.Artwork.PrintedBoxMM
	banner.found(rep, "off-sheet", preflight.LevelError, b.X, b.Y, b.W, b.H, preflight.Measure{Quantity: "excess", Value: 598.2, Unit: "mm"},
		"The design is 887 x 97 mm, but a4 can print only 202 x 289 mm; it is 598.2 mm too large. At 32 % it would fit.",
		"Print it smaller, choose a larger sheet, or split the design.")
	banner.stems(rep, preflight.LevelError)
	return banner.input(rep)
}

func tinyCap() Input {
	capArt := capArt
	rep := capArt.report()
	rep.Job.Fabric = "cap"
	rep.Artwork.File = "cap.png"
	capArt.stems(rep, preflight.LevelError)
	capArt.speck(rep, 12, 8, 0.1)
	return capArt.input(rep)
}

// capPlace has a place on the garment that is wider than the design and less high.
func capPlace() Input {
	rep := capArt.report()
	rep.Artwork.File = "cap.png"
	b := rep.Artwork.PrintedBoxMM
	rep.Job.Place = &preflight.PlaceInfo{Name: "cap-front", WidthMM: b.W + 20, HeightMM: b.H - 10, From: "built in"}
	return capArt.input(rep)
}

// titles are those of the rules that could not look.
var titles = map[string]string{
	"off-sheet": "larger than the sheet can print", "turned": "fits the sheet only when turned",
	"edge-clearance": "too close to the edge of the sheet", "low-ppi": "too few pixels for the printed size",
}

func noSize() Input {
	rep := shirt.report()
	rep.Artwork.PPIFrom = "assumed"
	shirt.found(rep, "no-size", preflight.LevelWarning, 0, 0, 180, 140, preflight.Measure{},
		"The file does not say how large it is to be printed; 300 pixels an inch were assumed, which makes it 180 x 140 mm.",
		"Ask for the printed width and say it with --width, or export the artwork with its resolution.")
	const reason = "the printed size is not known; say --width, --height or --ppi"
	for _, r := range []string{"off-sheet", "turned", "edge-clearance", "low-ppi"} {
		rep.Skipped = append(rep.Skipped, preflight.Skipped{Rule: r, Reason: reason, Title: titles[r]})
	}
	return shirt.input(rep)
}

func tenThousand() Input {
	shirt := shirt
	rep := shirt.report()
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range 10000 {
		x, y := 10+160*rng.Float64(), 10+120*rng.Float64()
		switch i % 4 {
		case 0:
			shirt.line(rep, preflight.LevelError, x, y, 0.2, 2, 0.05+0.12*rng.Float64())
		case 1:
			shirt.gap(rep, x, y, 2, 0.2, 0.1+0.2*rng.Float64())
		default:
			shirt.speck(rep, x, y, 0.1+0.4*rng.Float64())
		}
	}
	shirt.dots = nil // drawing five thousand takes long
	return shirt.input(rep)
}

// cases are drawn once; tests must not modify them.
var cases = sync.OnceValue(func() map[string]Input {
	return map[string]Input{
		"clean":                 shirt.input(shirt.report()),
		"many-findings":         manyFindings(),
		"tall-artwork":          tallArtwork(),
		"banner-off-sheet":      bannerOffSheet(),
		"tiny-cap":              tinyCap(),
		"cap-place":             capPlace(),
		"no-size":               noSize(),
		"ten-thousand-findings": tenThousand(),
	}
})
