package pdfpage

import (
	"sync"
	"sync/atomic"

	"github.com/tetratelabs/wazero/experimental"
)

const (
	// mostMemory is what the sandboxes of a page may grow to together, in bytes; with the picture and its planes the program stays about 1 GiB
	// for a page of A4.
	mostMemory = 768 << 20
	// alone and beside are how many sandboxes share it: one job after the other, or a page and one of its planes after the other.
	alone, beside = 1, 2
)

// bounded is memory that remembers whether more was asked for than it may hold: the renderer then leaves out what it found no room for,
// and says nothing.
type bounded struct {
	experimental.LinearMemory
	most uint64 // in bytes
	full atomic.Bool
}

func (b *bounded) Reallocate(size uint64) []byte {
	if size <= b.most {
		if all := b.LinearMemory.Reallocate(size); all != nil {
			return all
		}
	}
	b.full.Store(true)
	return nil
}

// The memory of a sandbox is made deep within the library that starts it, and handed on here.
var (
	starting sync.Mutex
	newest   *bounded // by the start that holds starting
)

func newBounded(_, _ uint64) experimental.LinearMemory {
	newest = &bounded{LinearMemory: newMemory(0, mostMemory), most: mostMemory}
	return newest
}

// heap is memory of a sandbox where no address range could be reserved. Each growth copies it.
type heap struct{ all []byte }

func (h *heap) Reallocate(size uint64) []byte {
	if size > uint64(cap(h.all)) {
		grown := make([]byte, size, size+size/4)
		copy(grown, h.all)
		h.all = grown
	}
	h.all = h.all[:size]
	return h.all
}

func (h *heap) Free() { h.all = nil }
