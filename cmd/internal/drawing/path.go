// Package drawing draws antialiased vector shapes measured in millimetres, for the demonstration artwork and for tests.
//
// Start with Path (a shape) and Canvas (what it is filled on). Origin top left, y down. Every constructor runs clockwise, so
// shapes put into one path unite.
package drawing

import "math"

// Point is a place in millimetres.
type Point struct{ X, Y float64 }

// Box is a rectangle in millimetres from the top left corner.
type Box struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
	W float64 `json:"w"`
	H float64 `json:"h"`
}

// segment ends at to; a curve is a cubic Bézier with the control points a and b.
type segment struct {
	curve    bool
	a, b, to Point
}

type contour struct {
	start    Point
	segments []segment
}

// Path is a set of closed contours; lines to be stroked are kept as a Line instead. The zero value is empty.
type Path struct{ contours []contour }

// MoveTo starts a contour.
func (p *Path) MoveTo(x, y float64) {
	p.contours = append(p.contours, contour{start: Point{x, y}})
}

// LineTo adds a straight side. MoveTo must come first.
func (p *Path) LineTo(x, y float64) {
	c := &p.contours[len(p.contours)-1]
	c.segments = append(c.segments, segment{to: Point{x, y}})
}

// CurveTo adds a cubic Bézier curve. MoveTo must come first.
func (p *Path) CurveTo(ax, ay, bx, by, x, y float64) {
	c := &p.contours[len(p.contours)-1]
	c.segments = append(c.segments, segment{true, Point{ax, ay}, Point{bx, by}, Point{x, y}})
}

// Join returns one path that holds the contours of all.
func Join(paths ...Path) Path {
	var out Path
	for _, p := range paths {
		out.contours = append(out.contours, p.contours...)
	}
	return out
}

// Polygon returns the closed polygon through the points, turned to run clockwise.
func Polygon(pts ...Point) Path {
	if signedArea(pts) < 0 {
		turned := make([]Point, len(pts))
		for i, q := range pts {
			turned[len(pts)-1-i] = q
		}
		pts = turned
	}
	return polygonAsIs(pts)
}

func polygonAsIs(pts []Point) Path {
	var p Path
	p.MoveTo(pts[0].X, pts[0].Y)
	for _, q := range pts[1:] {
		p.LineTo(q.X, q.Y)
	}
	return p
}

func signedArea(pts []Point) float64 {
	var sum float64
	for i, p := range pts {
		q := pts[(i+1)%len(pts)]
		sum += p.X*q.Y - q.X*p.Y
	}
	return sum / 2
}

// Rect returns a rectangle.
func Rect(x, y, w, h float64) Path {
	return Polygon(Point{x, y}, Point{x + w, y}, Point{x + w, y + h}, Point{x, y + h})
}

// circleArm is how long a cubic's arms are for a quarter of the unit circle: 4/3 (sqrt 2 - 1), so that its middle lies on it.
const circleArm = 0.5522847498307936

// Ellipse returns an ellipse with the half axes rx and ry.
func Ellipse(x, y, rx, ry float64) Path {
	kx, ky := circleArm*rx, circleArm*ry
	var p Path
	p.MoveTo(x+rx, y)
	p.CurveTo(x+rx, y+ky, x+kx, y+ry, x, y+ry)
	p.CurveTo(x-kx, y+ry, x-rx, y+ky, x-rx, y)
	p.CurveTo(x-rx, y-ky, x-kx, y-ry, x, y-ry)
	p.CurveTo(x+kx, y-ry, x+rx, y-ky, x+rx, y)
	return p
}

// Circle returns a circle of radius r.
func Circle(x, y, r float64) Path { return Ellipse(x, y, r, r) }

// RoundRect returns a rectangle with corners rounded by radius r.
func RoundRect(x, y, w, h, r float64) Path {
	k := r * (1 - circleArm)
	var p Path
	p.MoveTo(x+r, y)
	p.LineTo(x+w-r, y)
	p.CurveTo(x+w-k, y, x+w, y+k, x+w, y+r)
	p.LineTo(x+w, y+h-r)
	p.CurveTo(x+w, y+h-k, x+w-k, y+h, x+w-r, y+h)
	p.LineTo(x+r, y+h)
	p.CurveTo(x+k, y+h, x, y+h-k, x, y+h-r)
	p.LineTo(x, y+r)
	p.CurveTo(x, y+k, x+k, y, x+r, y)
	return p
}

// Transform returns the path moved by x, y after turning by deg clockwise and scaling by sx, sy about the origin. A mirrored
// path keeps running clockwise.
func (p Path) Transform(sx, sy, deg, x, y float64) Path {
	sin, cos := math.Sincos(deg * math.Pi / 180)
	at := func(q Point) Point {
		u, v := q.X*sx, q.Y*sy
		return Point{u*cos - v*sin + x, u*sin + v*cos + y}
	}
	var out Path
	for _, c := range p.contours {
		d := contour{start: at(c.start)}
		for _, s := range c.segments {
			d.segments = append(d.segments, segment{s.curve, at(s.a), at(s.b), at(s.to)})
		}
		if sx*sy < 0 {
			d = d.reversed()
		}
		out.contours = append(out.contours, d)
	}
	return out
}

// Move returns the path moved by x, y.
func (p Path) Move(x, y float64) Path { return p.Transform(1, 1, 0, x, y) }

func (c contour) reversed() contour {
	out := contour{start: c.start}
	if n := len(c.segments); n > 0 {
		out.start = c.segments[n-1].to
	}
	for i := len(c.segments) - 1; i >= 0; i-- {
		to := c.start
		if i > 0 {
			to = c.segments[i-1].to
		}
		s := c.segments[i]
		out.segments = append(out.segments, segment{s.curve, s.b, s.a, to})
	}
	return out
}

// flatMM is how far a straight side may leave its curve: a ninth of a pixel at 600 ppi.
const flatMM = 0.005

func (c contour) flatten() []Point {
	pts := []Point{c.start}
	from := c.start
	for _, s := range c.segments {
		if s.curve {
			pts = appendCurve(pts, from, s.a, s.b, s.to)
		} else {
			pts = append(pts, s.to)
		}
		from = s.to
	}
	return pts
}

// appendCurve splits a curve evenly. The number of parts follows from the bound n^2 >= 6 d / (8 flat) on a cubic's distance
// from its chords, d being the larger second difference of its control points.
func appendCurve(pts []Point, p, a, b, q Point) []Point {
	d := max(math.Hypot(p.X-2*a.X+b.X, p.Y-2*a.Y+b.Y), math.Hypot(a.X-2*b.X+q.X, a.Y-2*b.Y+q.Y))
	n := max(1, int(math.Ceil(math.Sqrt(0.75*d/flatMM))))
	for i := 1; i <= n; i++ {
		t := float64(i) / float64(n)
		u := 1 - t
		k0, k1, k2, k3 := u*u*u, 3*u*u*t, 3*u*t*t, t*t*t
		pts = append(pts, Point{k0*p.X + k1*a.X + k2*b.X + k3*q.X, k0*p.Y + k1*a.Y + k2*b.Y + k3*q.Y})
	}
	return pts
}

// Bounds returns the smallest box round the path; the zero box if it is empty.
func (p Path) Bounds() Box {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, c := range p.contours {
		for _, q := range c.flatten() {
			x0, x1 = min(x0, q.X), max(x1, q.X)
			y0, y1 = min(y0, q.Y), max(y1, q.Y)
		}
	}
	if x1 < x0 {
		return Box{}
	}
	return Box{x0, y0, x1 - x0, y1 - y0}
}

// Centred returns the path moved sideways so that its middle is at x.
func (p Path) Centred(x float64) Path {
	b := p.Bounds()
	return p.Move(x-b.X-b.W/2, 0)
}

// Hole returns the path running the other way, so that joined to a larger shape it cuts a hole.
func (p Path) Hole() Path {
	var out Path
	for _, c := range p.contours {
		out.contours = append(out.contours, c.reversed())
	}
	return out
}
