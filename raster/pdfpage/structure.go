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
	done := make(chan *model.Context, 1)
	go func() { done <- readContext(data, pages) }()
	select {
	case ctx := <-done:
		return &structure{ctx}
	case <-time.After(limit):
		return &structure{}
	}
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

// page gives the UserUnit of page n, 1 if there is none, and notes about what had to be assumed.
func (s *structure) page(n int) (unit float64, notes []string) {
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
	if inherited.MediaBox == nil {
		notes = append(notes, fmt.Sprintf("page %d does not say how large it is, so 215.9 x 279.4 mm was assumed", n))
	}
	if inherited.Rotate%90 != 0 {
		notes = append(notes, fmt.Sprintf("page %d asks to be turned by %d degrees, which is not a quarter turn; programs disagree about it, so check which way up it prints", n, inherited.Rotate))
	}
	return unit, notes
}

// number reads a positive finite number.
func (s *structure) number(object types.Object) (float64, bool) {
	value, err := s.ctx.DereferenceNumber(object)
	return value, err == nil && value > 0 && !math.IsInf(value, 0)
}
