package drawing

import "math"

// Line is an open or closed line through points, to be stroked.
type Line struct {
	Points []Point
	Closed bool
}

// Curve returns the open line that starts at (x, y) and follows cubic Bézier curves, six coordinates each.
func Curve(x, y float64, coords ...float64) Line {
	if len(coords)%6 != 0 {
		panic("drawing: a curve takes six coordinates (bug)")
	}
	pts := []Point{{x, y}}
	for c := coords; len(c) > 0; c = c[6:] {
		pts = appendCurve(pts, pts[len(pts)-1], Point{c[0], c[1]}, Point{c[2], c[3]}, Point{c[4], c[5]})
	}
	return Line{Points: pts}
}

// Straight returns the open line through the points.
func Straight(pts ...Point) Line { return Line{Points: pts} }

// Arc returns the line along a circle from one angle to another, in degrees, clockwise from the right.
func Arc(x, y, r, from, to float64) Line {
	n := max(2, int(math.Ceil(math.Abs(to-from)*math.Pi/180*math.Sqrt(r/(8*flatMM)))))
	pts := make([]Point, n+1)
	for i := range pts {
		sin, cos := math.Sincos((from + (to-from)*float64(i)/float64(n)) * math.Pi / 180)
		pts[i] = Point{x + r*cos, y + r*sin}
	}
	return Line{Points: pts}
}

// Ring returns a closed line along a circle.
func Ring(x, y, r float64) Line {
	l := Arc(x, y, r, 0, 360)
	return Line{Points: l.Points[:len(l.Points)-1], Closed: true}
}

// Stroke returns the outline of the line drawn widthMM wide, with round ends and corners.
func (l Line) Stroke(widthMM float64) Path {
	pts := distinct(l.Points)
	if len(pts) == 1 {
		return Circle(pts[0].X, pts[0].Y, widthMM/2)
	}
	h := widthMM / 2
	back := make([]Point, len(pts))
	for i, p := range pts {
		back[len(pts)-1-i] = p
	}
	if l.Closed {
		return Join(polygonAsIs(offset(pts, h, true)), polygonAsIs(offset(back, h, true)))
	}
	return polygonAsIs(append(offset(pts, h, false), offset(back, h, false)...))
}

func distinct(pts []Point) []Point {
	out := pts[:1:1]
	for _, p := range pts[1:] {
		if q := out[len(out)-1]; math.Hypot(p.X-q.X, p.Y-q.Y) > 1e-9 {
			out = append(out, p)
		}
	}
	return out
}

// smallTurn is the turn, in radians, up to which a corner keeps its point.
const smallTurn = 0.3

// offset returns the line's left side at distance h, as seen along it with y down; an open one ends with half a round end.
func offset(pts []Point, h float64, closed bool) []Point {
	var out []Point
	n := len(pts)
	for i, p := range pts {
		if !closed && (i == 0 || i == n-1) {
			continue
		}
		out = appendCorner(out, p, normal(pts[(i+n-1)%n], p), normal(p, pts[(i+1)%n]), h)
	}
	if closed {
		return out
	}
	first, last := normal(pts[0], pts[1]), normal(pts[n-2], pts[n-1])
	out = append([]Point{{pts[0].X + h*first.X, pts[0].Y + h*first.Y}}, out...)
	return appendRound(out, pts[n-1], last, math.Pi, h)
}

// normal is the unit vector to the left of the way from p to q, y down.
func normal(p, q Point) Point {
	d := math.Hypot(q.X-p.X, q.Y-p.Y)
	return Point{(q.Y - p.Y) / d, (p.X - q.X) / d}
}

func appendCorner(out []Point, p, before, after Point, h float64) []Point {
	turn := math.Atan2(before.X*after.Y-before.Y*after.X, before.X*after.X+before.Y*after.Y)
	switch {
	case math.Abs(turn) <= smallTurn:
		k := h / (1 + before.X*after.X + before.Y*after.Y)
		return append(out, Point{p.X + k*(before.X+after.X), p.Y + k*(before.Y+after.Y)})
	case turn > 0:
		return appendRound(out, p, before, turn, h)
	}
	// By way of the corner itself, so that the overlap adds to the filled side and never cuts a hole.
	return append(out, Point{p.X + h*before.X, p.Y + h*before.Y}, p, Point{p.X + h*after.X, p.Y + h*after.Y})
}

// appendRound adds an arc of radius h about p that starts in the direction n and turns clockwise by turn radians.
func appendRound(out []Point, p, n Point, turn, h float64) []Point {
	steps := max(4, int(math.Ceil(turn*math.Sqrt(h/(8*flatMM)))))
	for i := range steps + 1 {
		sin, cos := math.Sincos(turn * float64(i) / float64(steps))
		out = append(out, Point{p.X + h*(n.X*cos-n.Y*sin), p.Y + h*(n.X*sin+n.Y*cos)})
	}
	return out
}
