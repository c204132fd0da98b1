package proof

import (
	"fmt"
	"image"
)

const (
	placeDash, placeGap   = 14, 8
	placeHaloPx, placeLPx = 2, 2
)

// placeWords names the place on the garment with its size; empty for none.
func (p *page) placeWords() string {
	place := p.rep.Job.Place
	if place == nil || p.scene.place.empty() {
		return ""
	}
	return fmt.Sprintf("%s, %.0f x %.0f mm", clean(place.Name), place.WidthMM, place.HeightMM)
}

// paintPlace frames the place on the garment in thin dashes, as much of it as lies in room.
func (p *page) paintPlace(c *canvas, v view, room image.Rectangle) {
	words := p.placeWords()
	if words == "" {
		return
	}
	r := v.rect(p.scene.place)
	dash := func(box image.Rectangle) {
		if box = box.Intersect(room); !box.Empty() {
			c.fill(box.Inset(-placeHaloPx).Intersect(room), white)
			c.fill(box, black)
		}
	}
	for x := r.Min.X - placeLPx; x < r.Max.X+placeLPx; x += placeDash + placeGap {
		to := min(x+placeDash, r.Max.X+placeLPx)
		dash(image.Rect(x, r.Min.Y-placeLPx, to, r.Min.Y))
		dash(image.Rect(x, r.Max.Y, to, r.Max.Y+placeLPx))
	}
	for y := r.Min.Y - placeLPx; y < r.Max.Y+placeLPx; y += placeDash + placeGap {
		to := min(y+placeDash, r.Max.Y+placeLPx)
		dash(image.Rect(r.Min.X-placeLPx, y, r.Min.X, to))
		dash(image.Rect(r.Max.X, y, r.Max.X+placeLPx, to))
	}
	label := p.placeLabel(v, room)
	c.label(label.Min.X+2, label.Min.Y, smallType, text, words)
}

// placeLabel is where the words of the place lie: on its upper left corner, or within room beside it; empty for none.
func (p *page) placeLabel(v view, room image.Rectangle) image.Rectangle {
	words := p.placeWords()
	if words == "" {
		return image.Rectangle{}
	}
	r := v.rect(p.scene.place)
	w, h := p.set.width(smallType, words)+4, p.set.face(smallType).height
	x := max(room.Min.X, min(r.Min.X, room.Max.X-w))
	y := r.Min.Y - h - placeLPx
	if y < room.Min.Y {
		y = max(room.Min.Y, r.Min.Y+placeLPx)
	}
	return image.Rect(x, y, x+w, y+h)
}
