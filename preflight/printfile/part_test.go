package printfile

import (
	"fmt"
	"image"
	"testing"
)

// A page of 200 x 100 points is dark in its own lower left quarter; turned clockwise (ISO 32000-1, Table 30), that quarter is shown
// elsewhere. The part of the page that shows it is dark throughout, and the opposite part is blank.
func TestPagePart(t *testing.T) {
	for turn, at := range map[int][2]float64{0: {0, 0.5}, 90: {0, 0}, 180: {0.5, 0}, 270: {0.5, 0.5}} {
		whole := openPage(t, quarterPage(turn))
		for want, from := range map[bool][2]float64{true: at, false: {0.5 - at[0], 0.5 - at[1]}} {
			part, err := whole.Part(from[0], from[1], 0.5, 0.5)
			if err != nil {
				t.Fatal(err)
			}
			m := page(t, embedded(t, part, nil), 1, 72).Pix
			for _, p := range []image.Point{{3, 3}, {m.Rect.Dx() - 4, 3}, {3, m.Rect.Dy() - 4}, {m.Rect.Dx() - 4, m.Rect.Dy() - 4}} {
				if got := m.NRGBAAt(p.X, p.Y).A == 255; got != want {
					t.Errorf("turned by %d, part from %v: painted at %v is %v, want %v", turn, from, p, got, want)
				}
			}
		}
	}
}

func TestPagePartRefusals(t *testing.T) {
	whole := openPage(t, quarterPage(0))
	for _, r := range [][4]float64{{-0.1, 0, 0.5, 0.5}, {0, 0, 0, 0.5}, {0.6, 0, 0.5, 0.5}} {
		if _, err := whole.Part(r[0], r[1], r[2], r[3]); err == nil {
			t.Errorf("%v is a part of the page", r)
		}
	}
}

func quarterPage(turn int) []byte {
	return onePage(fmt.Sprintf("/MediaBox [0 0 200 100] /Rotate %d /Resources << >>", turn), "0 0 0 rg 0 0 100 50 re f")
}
