package preflight

import (
	"math/rand/v2"
	"testing"
)

// Words of pixels are compared as each pixel is, also at differences of just the two limits.
func TestLikenessOfWordsAndOfOne(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	for range 2000 {
		n := 1 + r.IntN(64)
		a, b := make([]byte, 4*n), make([]byte, 4*n)
		for i := range a {
			a[i] = byte(r.UintN(256))
			b[i] = a[i]
			if r.IntN(4) == 0 {
				near := []int{flatLevels, flatLevels + 1, edgeLevels, edgeLevels + 1}[r.IntN(4)]
				b[i] = byte(min(255, max(0, int(a[i])+near*(1-2*r.IntN(2)))))
			}
		}
		got := likenessOf(a, b)
		for i := range n {
			want := likenessOfOne(a[4*i:], b[4*i:])
			if got.flat>>i&1 != want.flat || got.smooth>>i&1 != want.smooth {
				t.Fatalf("%d of %d: %v and %v", i, n, a[4*i:4*i+4], b[4*i:4*i+4])
			}
		}
	}
}
