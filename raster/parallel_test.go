package raster

import (
	"sync/atomic"
	"testing"
)

func TestBandsCoverEveryRowOnce(t *testing.T) {
	for _, h := range []int{0, 1, 7, 64, 1000} {
		rows := make([]atomic.Int32, h)
		Bands(h, 16, func(y0, y1 int) {
			for y := y0; y < y1; y++ {
				rows[y].Add(1)
			}
		})
		for y := range rows {
			if n := rows[y].Load(); n != 1 {
				t.Fatalf("of %d rows, row %d was done %d times", h, y, n)
			}
		}
	}
}

func TestPanicReachesTheCaller(t *testing.T) {
	defer func() {
		if r := recover(); r != "torn" {
			t.Errorf("recovered %v, want the worker's panic", r)
		}
	}()
	Bands(1000, 1, func(y0, y1 int) {
		if y0 > 500 {
			panic("torn")
		}
	})
	t.Error("the panic was lost")
}
