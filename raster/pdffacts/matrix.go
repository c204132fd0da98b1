package pdffacts

import (
	"math"

	"peelcheck/raster"
)

// matrix takes (x, y) to (a x + c y + e, b x + d y + f), as in ISO 32000-1, 8.3.4.
type matrix struct{ a, b, c, d, e, f float64 }

var identity = matrix{a: 1, d: 1}

// after is m applied first, then n.
func (m matrix) after(n matrix) matrix {
	return matrix{
		m.a*n.a + m.b*n.c, m.a*n.b + m.b*n.d,
		m.c*n.a + m.d*n.c, m.c*n.b + m.d*n.d,
		m.e*n.a + m.f*n.c + n.e, m.e*n.b + m.f*n.d + n.f,
	}
}

func (m matrix) apply(x, y float64) (float64, float64) {
	return m.a*x + m.c*y + m.e, m.b*x + m.d*y + m.f
}

func (m matrix) determinant() float64 { return m.a*m.d - m.b*m.c }

// stretch is the least and the most by which m lengthens (its singular values).
func (m matrix) stretch() (least, most float64) {
	sum := m.a*m.a + m.b*m.b + m.c*m.c + m.d*m.d
	det := math.Abs(m.determinant())
	root := math.Sqrt(math.Max(0, sum*sum-4*det*det))
	most = math.Sqrt((sum + root) / 2)
	if most == 0 {
		return 0, 0
	}
	return det / most, most
}

func (m matrix) finite() bool {
	for _, v := range []float64{m.a, m.b, m.c, m.d, m.e, m.f} {
		if math.IsNaN(v) || math.Abs(v) > 1e12 {
			return false
		}
	}
	return true
}

// box grows with the points it is given.
type box struct {
	x0, y0, x1, y1 float64
	any            bool
}

func (b *box) add(x, y float64) {
	if !b.any {
		*b = box{x, y, x, y, true}
		return
	}
	b.x0, b.y0, b.x1, b.y1 = math.Min(b.x0, x), math.Min(b.y0, y), math.Max(b.x1, x), math.Max(b.y1, y)
}

func (b *box) join(o box) {
	if o.any {
		b.add(o.x0, o.y0)
		b.add(o.x1, o.y1)
	}
}

func (b box) meet(o box) box {
	if !b.any || !o.any {
		return box{}
	}
	m := box{math.Max(b.x0, o.x0), math.Max(b.y0, o.y0), math.Min(b.x1, o.x1), math.Min(b.y1, o.y1), true}
	if m.x0 > m.x1 || m.y0 > m.y1 {
		return box{}
	}
	return m
}

func (b box) grown(by float64) box {
	return box{b.x0 - by, b.y0 - by, b.x1 + by, b.y1 + by, b.any}
}

func (b box) fact() raster.FactBox {
	return raster.FactBox{X: b.x0, Y: b.y0, W: b.x1 - b.x0, H: b.y1 - b.y0}
}

// rectangle is the box of a rectangle seen through m.
func (m matrix) rectangle(x0, y0, x1, y1 float64) (b box) {
	for _, p := range [][2]float64{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}} {
		b.add(m.apply(p[0], p[1]))
	}
	return b
}
