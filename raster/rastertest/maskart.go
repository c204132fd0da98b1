package rastertest

import (
	"fmt"
	"strings"

	"peelcheck/raster"
)

// MaskFromText reads a mask drawn as rows of '#' for set and '.' for clear. Blanks around a row and empty lines count for
// nothing; rows of unequal length and other characters are refused.
func MaskFromText(text string) (*raster.Bitmap, error) {
	rows := strings.Fields(text)
	if len(rows) == 0 {
		return nil, fmt.Errorf("rastertest: the mask has no rows")
	}
	b := raster.NewBitmap(len(rows[0]), len(rows))
	for y, row := range rows {
		if len(row) != b.W {
			return nil, fmt.Errorf("rastertest: row %d has %d pixels, the first has %d", y, len(row), b.W)
		}
		for x, c := range row {
			switch c {
			case '#':
				b.Set(x, y)
			case '.':
			default:
				return nil, fmt.Errorf("rastertest: row %d has %q, want '#' or '.'", y, c)
			}
		}
	}
	return b, nil
}

// MaskText draws a mask as MaskFromText reads it, one row a line.
func MaskText(b *raster.Bitmap) string {
	var out strings.Builder
	for y := range b.H {
		for x := range b.W {
			if b.At(x, y) {
				out.WriteByte('#')
			} else {
				out.WriteByte('.')
			}
		}
		out.WriteByte('\n')
	}
	return out.String()
}
