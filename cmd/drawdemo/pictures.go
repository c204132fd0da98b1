package main

import (
	"github.com/disintegration/imaging"

	"peelcheck/cmd/internal/drawing"
)

var artworks = []artwork{
	{"clean-lantern-shirt.png", cleanLanternShirt},
	{"hairline-reeds.png", hairlineReeds},
	{"thin-gap-fence.png", thinGapFence},
	{"specks-and-pinholes.png", specksAndPinholes},
	{"faint-mist.png", faintMist},
	{"lost-white-moths.png", lostWhiteMoths},
	{"dark-colours-hill.png", darkColoursHill},
	{"white-box-tote.png", whiteBoxTote},
	{"no-size-cap.png", noSizeCap},
	{"low-ppi-photo.jpg", lowPPIPhoto},
	{"off-sheet-banner.png", offSheetBanner},
	{"turned-banner.png", turnedBanner},
	{"edge-clearance-tote.png", edgeClearanceTote},
	{"tall-cap-marshal.png", tallCapMarshal},
	{"black-box-moon.png", blackBoxMoon},
	{"soft-shadow.png", softShadow},
	{"full-moon-back.png", fullMoonBack},
	{"navy-on-navy.png", navyOnNavy},
	{"cut-out-heron.png", cutOutHeron},
	{"mirrored-steward.png", mirroredSteward},
	{"lantern-keeper.pdf", lanternKeeper},
	{"two-page.pdf", twoPage},
	{"spot-moon.pdf", spotMoon},
}

const (
	townName  = "QUILLMOOR"
	eventName = "LANTERN WALK"
	hours     = "DUSK TO DARK"
)

// cleanLanternShirt has nothing wrong: no detail under 1.2 mm, no gap under 0.8 mm, only black and bright colours.
func cleanLanternShirt(l *letters) product {
	s := newSheet(240, 280, 300)
	s.Fill(l.bold.TextFitted(townName, 186, 0.12, 120, 41), black)
	roundel := drawing.Circle(120, 135, 76)
	back := hill(220, 40, 160, 62, 138, 92, 140, 116, 158, 150, 132, 178, 136, 204, 158)
	s.FillWithin(back, roundel, black)
	front := hill(220, 40, 186, 70, 160, 106, 162, 134, 176, 160, 186, 184, 180, 204, 172)
	s.Erase(s.Grown(front, 1.6))
	s.FillWithin(front, roundel, black)
	s.cut(way(118, 216, 30, -14, 169, 5))
	s.Fill(drawing.Ring(120, 135, 80).Stroke(2.6), yellow)
	s.Fill(crescent(163, 96, 17, -35, 2.4), yellow)
	for _, at := range [][2]float64{{112, 72}, {136, 76}, {62, 122}, {181, 122}} {
		s.Fill(sparkle(at[0], at[1], 7, 1.7), black)
	}
	s.Fill(moth(130, 116, 25, -14, 1.4), black)
	s.lampPost(newLampPost(76, 186, 96, 24, 3, 46), 1.4)
	s.lampPost(newLampPost(152, 184, 144, 12, 2.2, 32), 1.4)
	s.Fill(l.bold.TextFitted(eventName, 186, 0.12, 120, 245), black)
	s.Fill(l.bold.TextFitted(hours, 110, 0.3, 120, 264), orange)
	return s.png()
}

// hairlineReeds has stems and feelers thinner than any sheet holds.
func hairlineReeds(l *letters) product {
	s := newSheet(200, 250, 300)
	s.Fill(drawing.Circle(100, 74, 40), yellow)
	ground := hill(204, 12, 190, 50, 176, 90, 184, 110, 186, 140, 190, 165, 178, 188, 186)
	s.inFront(heron(96, 187, 116), 1.2, black)
	for _, b := range [][3]float64{{26, 1, 150}, {38, -1, 138}, {50, 3, 158}, {160, 1, 138}, {172, 2, 150}, {184, 1, 144}} {
		s.Fill(reed(b[0], 188, b[1], b[2]).Stroke(2.6), black)
	}
	s.Fill(ground, black)
	for _, r := range []struct{ x, lean, top, widthMM float64 }{
		{20, 2, 84, 0.12}, {32, -2, 62, 0.20}, {44, 3, 94, 0.30},
		{154, -1, 102, 0.30}, {166, 2, 78, 0.20}, {178, -2, 94, 0.12},
	} {
		head := reedHead(r.x+r.lean, r.top-22, 22, r.lean*0.3, 5.4)
		s.Fill(head, black)
		s.hairline(reed(r.x, 188, r.lean, r.top).Stroke(r.widthMM), r.widthMM, "reed's stem", ground, head)
	}
	body := mothBody(170, 34, 30, 16)
	s.Fill(body, black)
	for _, side := range []float64{1, -1} {
		s.hairline(feeler(170, 34, 30, 16, side, 0.2), 0.2, "moth's feeler", body)
	}
	s.Fill(l.bold.TextFitted("MARSH WALK", 176, 0.12, 100, 230), black)
	return s.png()
}

// hairline draws a line too thin to hold and notes what is to be seen of it beside the shapes that it runs into.
func (s *sheet) hairline(line drawing.Path, widthMM float64, what string, into ...drawing.Path) {
	s.Fill(line, black)
	seen := s.Mask(line)
	for _, p := range into {
		seen = drawing.Without(seen, s.Mask(p))
	}
	s.fault("hairline", s.BoxOf(seen, inkLevel), widthMM, what)
}

// inkLevel is the coverage, of 255, from which a pixel belongs to the box of a line: as little as a tenth can be seen.
const inkLevel = 26

// thinGapFence has boards and letter tiles too close together to part.
func thinGapFence(l *letters) product {
	s := newSheet(200, 200, 300)
	s.Fill(crescent(150, 36, 20, -30, 2.4), yellow)
	s.Fill(sparkle(112, 24, 9, 2), black)
	s.Fill(sparkle(182, 70, 7, 2), black)
	s.Fill(moth(108, 66, 28, -12, 1.5), black)
	s.lampPost(newLampPost(42, 120, 28, 28, 3.2, 58), 0)
	s.fence(13, 100, 148, 17, []float64{3, 0.10, 3, 0.15, 3, 3, 0.25, 3})
	s.tiles(l, "GATE", 13, 156, 32, []float64{0.15, 3, 0.25})
	s.Fill(l.bold.TextFitted("OPEN", 38, 0.05, 169, 173), orange)
	s.Fill(l.bold.TextFitted("TILL DARK", 38, 0.05, 169, 187), orange)
	return s.png()
}

// fence stands pointed boards side by side from x on, with gaps between them.
func (s *sheet) fence(x, top, foot, boardMM float64, gaps []float64) {
	var boards, nails []drawing.Path
	for i := range len(gaps) + 1 {
		boards = append(boards, polygon(x, foot, x, top, x+boardMM/2, top-9, x+boardMM, top, x+boardMM, foot))
		nails = append(nails, drawing.Circle(x+boardMM/2, top+8, 1.4), drawing.Circle(x+boardMM/2, foot-8, 1.4))
		x += boardMM
		if i < len(gaps) {
			if gaps[i] < 1 {
				s.fault("thin-gap", drawing.Box{X: x, Y: top, W: gaps[i], H: foot - top}, gaps[i], "gap between fence boards")
			}
			x += gaps[i]
		}
	}
	for _, b := range boards {
		s.Erase(s.Grown(b, 1.5))
	}
	for _, b := range boards {
		s.Fill(b, black)
	}
	s.cut(drawing.Join(nails...))
}

// tiles draws letters cut out of square tiles, with gaps between them.
func (s *sheet) tiles(l *letters, word string, x, y, sideMM float64, gaps []float64) {
	for i, r := range word {
		tile := drawing.Rect(x, y, sideMM, sideMM)
		s.Fill(tile, black)
		s.cut(l.bold.Text(string(r), sideMM*0.62, 0).Move(0, y+sideMM*0.81).Centred(x + sideMM/2))
		x += sideMM
		if i < len(gaps) {
			if gaps[i] < 1 {
				s.fault("thin-gap", drawing.Box{X: x, Y: y, W: gaps[i], H: sideMM}, gaps[i], "gap between letter tiles")
			}
			x += gaps[i]
		}
	}
}

// specksAndPinholes has dust round a moon and holes in it.
func specksAndPinholes(l *letters) product {
	s := newSheet(200, 230, 300)
	s.Fill(drawing.Circle(100, 92, 66), black)
	for _, c := range [][3]float64{{74, 62, 11}, {118, 52, 6.5}, {88, 100, 5}, {140, 88, 8}, {104, 76, 3.2}, {54, 68, 4}} {
		s.cut(drawing.Circle(c[0], c[1], c[2]))
	}
	rise := hill(190, 22, 156, 50, 130, 80, 132, 104, 146, 130, 160, 156, 150, 178, 138)
	s.Erase(s.Grown(rise, 1.8))
	s.Fill(rise, orange)
	s.cut(way(104, 191, 26, -18, 142, 5))
	s.lampPost(newLampPost(46, 174, 98, 20, 3, 46), 1.6)
	for _, p := range [][3]float64{{100, 40, 0.10}, {136, 62, 0.15}, {112, 106, 0.20}, {128, 118, 0.25}, {144, 112, 0.30}, {120, 84, 0.30}} {
		hole := drawing.Circle(p[0], p[1], p[2]/2)
		s.cut(hole)
		s.fault("pinhole", hole.Bounds(), p[2], "hole in the moon")
	}
	for _, p := range [][3]float64{{24, 40, 0.10}, {30, 62, 0.15}, {172, 44, 0.20}, {180, 70, 0.25}, {40, 30, 0.30}, {160, 30, 0.40}, {176, 104, 0.40}, {24, 92, 0.20}} {
		speck := drawing.Circle(p[0], p[1], p[2]/2)
		s.Fill(speck, black)
		s.fault("speck", speck.Bounds(), p[2], "dust beside the moon")
	}
	s.Fill(l.bold.TextFitted("MOONRISE WALK", 176, 0.12, 100, 214), black)
	return s.png()
}

// faintMist has flat tints too light for the screen's dots to hold.
func faintMist(l *letters) product {
	s := newSheet(200, 230, 300)
	s.Fill(drawing.Circle(140, 50, 26), yellow)
	s.Fill(moth(92, 42, 28, -10, 1.5), black)
	far := hill(112, 12, 96, 40, 78, 62, 80, 92, 96, 122, 84, 160, 82, 188, 100)
	s.Fill(far, black)
	near := hill(190, 12, 172, 46, 152, 90, 156, 112, 168, 140, 178, 168, 164, 188, 160)
	s.Fill(near, black)
	s.cut(way(112, 191, 30, -16, 164, 6))
	for _, m := range []struct{ x, y, w, strength float64 }{{18, 119, 122, 0.20}, {52, 132, 94, 0.08}, {18, 146, 84, 0.05}} {
		band := drawing.Curve(m.x, m.y, m.x+m.w/3, m.y-5, m.x+m.w*2/3, m.y+6, m.x+m.w, m.y).Stroke(8)
		s.inFront(band, 1.5, tint(m.strength))
		s.faultOf("faint-tint", band.Bounds(), m.strength, "band of mist")
	}
	s.inFront(drawing.RoundRect(165.5, 144, 3, 38, 1.5), 1.5, black)
	lamp := newLamp(167, 102, 46)
	s.Erase(s.Grown(lamp.shape, 1.5))
	s.lantern(lamp)
	s.Fill(l.bold.TextFitted("WALK THE MIST", 176, 0.12, 100, 215), black)
	return s.png()
}

// lostWhiteMoths has moths drawn white, which this way of printing leaves out.
func lostWhiteMoths(l *letters) product {
	s := newSheet(200, 250, 300)
	s.lampPost(newLampPost(44, 196, 52, 56, 4, 116), 0)
	for _, m := range [][4]float64{{162, 56, 44, 18}, {162, 126, 36, -24}, {70, 174, 28, 12}} {
		shape := moth(m[0], m[1], m[2], m[3], 1.5)
		s.Fill(shape, white)
		s.faultOf("lost-white", s.BoxOf(s.Mask(shape), 128), "ffffff", "white moth")
	}
	s.Fill(moth(154, 176, 24, 14, 1.5), black)
	s.Fill(hill(206, 14, 196, 50, 186, 90, 192, 110, 194, 140, 198, 170, 190, 186, 196), black)
	s.Fill(l.bold.TextFitted("MOTH WATCH", 172, 0.12, 100, 234), yellow)
	return s.png()
}

// darkColoursHill has colours with so much black in them that white toner comes with them.
func darkColoursHill(l *letters) product {
	s := newSheet(200, 240, 300)
	s.Fill(drawing.Circle(138, 58, 34), yellow)
	roundel := drawing.RoundRect(12, 12, 176, 176, 22)
	hills := []struct {
		shape drawing.Path
		hex   string
		name  string
	}{
		{hill(190, 8, 110, 40, 66, 70, 70, 96, 100, 124, 72, 160, 78, 192, 104), "14204a", "navy"},
		{hill(190, 8, 130, 44, 104, 80, 106, 110, 128, 140, 150, 168, 128, 192, 124), "0b4a2b", "bottle green"},
		{hill(190, 8, 176, 50, 142, 96, 146, 120, 160, 146, 174, 168, 164, 192, 152), "5a1022", "maroon"},
	}
	for i, h := range hills {
		seen := drawing.Both(s.Mask(h.shape), s.Mask(roundel))
		if i == 0 {
			s.Erase(s.Grown(h.shape, 2))
		}
		if i+1 < len(hills) {
			seen = drawing.Without(seen, s.Grown(hills[i+1].shape, 2))
		}
		s.Paint(seen, hex(h.hex))
		s.faultOf("stray-white", s.BoxOf(seen, 128), h.hex, h.name+" hill")
	}
	s.Fill(moth(62, 44, 30, -12, 1.5), black)
	s.Fill(sparkle(96, 24, 8, 2), black)
	s.Fill(sparkle(28, 72, 7, 2), black)
	s.Fill(l.bold.TextFitted("OVER THE MOOR", 176, 0.12, 100, 212), black)
	s.Fill(l.bold.TextFitted("BY LANTERN LIGHT", 120, 0.2, 100, 228), orange)
	return s.png()
}

// whiteBoxTote is drawn the natural way round and still has its white paper behind it.
func whiteBoxTote(l *letters) product {
	s := newSheet(190, 200, 200)
	s.Ground(white)
	s.Fill(drawing.Circle(95, 96, 80), orange)
	s.Fill(drawing.Ring(95, 96, 73).Stroke(2), white)
	s.Fill(l.bold.TextOnArc(townName, 15, 2.5, 95, 96, 53, -90, false), white)
	s.Fill(l.bold.TextOnArc(eventName, 12, 2, 95, 96, 66, 90, true), white)
	s.Fill(drawing.Circle(95, 98, 44), red)
	lamp := newLamp(95, 62, 72)
	s.Fill(lamp.frame, white)
	s.Fill(drawing.Join(lamp.middle, lamp.sides), yellow)
	s.Fill(l.bold.TextFitted(hours, 120, 0.2, 95, 192), red)
	s.faultOf("white-box", s.Sheet(), "ffffff", "white background left in; it prints wherever white is drawn as white or lies under all")
	s.faults[0].Process = "toner-underbase"
	return s.png()
}

// noSizeCap does not tell how large it is.
func noSizeCap(l *letters) product {
	s := newSheet(100, 50, 600)
	s.lantern(newLamp(19, 6, 38))
	s.Fill(l.bold.TextFitted("LANTERN", 58, 0.1, 65, 19), black)
	s.Fill(l.bold.TextFitted("KEEPER", 58, 0.1, 65, 35), yellow)
	s.Fill(drawing.RoundRect(36, 40, 58, 2.4, 1.2), black)
	s.faults = []fault{{Rule: "no-size", Note: "drawn for 100 x 50 mm at 600 ppi, but the file does not say so"}}
	p := s.png()
	p.write = unsized(s)
	return p
}

// offSheetBanner is too long for A4 either way.
func offSheetBanner(l *letters) product {
	s := newSheet(330, 120, 150)
	s.banner(l, 330)
	box := s.Drawn()
	s.fault("off-sheet", box, box.W, "too long for A4 either way; the box is all that prints")
	return s.png()
}

// turnedBanner fits A4 only sideways.
func turnedBanner(l *letters) product {
	s := newSheet(270, 120, 200)
	s.banner(l, 270)
	box := s.Drawn()
	s.fault("turned", box, box.W, "fits A4 only when turned; the box is all that prints")
	return s.png()
}

// banner hangs lanterns on a line over the name of the walk.
func (s *sheet) banner(l *letters, w float64) {
	left, right := 9.0, w-9
	sag := 26.0
	line := drawing.Curve(left, 14, left+(right-left)/3, 14+sag, right-(right-left)/3, 14+sag, right, 14)
	const lamps = 5
	for i := range lamps {
		p := line.Points[(2*i+1)*len(line.Points)/(2*lamps)]
		s.lantern(newLamp(p.X, p.Y-0.5, 34))
	}
	s.Fill(line.Stroke(1.8), black)
	s.Fill(l.bold.TextFitted(townName+" "+eventName, w-22, 0.12, w/2, 90), black)
	s.Fill(l.bold.TextFitted("DUSK TO DARK · MEET AT THE GREEN", w-90, 0.15, w/2, 108), yellow)
	s.Fill(mothBody(left+22, 103, 18, -12), black)
	s.Fill(mothBody(right-22, 103, 18, 12), black)
}

// edgeClearanceTote runs to 2 mm from two edges of a page of A4.
func edgeClearanceTote(l *letters) product {
	s := newSheet(210, 297, 150)
	s.Fill(crescent(150, 52, 26, -35, 3), yellow)
	s.Fill(moth(134, 112, 36, -14, 1.8), black)
	s.Fill(sparkle(110, 34, 10, 2.2), black)
	s.Fill(sparkle(180, 104, 8, 2.2), black)
	s.lampPost(newLampPost(40, 240, 48, 36, 4, 84), 0)
	ground := hill(295, 2, 206, 40, 180, 80, 186, 110, 202, 134, 216, 166, 206, 196, 190)
	s.Fill(ground, black)
	s.cut(l.bold.TextFitted(townName, 172, 0.12, 100, 251))
	s.cut(l.bold.TextFitted(eventName, 172, 0.12, 100, 278))
	s.Fill(heron(152, 208, 78), black)
	s.fault("edge-clearance", s.Drawn(), 2, "2 mm from the left and the lower edge; the box is all that prints")
	return s.png()
}

// capFrontMM is how high a design the front of a cap takes (preflight/places.yaml).
const capFrontMM = 55

// tallCapMarshal is ordered for the front of a cap, which is not as high.
func tallCapMarshal(l *letters) product {
	s := newSheet(110, 100, 300)
	s.lantern(newLamp(55, 12, 52))
	s.Fill(moth(24, 42, 24, -14, 1.4), black)
	s.Fill(moth(86, 42, 24, 14, 1.4), black)
	s.Fill(l.bold.TextFitted("MARSHAL", 84, 0.1, 55, 82), black)
	box := s.Drawn()
	s.fault("off-place", box, box.H-capFrontMM, "higher than the front of a cap takes; the box is all that prints")
	s.faults[0].Place = "cap-front"
	return s.png()
}

// blackBoxMoon stands on black, which prints as one white box.
func blackBoxMoon(l *letters) product {
	s := newSheet(180, 190, 200)
	s.Ground(black)
	s.Fill(crescent(90, 74, 50, -25, 4), yellow)
	s.Fill(moth(108, 72, 40, -12, 1.6), white)
	for _, at := range [][3]float64{{30, 30, 10}, {150, 28, 12}, {158, 96, 8}, {24, 104, 8}} {
		s.Fill(sparkle(at[0], at[1], at[2], 2.2), white)
	}
	s.Fill(l.bold.TextFitted(townName, 150, 0.12, 90, 152), white)
	s.Fill(l.bold.TextFitted(eventName, 150, 0.12, 90, 174), yellow)
	s.faultOf("white-box", s.Sheet(), "000000", "black background: black prints white, so the whole box prints white")
	return s.png()
}

// fadeLevel is the opacity, of 255, from which a fade counts.
const fadeLevel = 1

// softShadow fades to nothing beside its lettering and round its lantern.
func softShadow(l *letters) product {
	s := newSheet(200, 220, 300)
	halo := s.glow(100, 64, 48, 0.95, yellow)
	s.lantern(newLamp(100, 18, 92))
	s.faultOf("soft-edge", s.BoxOf(s.inSight(halo), fadeLevel), "ffc400", "glow round the lantern, from an opacity of 1/255")
	s.Fill(moth(34, 54, 32, 18, 1.5), black)
	s.Fill(moth(168, 74, 26, -18, 1.5), black)
	words := drawing.Join(l.bold.TextFitted("Dusk", 150, 0.05, 98, 164), l.bold.TextFitted("to Dark", 170, 0.05, 98, 204))
	shadow := s.Blurred(s.Mask(words.Move(3.5, 3.5)), 1.3)
	s.Paint(shadow, black)
	round := s.Grown(words, 1.2)
	s.Erase(round)
	s.Fill(words, orange)
	s.faultOf("soft-edge", s.BoxOf(drawing.Without(shadow, round), fadeLevel), "000000", "blurred shadow of the lettering, from an opacity of 1/255")
	return s.png()
}

// fullMoonBack has a moon too large to bend, and what an eraser left beside it.
func fullMoonBack(l *letters) product {
	s := newSheet(210, 230, 300)
	const discMM = 130
	moon := drawing.Circle(105, 83, discMM/2)
	s.Fill(moon, black)
	s.fault("heavy-area", moon.Bounds(), discMM, "moon without a break; the value is its diameter")
	s.Fill(moth(182, 138, 30, 14, 1.5), yellow)
	s.lampPost(newLampPost(22, 188, 112, 14, 3, 46), 0)
	s.Fill(l.bold.TextFitted("FULL MOON", 180, 0.12, 105, 212), black)
	for _, left := range []drawing.Path{
		drawing.Curve(182, 20, 186, 26, 190, 16, 196, 24).Stroke(5),
		drawing.Curve(12, 34, 16, 26, 22, 40, 26, 30).Stroke(6),
	} {
		s.Fill(left, eraserRest)
		s.faultOf("stray-pixels", s.BoxOf(s.Mask(left), 128), "3 % opaque", "what a soft eraser left")
	}
	return s.png()
}

// rayMM is less than twice 0.15 mm, by which film-underbase pulls white in.
const rayMM = 0.2

// navyOnNavy is meant for a navy shirt on film: a word and a heron of nearly its colour, and rays too thin for white under them.
func navyOnNavy(l *letters) product {
	s := newSheet(200, 220, 600)
	s.Fill(crescent(48, 44, 24, -35, 3), yellow)
	lamp := newLamp(146, 44, 92)
	s.Fill(lamp.frame, white)
	s.Fill(lamp.middle, yellow)
	s.Fill(lamp.sides, orange)
	for _, r := range [][4]float64{{116, 66, 100, 54}, {114, 98, 96, 98}, {176, 66, 192, 54}, {178, 98, 194, 98}} {
		ray := drawing.Straight(drawing.Point{X: r[0], Y: r[1]}, drawing.Point{X: r[2], Y: r[3]}).Stroke(rayMM)
		s.Fill(ray, yellow)
		s.fault("hairline", ray.Bounds(), rayMM, "ray of light")
		s.faultOf("bare-colour", ray.Bounds(), "ffc400", "ray of light, thinner than twice what white is pulled in by")
	}
	wader := heron(50, 168, 86)
	s.Fill(wader, navy)
	s.faultOf("blends-with-garment", wader.Bounds(), "060c86", "navy heron on a navy shirt")
	word := l.bold.TextFitted("MIDNIGHT", 76, 0.05, 144, 176)
	s.Fill(word, navy)
	s.faultOf("blends-with-garment", word.Bounds(), "060c86", "navy lettering on a navy shirt")
	s.Fill(l.bold.TextFitted(eventName, 180, 0.12, 100, 208), white)
	for i := range s.faults {
		s.faults[i].Process, s.faults[i].Garment = "film-underbase", "navy"
	}
	return s.png()
}

// cutOutHeron was cut out from white paper and took a rim of it along.
func cutOutHeron(l *letters) product {
	s := newSheet(180, 220, 300)
	const rimPx = 1.5
	s.Fill(crescent(46, 44, 24, -35, 3), yellow)
	s.Fill(moth(128, 38, 34, 14, 1.6), white)
	wader := heron(86, 174, 110)
	rim := s.Grown(wader, rimPx*25.4/s.PPI)
	s.Paint(rim, white)
	s.Fill(wader, blue)
	s.faultOf("fringe", s.BoxOf(rim, 128), "ffffff", "rim of white a pixel and a half wide round the heron, on the outside")
	s.Fill(l.bold.TextFitted("MARSH WALK", 160, 0.12, 90, 206), white)
	s.faults[0].Process = "toner-underbase"
	return s.png()
}

// mirroredSteward was mirrored for the print by the customer already.
func mirroredSteward(l *letters) product {
	s := newSheet(180, 200, 200)
	s.Fill(crescent(132, 44, 22, -35, 3), yellow)
	s.lampPost(newLampPost(48, 140, 40, 40, 4, 78), 0)
	s.Fill(moth(140, 104, 34, 14, 1.6), black)
	steward := l.bold.TextFitted("STEWARD", 150, 0.12, 90, 164)
	s.Fill(steward, black)
	team := l.bold.TextFitted("Quillmoor 2026", 150, 0.05, 90, 186)
	s.Fill(team, orange)
	box := s.BoxOf(s.Mask(drawing.Join(steward, team)), 128)
	box.X = s.WidthMM() - box.X - box.W
	s.Pix = imaging.FlipH(s.Pix)
	s.faultOf("mirrored", box, "mirrored", "the whole design is mirrored")
	return s.png()
}
