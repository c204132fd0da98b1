// Package shard parts files among several runs by their content. Start at Parse.
package shard

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"strconv"
	"strings"
)

// Shard is one part, from 1, of so many. The zero value is the whole.
type Shard struct{ Part, Of int }

// Most is more parts than anybody has machines.
const Most = 100_000

// Parse reads "3/16".
func Parse(text string) (Shard, error) {
	part, of, ok := strings.Cut(text, "/")
	p, err := strconv.Atoi(part)
	n, err2 := strconv.Atoi(of)
	if !ok || err != nil || err2 != nil || n < 1 || n > Most || p < 1 || p > n {
		return Shard{}, fmt.Errorf("%q is no part: write 3/16 for the third of sixteen", text)
	}
	return Shard{p, n}, nil
}

// Has reports whether a file belongs to the part: by the SHA-256 of its content in hex, or by its name where that is empty. Which part that
// is does not depend on the other files.
func (s Shard) Has(sum, name string) bool {
	if s.Of == 0 {
		return true
	}
	hash, err := hex.DecodeString(sum)
	if err != nil || len(hash) != sha256.Size {
		h := sha256.Sum256([]byte(name))
		hash = h[:]
	}
	return int(binary.BigEndian.Uint64(hash)%uint64(s.Of)) == s.Part-1
}
