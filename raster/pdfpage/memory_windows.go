package pdfpage

import (
	"unsafe"

	"github.com/tetratelabs/wazero/experimental"
	"golang.org/x/sys/windows"
)

// reserve is the whole address range a sandbox may grow to; what is used of it is committed as the sandbox grows.
type reserve struct {
	base      uintptr
	most      uint64
	committed uint64
}

func newMemory(_, most uint64) experimental.LinearMemory {
	base, err := windows.VirtualAlloc(0, uintptr(most), windows.MEM_RESERVE, windows.PAGE_NOACCESS)
	if err != nil {
		return &heap{}
	}
	return &reserve{base: base, most: most}
}

func (r *reserve) Reallocate(size uint64) []byte {
	if size > r.most {
		return nil
	}
	if size > r.committed {
		if _, err := windows.VirtualAlloc(r.base, uintptr(size), windows.MEM_COMMIT, windows.PAGE_READWRITE); err != nil {
			return nil
		}
		r.committed = size
	}
	return unsafe.Slice(*(**byte)(unsafe.Pointer(&r.base)), size)
}

func (r *reserve) Free() {
	if r.base != 0 {
		windows.VirtualFree(r.base, 0, windows.MEM_RELEASE) // fails only for a range that is not reserved
		r.base = 0
	}
}
