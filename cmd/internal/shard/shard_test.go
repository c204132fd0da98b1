package shard_test

import (
	"crypto/sha256"
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"peelcheck/cmd/internal/shard"
)

// TestOfAllPartsOneHasIt: every file is in exactly one part, whatever else there is.
func TestOfAllPartsOneHasIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		of := rapid.IntRange(1, 300).Draw(t, "of")
		content, name := rapid.String().Draw(t, "content"), rapid.String().Draw(t, "name")
		sum := ""
		if rapid.Bool().Draw(t, "readable") {
			sum = fmt.Sprintf("%x", sha256.Sum256([]byte(content)))
		}
		in := 0
		for part := 1; part <= of; part++ {
			s, err := shard.Parse(fmt.Sprintf("%d/%d", part, of))
			if err != nil {
				t.Fatal(err)
			}
			if s.Has(sum, name) {
				in++
			}
		}
		if in != 1 {
			t.Fatalf("%d parts of %d have the file", in, of)
		}
	})
}

// TestEven: 16 parts of 4096 files are within five standard deviations of the same size (binomial: 256, sd 15.5).
func TestEven(t *testing.T) {
	const files, of = 4096, 16
	sizes := make([]int, of)
	for i := range files {
		sum := fmt.Sprintf("%x", sha256.Sum256(fmt.Append(nil, i)))
		for part := range of {
			if (shard.Shard{Part: part + 1, Of: of}).Has(sum, "") {
				sizes[part]++
			}
		}
	}
	for part, n := range sizes {
		if n < 256-78 || n > 256+78 {
			t.Errorf("part %d has %d files of %d", part+1, n, files)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for _, text := range []string{"", "3", "0/4", "5/4", "1/0", "-1/4", "1/-4", "a/4", "1/4/2", " 1/4", "1/100001"} {
		if s, err := shard.Parse(text); err == nil {
			t.Errorf("%q is %v", text, s)
		}
	}
	if !(shard.Shard{}).Has("", "x") {
		t.Error("the whole lacks a file")
	}
}
