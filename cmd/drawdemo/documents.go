package main

import (
	"io"

	"peelcheck/cmd/internal/drawing"
)

var (
	inkBlack  = drawing.CMYK{0, 0, 0, 1}
	inkYellow = drawing.CMYK{0, 0.2, 1, 0}
	inkOrange = drawing.CMYK{0, 0.55, 1, 0}
)

const (
	hairlinePt = 0.25
	ringPt     = 3
	mmPerPt    = 25.4 / 72
)

// lanternKeeper has a line of a quarter of a point round its badge.
func lanternKeeper(l *letters) product {
	page := drawing.NewPDFPage(200, 250)
	page.Stroke(drawing.Ring(100, 104, 88), ringPt, inkBlack)
	thin := drawing.Ring(100, 104, 64)
	page.Stroke(thin, hairlinePt, inkBlack)
	page.Fill(l.bold.TextOnArc("KEEPER OF THE LIGHT", 12, 2.6, 100, 104, 70, -90, false), inkBlack)
	page.Fill(l.bold.TextOnArc("QUILLMOOR", 12, 3.4, 100, 104, 82, 90, true), inkBlack)
	pageLamp(page, newLamp(100, 52, 100))
	page.Fill(moth(56, 98, 22, 16, 1.5), inkBlack)
	page.Fill(moth(140, 122, 22, -18, 1.5), inkBlack)
	page.Fill(sparkle(136, 72, 9, 2), inkYellow)
	page.Fill(sparkle(62, 134, 8, 2), inkYellow)
	page.Fill(l.bold.TextFitted("Lantern Keeper", 176, 0.05, 100, 226), inkBlack)
	page.Fill(drawing.RoundRect(20, 240, 160, 3, 1.5), inkOrange)
	mm := hairlinePt * mmPerPt
	box := thin.Stroke(mm).Bounds()
	return product{
		faults: []fault{{Page: 1, Rule: "hairline", Box: &box, ValueMM: mm, Note: "ring drawn 0.25 points wide"}},
		write:  func(w io.Writer) error { return drawing.WritePDF(w, page) },
	}
}

func pageLamp(page *drawing.PDFPage, l lamp) {
	page.Fill(l.frame, inkBlack)
	page.Fill(l.middle, inkYellow)
	page.Fill(l.sides, inkOrange)
}

// twoPage has a clean shirt front and a cap badge with a hairline under its lettering.
func twoPage(l *letters) product {
	front := drawing.NewPDFPage(200, 240)
	front.Fill(l.bold.TextFitted(townName, 180, 0.12, 100, 36), inkBlack)
	post := newLampPost(56, 190, 80, 42, 4, 92)
	front.Fill(post.pole, inkBlack)
	pageLamp(front, post.lamp)
	front.Fill(hill(198, 14, 190, 50, 180, 90, 184, 110, 188, 140, 192, 170, 184, 186, 190), inkBlack)
	front.Fill(crescent(152, 82, 22, -35, 3), inkYellow)
	front.Fill(moth(156, 136, 34, -14, 1.6), inkBlack)
	front.Fill(l.bold.TextFitted(eventName, 180, 0.12, 100, 225), inkBlack)

	badge := drawing.NewPDFPage(100, 50)
	pageLamp(badge, newLamp(19, 6, 38))
	badge.Fill(l.bold.TextFitted("DUSK", 58, 0.1, 65, 22), inkBlack)
	rule := drawing.Straight(drawing.Point{X: 36, Y: 27}, drawing.Point{X: 94, Y: 27})
	badge.Stroke(rule, hairlinePt, inkBlack)
	badge.Fill(l.bold.TextFitted("TO DARK", 58, 0.1, 65, 43), inkYellow)
	mm := hairlinePt * mmPerPt
	box := rule.Stroke(mm).Bounds()
	return product{
		faults: []fault{{Page: 2, Rule: "hairline", Box: &box, ValueMM: mm, Note: "line drawn 0.25 points wide"}},
		write:  func(w io.Writer) error { return drawing.WritePDF(w, front, badge) },
	}
}

// spotMoon has its moon in an ink with a name, which no shop need have.
func spotMoon(l *letters) product {
	const ink = "Quillmoor Glow"
	page := drawing.NewPDFPage(180, 200)
	page.FillSpot(crescent(90, 66, 46, -25, 4), ink, drawing.CMYK{0.1, 0, 0.9, 0})
	page.Fill(moth(104, 70, 40, -12, 1.6), inkBlack)
	page.Fill(sparkle(26, 40, 10, 2), inkBlack)
	page.Fill(sparkle(154, 112, 9, 2), inkBlack)
	page.Fill(l.bold.TextFitted(townName, 156, 0.12, 90, 150), inkBlack)
	page.FillSpot(l.bold.TextFitted(eventName, 156, 0.12, 90, 178), ink, drawing.CMYK{0.1, 0, 0.9, 0})
	return product{
		faults: []fault{{Rule: "spot-unknown", Value: ink, Note: "moon and lettering in an ink of that name"}},
		write:  func(w io.Writer) error { return drawing.WritePDF(w, page) },
	}
}
