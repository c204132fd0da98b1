package pdfpage

import (
	"bytes"
	"fmt"
	"math"
	"sync"
	"time"

	"github.com/pdfcpu/pdfcpu/pkg/api"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/types"
)

const unknownScale = "the page's own unit of length could not be read, so points of 1/72 inch were assumed; measure the size before printing"

// structure holds what pdfcpu read of a file; ctx is nil if it could not.
type structure struct{ ctx *model.Context }

// pdfcpu otherwise writes a configuration folder into the user's home.
var disableConfig = sync.OnceFunc(api.DisableConfigDir)

// readStructure never fails: a file that pdfcpu refuses, or whose pages it counts differently, has no structure. Past
// the limit pdfcpu is abandoned, because it cannot be stopped.
func readStructure(data []byte, pages int, limit time.Duration) *structure {
	disableConfig()
	var ctx *model.Context
	w := begin(func() error { ctx = readContext(data, pages); return nil })
	if _, ok := w.within(limit); !ok {
		return &structure{}
	}
	return &structure{ctx}
}

func readContext(data []byte, pages int) (ctx *model.Context) {
	defer func() {
		if recover() != nil {
			ctx = nil
		}
	}()
	conf := model.NewDefaultConfiguration()
	conf.Offline = true
	ctx, err := api.ReadContext(bytes.NewReader(data), conf)
	if err != nil || ctx.EnsurePageCount() != nil || ctx.PageCount != pages {
		return nil
	}
	return ctx
}

// page gives the UserUnit of page n, which PDFium takes to be of that size, 1 if there is none, and notes about what had to be assumed.
func (s *structure) page(n int, size pointSize) (unit float64, notes []string) {
	unit = 1
	defer func() {
		if recover() != nil {
			unit, notes = 1, []string{unknownScale}
		}
	}()
	if s.ctx == nil {
		return 1, []string{unknownScale}
	}
	dict, _, inherited, err := s.ctx.PageDict(n, false)
	if err != nil || dict == nil {
		return 1, []string{unknownScale}
	}
	if object, found := dict.Find("UserUnit"); found {
		value, ok := s.number(object)
		if ok {
			unit = value
		} else {
			notes = append(notes, fmt.Sprintf("page %d has a unit of length that makes no sense, so points of 1/72 inch were assumed; measure the size before printing", n))
		}
	}
	switch box := inherited.MediaBox; {
	case box == nil:
		notes = append(notes, fmt.Sprintf("page %d does not say how large it is, so 215.9 x 279.4 mm was assumed", n))
	case size.isAssumed() && !holds(box, size):
		notes = append(notes, fmt.Sprintf("page %d says that it has an impossible size, so 215.9 x 279.4 mm was assumed; measure the size before printing", n))
	}
	if inherited.Rotate%90 != 0 {
		notes = append(notes, fmt.Sprintf("page %d asks to be turned by %d degrees, which is not a quarter turn; programs disagree about it, so check which way up it prints", n, inherited.Rotate))
	}
	return unit, notes
}

// isAssumed reports whether a page has the size that PDFium gives those whose own makes no sense: 612 x 792 points, either
// way round.
func (p pointSize) isAssumed() bool {
	return min(p.w, p.h) == 612 && max(p.w, p.h) == 792
}

// holds reports whether a page of that size, either way round, can lie in a box that is no larger than pages are:
// ISO 32000-1, Annex C.2, gives 14 400 units as the limit of readers; this is far above.
func holds(box *types.Rectangle, size pointSize) bool {
	const most = 1e6
	w, h := math.Abs(box.Width()), math.Abs(box.Height())
	return max(w, h) < most && min(w, h) >= min(size.w, size.h) && max(w, h) >= max(size.w, size.h)
}

// number reads a positive finite number.
func (s *structure) number(object types.Object) (float64, bool) {
	value, err := s.ctx.DereferenceNumber(object)
	return value, err == nil && value > 0 && !math.IsInf(value, 0)
}
