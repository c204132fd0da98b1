package main

import (
	"math"

	"peelcheck/cmd/internal/drawing"
)

// lamp is a lantern in parts that do not touch.
type lamp struct{ frame, middle, sides, shape drawing.Path }

// newLamp returns a lantern heightMM high that hangs from the point (x, top).
func newLamp(x, top, heightMM float64) lamp {
	k := heightMM / 10
	put := func(p drawing.Path) drawing.Path { return p.Transform(k, k, 0, x, top) }
	at := func(coords ...float64) drawing.Path { return put(polygon(coords...)) }
	roof := polygon(-0.8, 1.65, 0.8, 1.65, 2.75, 3, -2.75, 3)
	frame := drawing.Join(drawing.Ring(0, 0.66, 0.48).Stroke(0.42), drawing.RoundRect(-0.55, 1.05, 1.1, 0.7, 0.1), roof,
		drawing.RoundRect(-2.15, 8.45, 4.3, 0.75, 0.15), drawing.RoundRect(-1.35, 9.1, 2.7, 0.8, 0.15))
	return lamp{
		frame:  put(frame),
		middle: at(-0.72, 3.35, 0.72, 3.35, 0.58, 8.1, -0.58, 8.1),
		sides: drawing.Join(at(-2.5, 3.35, -1.08, 3.35, -0.92, 8.1, -1.95, 8.1),
			at(2.5, 3.35, 1.08, 3.35, 0.92, 8.1, 1.95, 8.1)),
		shape: drawing.Join(put(frame), at(-2.5, 2.8, 2.5, 2.8, 1.95, 8.6, -1.95, 8.6)),
	}
}

func polygon(coords ...float64) drawing.Path {
	var pts []drawing.Point
	for i := 0; i < len(coords); i += 2 {
		pts = append(pts, drawing.Point{X: coords[i], Y: coords[i+1]})
	}
	return drawing.Polygon(pts...)
}

// lampPost is a crook-topped pole with a lantern on its hook; between is the space between the two.
type lampPost struct {
	pole, between drawing.Path
	lamp          lamp
}

// newLampPost stands at (x, foot); its lantern hangs from (x+reach, top) and is heightMM high. reach may be negative.
func newLampPost(x, foot, top, reach, widthMM, heightMM float64) lampPost {
	h := math.Abs(reach) * 0.75
	line := drawing.Curve(x, foot, x, foot-1, x, top+h*0.5, x, top, x, top-h, x+reach, top-h, x+reach, top)
	between := []drawing.Point{{X: x + reach, Y: top + heightMM}, {X: x, Y: top + heightMM}}
	for _, q := range line.Points {
		if q.Y < top+heightMM {
			between = append(between, q)
		}
	}
	return lampPost{line.Stroke(widthMM), drawing.Polygon(between...), newLamp(x+reach, top, heightMM)}
}

// moth is spreadMM from wing tip to wing tip, turned by deg. feelerMM is the width of its feelers.
func moth(x, y, spreadMM, deg, feelerMM float64) drawing.Path {
	return drawing.Join(mothBody(x, y, spreadMM, deg), feeler(x, y, spreadMM, deg, 1, feelerMM), feeler(x, y, spreadMM, deg, -1, feelerMM))
}

func mothBody(x, y, spreadMM, deg float64) drawing.Path {
	k := spreadMM / 10
	var upper, lower drawing.Path
	upper.MoveTo(0.2, 0.7)
	upper.CurveTo(0.2, -0.5, 3.2, -3.2, 4.7, -2.6)
	upper.CurveTo(5.4, -2.2, 4.6, 0.9, 2.9, 1.2)
	upper.CurveTo(2, 1.35, 0.8, 1.3, 0.2, 0.7)
	lower.MoveTo(0.1, 0.9)
	lower.CurveTo(1.2, 0.9, 3.4, 1, 3.5, 2)
	lower.CurveTo(3.6, 3.2, 2.2, 4, 1.5, 3.5)
	lower.CurveTo(0.8, 3, 0.5, 2, 0.1, 0.9)
	spot := drawing.Circle(3.3, -0.7, 0.62).Hole()
	wings := drawing.Join(upper, lower, spot)
	body := drawing.Join(wings, wings.Transform(-1, 1, 0, 0, 0), drawing.Ellipse(0, 1, 0.5, 2))
	return body.Transform(k, k, deg, x, y)
}

// feeler is one of a moth's feelers: side 1 right, -1 left.
func feeler(x, y, spreadMM, deg, side, widthMM float64) drawing.Path {
	k := spreadMM / 10
	return drawing.Curve(0.15*side*k, -0.75*k, 0.3*side*k, -1.8*k, 0.8*side*k, -2.7*k, 1.9*side*k, -2.9*k).Stroke(widthMM).
		Transform(1, 1, deg, x, y)
}

// crescent is a moon of radius rMM whose horns end round, endMM wide, open to the direction of deg.
func crescent(x, y, rMM, deg, endMM float64) drawing.Path {
	inner, shift := rMM*0.86, rMM*0.42
	outerEnd := 0.0
	for a := 20.0; a < 180; a += 0.1 {
		sin, cos := math.Sincos(a * math.Pi / 180)
		if thickness(rMM, inner, shift, sin, cos) >= endMM {
			outerEnd = a
			break
		}
	}
	sin, cos := math.Sincos(outerEnd * math.Pi / 180)
	mid := rMM - endMM/2
	tipX, tipY := mid*cos, mid*sin
	innerEnd := math.Atan2((rMM-endMM)*sin, (rMM-endMM)*cos-shift) * 180 / math.Pi
	pts := drawing.Arc(0, 0, rMM, outerEnd, 360-outerEnd).Points
	pts = append(pts, drawing.Arc(shift, 0, inner, 360-innerEnd, innerEnd).Points...)
	moon := drawing.Join(drawing.Polygon(pts...), drawing.Circle(tipX, tipY, endMM/2), drawing.Circle(tipX, -tipY, endMM/2))
	return moon.Transform(1, 1, deg, x, y)
}

// thickness is how thick the crescent is along the ray from the outer circle's middle.
func thickness(outer, inner, shift, sin, cos float64) float64 {
	root := inner*inner - shift*shift*sin*sin
	if root < 0 {
		return 0
	}
	return outer - (shift*cos + math.Sqrt(root))
}

// sparkle is a star of two crossed strokes.
func sparkle(x, y, sizeMM, widthMM float64) drawing.Path {
	h := sizeMM / 2
	return drawing.Join(drawing.Straight(drawing.Point{X: x, Y: y - h}, drawing.Point{X: x, Y: y + h}).Stroke(widthMM),
		drawing.Straight(drawing.Point{X: x - h, Y: y}, drawing.Point{X: x + h, Y: y}).Stroke(widthMM))
}

// hill fills from a curve down to the level of foot. The curve starts at (x, y) and takes six coordinates a part.
func hill(foot, x, y float64, coords ...float64) drawing.Path {
	var p drawing.Path
	p.MoveTo(x, y)
	for c := coords; len(c) > 0; c = c[6:] {
		p.CurveTo(c[0], c[1], c[2], c[3], c[4], c[5])
	}
	end := coords[len(coords)-2]
	p.LineTo(end, foot)
	p.LineTo(x, foot)
	return p
}

// way is a winding path from the foot (x, foot), wideMM across, up to (x+dx, top), narrowMM across.
func way(x, foot, wideMM, dx, top, narrowMM float64) drawing.Path {
	h := foot - top
	bend := wideMM * 0.9
	var p drawing.Path
	p.MoveTo(x-wideMM/2, foot)
	p.CurveTo(x-wideMM/2+bend, foot-h*0.45, x+dx-narrowMM/2-bend, foot-h*0.5, x+dx-narrowMM/2, top)
	p.LineTo(x+dx+narrowMM/2, top)
	p.CurveTo(x+dx+narrowMM/2-bend*0.7, foot-h*0.5, x+wideMM/2+bend, foot-h*0.4, x+wideMM/2, foot)
	return p
}

// reed is a stem that leans by lean from (x, foot) to the height of top.
func reed(x, foot, lean, top float64) drawing.Line {
	h := foot - top
	return drawing.Curve(x, foot, x, foot-h*0.4, x+lean*0.3, top+h*0.3, x+lean, top)
}

// reedHead is the bulrush's head, from (x, top) down lengthMM, leaning like its stem.
func reedHead(x, top, lengthMM, lean, widthMM float64) drawing.Path {
	return drawing.Straight(drawing.Point{X: x, Y: top}, drawing.Point{X: x - lean*0.35, Y: top + lengthMM}).Stroke(widthMM)
}

// heron stands with its feet at (x, foot), heightMM tall, looking right.
func heron(x, foot, heightMM float64) drawing.Path {
	k := heightMM / 100
	var body drawing.Path
	body.MoveTo(12, -62)
	body.CurveTo(22, -56, 16, -38, 0, -36)
	body.CurveTo(-12, -34.5, -22, -31, -31, -24)
	body.CurveTo(-33, -22.5, -35, -24, -34, -26)
	body.CurveTo(-29, -42, -12, -66, 12, -62)
	neck := drawing.Curve(9, -55, 24, -62, 24, -70, 14, -75, 6, -79, 8, -92, 19, -93).Stroke(5.4)
	head := drawing.Ellipse(20, -93, 6, 4.4)
	beak := polygon(23, -96, 44, -91.4, 44, -89.6, 22, -89.4)
	crest := drawing.Curve(20, -96, 10, -99, 4, -97, -1, -93).Stroke(2.6)
	leg := func(dx float64) drawing.Path {
		return drawing.Straight(drawing.Point{X: dx, Y: -40}, drawing.Point{X: dx + 1.5, Y: -20}, drawing.Point{X: dx - 0.5, Y: 0},
			drawing.Point{X: dx + 7, Y: 0}).Stroke(2.6)
	}
	return drawing.Join(body, neck, head, beak, crest, leg(-1), leg(6)).Transform(k, k, 0, x, foot)
}
