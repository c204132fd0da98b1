package pdfpage

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
