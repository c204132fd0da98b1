package raster

import (
	"cmp"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// TestWeightedMedian compares with adding up lengths in order of width.
func TestWeightedMedian(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := make([]weighted, rapid.IntRange(0, 60).Draw(t, "n"))
		total := 0.0
		for i := range all { // of quarters, so that sums are exact
			all[i] = weighted{float64(rapid.IntRange(0, 20).Draw(t, "width")) / 4, float64(rapid.IntRange(0, 9).Draw(t, "step")) / 4}
			total += all[i].step
		}
		sorted := slices.SortedStableFunc(slices.Values(all), func(a, b weighted) int { return cmp.Compare(a.width, b.width) })
		want, sum := 0.0, 0.0
		for _, p := range sorted {
			want = p.width
			if sum += p.step; sum >= total/2 {
				break
			}
		}
		if got := weightedMedian(all, total/2); got != want {
			t.Fatalf("%v: %v, want %v", sorted, got, want)
		}
	})
}
