package rastertest_test

import (
	"strings"
	"testing"

	. "peelcheck/raster/rastertest"
)

func TestMaskText(t *testing.T) {
	const text = "#..#\n.##.\n"
	b, err := MaskFromText("\n  " + strings.ReplaceAll(text, "\n", "\n  "))
	if err != nil {
		t.Fatal(err)
	}
	if b.W != 4 || b.H != 2 || b.Count() != 4 || !b.At(3, 0) || b.At(0, 1) {
		t.Errorf("mask is %d x %d with %d set", b.W, b.H, b.Count())
	}
	if got := MaskText(b); got != text {
		t.Errorf("drawn again:\n%swant\n%s", got, text)
	}
}

func TestMaskFromTextRefuses(t *testing.T) {
	for text, want := range map[string]string{"": "no rows", "##\n#": "row 1 has 1 pixels", "#x": "'x'"} {
		if _, err := MaskFromText(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want an error with %q", text, err, want)
		}
	}
}
