//go:build unix

package pdfpage

import (
	"syscall"

	"github.com/tetratelabs/wazero/experimental"
)

// reserve is the whole address range a sandbox may grow to, mapped once; the system gives it memory page by page as it is used.
type reserve struct{ all []byte }

func newMemory(_, most uint64) experimental.LinearMemory {
	all, err := syscall.Mmap(-1, 0, int(most), syscall.PROT_READ|syscall.PROT_WRITE, syscall.MAP_PRIVATE|syscall.MAP_ANON)
	if err != nil {
		return &heap{}
	}
	return &reserve{all}
}

func (r *reserve) Reallocate(size uint64) []byte {
	if size > uint64(len(r.all)) {
		return nil
	}
	return r.all[:size]
}

func (r *reserve) Free() {
	if r.all != nil {
		syscall.Munmap(r.all) // fails only for a range that is not mapped
		r.all = nil
	}
}
