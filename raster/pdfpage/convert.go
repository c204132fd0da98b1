package pdfpage

import (
	"image"
	"runtime"
	"sync"
	"sync/atomic"
)

// copyBGRA copies a bitmap of straight (not premultiplied) BGRA, stride bytes a row, to the part tile of dst, and
// reports whether any pixel is not opaque. Pixels of alpha 0 become all zero.
func copyBGRA(dst *image.NRGBA, tile image.Rectangle, src []byte, stride int) (hasAlpha bool) {
	workers := min(runtime.GOMAXPROCS(0), tile.Dy())
	var seeThrough atomic.Bool
	var wg sync.WaitGroup
	for k := range workers {
		wg.Go(func() {
			for y := tile.Dy() * k / workers; y < tile.Dy()*(k+1)/workers; y++ {
				at := dst.PixOffset(tile.Min.X, tile.Min.Y+y)
				if copyRow(dst.Pix[at:at+4*tile.Dx()], src[y*stride:]) {
					seeThrough.Store(true)
				}
			}
		})
	}
	wg.Wait()
	return seeThrough.Load()
}

func copyRow(dst, src []byte) (hasAlpha bool) {
	all := byte(255)
	for i := 0; i+3 < len(dst); i += 4 {
		d, s := dst[i:i+4:i+4], src[i:i+4:i+4]
		all &= s[3]
		if s[3] != 0 {
			d[0], d[1], d[2], d[3] = s[2], s[1], s[0], s[3]
		}
	}
	return all != 255
}
