package main

import (
	"runtime"
	"slices"
	"testing"
	"time"

	"peelcheck/raster/lettering"
)

// BenchmarkLettering reads which way round the lettering of a page is, alone, in turns with a check of the page, of which that is a part.
// It prints nothing of how the two share the processors.
func BenchmarkLettering(b *testing.B) {
	for _, p := range slices.Concat(cleanPages, hardPages) {
		b.Run(p.name, func(b *testing.B) {
			pix := p.page.pix(b)
			f := writePix(b, pix, p.page.ppi)
			var reading, whole turns
			for b.Loop() {
				runtime.GC()
				start := time.Now()
				lettering.Read(pix, nil)
				reading.add(time.Since(start))
				runtime.GC()
				whole.add(f.check(b))
			}
			reading.report(b, &whole, "check")
			b.ReportMetric(1000*reading.least.Seconds(), "ms")
		})
	}
}
