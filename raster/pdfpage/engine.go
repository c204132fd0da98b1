package pdfpage

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"os"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"github.com/klippa-app/go-pdfium"
	"github.com/klippa-app/go-pdfium/enums"
	pdfiumerrors "github.com/klippa-app/go-pdfium/errors"
	"github.com/klippa-app/go-pdfium/references"
	"github.com/klippa-app/go-pdfium/requests"
	"github.com/klippa-app/go-pdfium/responses"
	"github.com/klippa-app/go-pdfium/structs"
	"github.com/klippa-app/go-pdfium/webassembly"
	"github.com/tetratelabs/wazero"
	"github.com/tetratelabs/wazero/api"
	"github.com/tetratelabs/wazero/experimental"

	"peelcheck/raster"
)

const (
	// slowStart is longer than a start from cached code takes (0.2 s measured) and shorter than compiling (3 s and more).
	slowStart = 500 * time.Millisecond
	// maxRenderers bounds the sandboxes alive at once, each holding a page of pixels and a copy of its file.
	maxRenderers = 4
	// memoryPages is all that a sandbox can address, in pages of 64 KiB, so that mostMemory is what refuses.
	memoryPages = 4 << 30 / (64 << 10)
	// maxTileSide keeps every pixel within the 32000 to which PDFium's scan converter clips coordinates.
	maxTileSide = 16384
	// maxTilePixels draws A4 at 600 ppi (35 million pixels) in five parts, in a bitmap of 32 MiB: the same memory again and again is quicker
	// than four times as much that is touched once, though the page is gone through for each part. Transparency takes several bitmaps.
	maxTilePixels = 8 << 20
	// smallTilePixels is for pages whose transparency does not fit otherwise.
	smallTilePixels = maxTilePixels / 6
	// sizesAtOnce is how many page sizes are read whenever one is needed.
	sizesAtOnce = 256
	// renderFlags draw for print: FPDF_PRINTING shows the layers meant for print rather than the screen, FPDF_ANNOT draws
	// annotations. LCD text is left out: its coloured edges are not in the artwork.
	renderFlags = enums.FPDF_RENDER_FLAG_ANNOT | enums.FPDF_RENDER_FLAG_PRINTING
)

// The renderer is compiled once in a process and shared by all documents.
var (
	startOnce sync.Once
	startErr  error
	pool      pdfium.Pool
	slots     = make(chan struct{}, min(maxRenderers, max(2, runtime.NumCPU())))
)

func start(opt Options) error {
	startOnce.Do(func() {
		done := make(chan struct{})
		go func() {
			defer close(done)
			pool, startErr = newPool(opt.CacheDir)
		}()
		timer := time.NewTimer(slowStart)
		defer timer.Stop()
		select {
		case <-timer.C:
			if opt.OnSlowStart != nil {
				opt.OnSlowStart()
			}
		case <-done:
		}
		<-done
	})
	return startErr
}

// newPool compiles PDFium or takes it from cacheDir; an unusable or damaged cache is done without.
func newPool(cacheDir string) (pdfium.Pool, error) {
	if cache := openCache(cacheDir); cache != nil {
		if p, err := initPool(runtimeConfig().WithCompilationCache(cache)); err == nil {
			return p, nil
		}
	}
	return initPool(runtimeConfig())
}

func runtimeConfig() wazero.RuntimeConfig {
	return wazero.NewRuntimeConfig().
		WithCoreFeatures(api.CoreFeaturesV2 | experimental.CoreFeaturesExceptionHandling).
		WithMemoryLimitPages(memoryPages)
}

func initPool(config wazero.RuntimeConfig) (pdfium.Pool, error) {
	ctx := experimental.WithCompilationWorkers(context.Background(), runtime.NumCPU())
	return webassembly.Init(webassembly.Config{
		Context:       experimental.WithMemoryAllocator(ctx, experimental.MemoryAllocatorFunc(newBounded)),
		MaxTotal:      -1, // slots bounds them
		FSConfig:      wazero.NewFSConfig(),
		RuntimeConfig: config,
		Stdout:        io.Discard,
		Stderr:        io.Discard,
	})
}

// openCache returns nil for a folder that cannot be used. What lies in it is run as machine code, so a folder that
// others may write to is not used either.
func openCache(dir string) wazero.CompilationCache {
	if dir == "" || os.MkdirAll(dir, 0o700) != nil {
		return nil
	}
	info, err := os.Stat(dir)
	if err != nil || runtime.GOOS != "windows" && info.Mode().Perm()&0o022 != 0 {
		return nil
	}
	probe, err := os.CreateTemp(dir, "probe")
	if err != nil {
		return nil
	}
	probe.Close()
	os.Remove(probe.Name())
	cache, err := wazero.NewCompilationCacheWithDir(dir)
	if err != nil {
		return nil
	}
	return cache
}

// session is one sandbox with the document loaded. Sandboxes never shrink and may be left in any state by a hostile
// file, so each is used for one job and thrown away.
type session struct {
	pdfium.Pdfium
	memory *bounded
	doc    references.FPDF_DOCUMENT
	pages  int
}

// stuck counts the sandboxes that were given up. Code in a sandbox can be stopped from outside only if it asks at every loop
// whether to go on, which makes drawing four to ten times slower; a job that takes too long is left to itself instead.
var stuck atomic.Int32

// session loads the document into a fresh sandbox, one of so many that share the memory, and runs job for page n (0 for the file as a whole),
// giving both up once the time for that is used up: job must then touch nothing that the caller goes on to use.
func (d *Document) session(n, sharing int, job func(*session) error) error {
	left := d.spent.left(n)
	if left <= 0 {
		return tooLong(n, d.spent.limit)
	}
	if !takeSlot() {
		return &raster.Fault{
			Reason: "earlier PDFs that could not be finished keep the renderer busy",
			Remedy: "leave them out and start the program again",
		}
	}
	instance, memory, err := newInstance()
	if err != nil {
		<-slots
		return fmt.Errorf("pdfpage: starting a renderer: %w", err)
	}
	memory.most /= uint64(sharing)
	data := d.data
	w := begin(func() error { return runJob(&session{Pdfium: instance, memory: memory}, data, job) })
	used, ok := w.within(left)
	d.spent.spend(n, used)
	if !ok {
		stuck.Add(1)
		go func() {
			<-w.done
			instance.Close()
			stuck.Add(-1)
			<-slots
		}()
		return tooLong(n, d.spent.limit)
	}
	instance.Close() // fails only if the sandbox is gone already
	<-slots
	var fault *raster.Fault
	if memory.full.Load() {
		return &raster.Fault{
			Reason: fmt.Sprintf("%s takes more than %d MiB of memory", named(n), memory.most>>20),
			Remedy: simplify,
			Err:    errMemory,
		}
	}
	if w.err != nil && !errors.As(w.err, &fault) {
		return &raster.Fault{
			Reason: named(n) + " is damaged, or has something on it that cannot be drawn",
			Remedy: "open it in the program that made it and export it again, or export it as a PNG at its printed size",
			Err:    w.err,
		}
	}
	return w.err
}

const simplify = "simplify or flatten the design, or export it as a PNG at its printed size"

// named is what a page is called in messages, the file for 0.
func named(n int) string {
	if n == 0 {
		return "the file"
	}
	return fmt.Sprintf("page %d", n)
}

func tooLong(n int, limit time.Duration) error {
	return &raster.Fault{Reason: fmt.Sprintf("%s takes longer than %v to work out, and no more is given to it", named(n), limit), Remedy: simplify}
}

// errMemory is in the fault for a job that found too little memory.
var errMemory = errors.New("out of memory")

// inParts runs a job for page n, one of so many that share the memory, over the parts that cut makes of its pixels. Alone it is run again over
// smaller ones if memory did not suffice.
func (d *Document) inParts(n, sharing, pixels int, cut func(most int) []image.Rectangle, job func(*session, []image.Rectangle) error) error {
	run := func(most int) error {
		return d.session(n, sharing, func(s *session) error { return job(s, cut(most)) })
	}
	err := run(maxTilePixels)
	if errors.Is(err, errMemory) && sharing == alone && pixels > smallTilePixels {
		return run(smallTilePixels)
	}
	return err
}

// newInstance starts a sandbox.
func newInstance() (pdfium.Pdfium, *bounded, error) {
	starting.Lock()
	defer starting.Unlock()
	instance, err := pool.GetInstanceWithContext(context.Background())
	return instance, newest, err
}

// takeSlot waits for a free slot; false if all are held by sandboxes that were given up, also while it waits.
func takeSlot() bool {
	const lookAgain = 100 * time.Millisecond
	for int(stuck.Load()) < cap(slots) {
		select {
		case slots <- struct{}{}:
			return true
		case <-time.After(lookAgain):
		}
	}
	return false
}

func runJob(s *session, data []byte, job func(*session) error) error {
	doc, err := s.OpenDocument(&requests.OpenDocument{File: &data})
	switch {
	case errors.Is(err, pdfiumerrors.ErrPassword):
		return &raster.Fault{Reason: "the PDF is protected with a password", Remedy: "ask for a copy without one"}
	case errors.Is(err, pdfiumerrors.ErrSecurity):
		return &raster.Fault{Reason: "the PDF is encrypted in a way that cannot be opened", Remedy: "ask for a copy without protection"}
	case err != nil:
		return &raster.Fault{Reason: "the PDF is broken or cut short", Remedy: "copy or export it again", Err: err}
	}
	s.doc = doc.Document
	count, err := s.FPDF_GetPageCount(&requests.FPDF_GetPageCount{Document: s.doc})
	if err != nil {
		return err
	}
	s.pages = count.PageCount
	return job(s)
}

// readSizes reads the sizes of pages first and following into sizes; a page that cannot be measured gets zeros.
func (s *session) readSizes(sizes map[int]pointSize, first int) error {
	for n := first; n <= s.pages && n < first+sizesAtOnce; n++ {
		size, err := s.FPDF_GetPageSizeByIndex(&requests.FPDF_GetPageSizeByIndex{Document: s.doc, Index: n - 1})
		if err != nil {
			sizes[n] = pointSize{}
			continue
		}
		sizes[n] = pointSize{size.Width, size.Height}
	}
	return nil
}

// render draws page n, perUnit pixels a unit of the page, over the parts of pix, and reports whether any pixel is not opaque.
func (s *session) render(pix *image.NRGBA, parts []image.Rectangle, n int, perUnit float64) (hasAlpha bool, err error) {
	page, err := s.loadPage(n)
	if err != nil {
		return false, err
	}
	if err := s.drawTrue(page, pix.Rect.Dx()*pix.Rect.Dy(), perUnit); err != nil {
		return false, err
	}
	for _, tile := range parts {
		seeThrough, err := s.renderTile(pix, tile, page, perUnit)
		if err != nil {
			return false, err
		}
		hasAlpha = hasAlpha || seeThrough
	}
	return hasAlpha, nil
}

// loadPage parses page n and leaves on it the annotations that print; PDFium draws form fields only once they have been
// made part of the page.
func (s *session) loadPage(n int) (requests.Page, error) {
	loaded, err := s.FPDF_LoadPage(&requests.FPDF_LoadPage{Document: s.doc, Index: n - 1})
	if err != nil {
		return requests.Page{}, &raster.Fault{Reason: fmt.Sprintf("page %d is broken", n), Remedy: "export the design to PDF again", Err: err}
	}
	page := requests.Page{ByReference: &loaded.Page}
	fields, err := s.keepPrintingAnnotations(page)
	if err != nil || !fields {
		return page, err
	}
	flat, err := s.FPDFPage_Flatten(&requests.FPDFPage_Flatten{Page: page, Usage: requests.FPDFPage_FlattenUsagePrint})
	if err != nil {
		return page, err
	}
	if flat.Result == responses.FPDFPage_FlattenResultFail {
		return page, errors.New("the form fields cannot be drawn")
	}
	if _, err := s.FPDF_ClosePage(&requests.FPDF_ClosePage{Page: loaded.Page}); err != nil {
		return page, err
	}
	loaded, err = s.FPDF_LoadPage(&requests.FPDF_LoadPage{Document: s.doc, Index: n - 1})
	if err != nil {
		return page, err
	}
	return requests.Page{ByReference: &loaded.Page}, nil
}

// cut makes rectangles of at most maxSide by maxSide and maxPixels pixels, top to bottom, then left to right.
func cut(r image.Rectangle, maxSide, maxPixels int) []image.Rectangle {
	var out []image.Rectangle
	w := min(r.Dx(), maxSide)
	h := min(maxSide, max(1, maxPixels/w))
	for y := r.Min.Y; y < r.Max.Y; y += h {
		for x := r.Min.X; x < r.Max.X; x += w {
			out = append(out, image.Rect(x, y, x+w, y+h).Intersect(r))
		}
	}
	return out
}

func (s *session) renderTile(pix *image.NRGBA, tile image.Rectangle, page requests.Page, perUnit float64) (hasAlpha bool, err error) {
	err = s.drawTile(page, perUnit, tile, 1, 0, func(src []byte, stride int) { hasAlpha = copyBGRA(pix, tile, src, stride) })
	return hasAlpha, err
}

// drawTile draws the part tile of a page, exactly perUnit pixels a unit from its top left, so that what lies on whole pixels of that
// resolution stays there whatever the size of the page. It draws on a ground of one colour (ARGB) in a bitmap with or without alpha, and
// hands its bytes (BGRA or BGRx, stride a row) to use.
func (s *session) drawTile(page requests.Page, perUnit float64, tile image.Rectangle, alpha int, ground uint64, use func(src []byte, stride int)) error {
	created, err := s.FPDFBitmap_Create(&requests.FPDFBitmap_Create{Width: tile.Dx(), Height: tile.Dy(), Alpha: alpha})
	if err != nil {
		return err
	}
	bitmap := created.Bitmap
	defer s.FPDFBitmap_Destroy(&requests.FPDFBitmap_Destroy{Bitmap: bitmap})
	_, err = s.FPDFBitmap_FillRect(&requests.FPDFBitmap_FillRect{Bitmap: bitmap, Width: tile.Dx(), Height: tile.Dy(), Color: ground})
	if err != nil {
		return err
	}
	_, err = s.FPDF_RenderPageBitmapWithMatrix(&requests.FPDF_RenderPageBitmapWithMatrix{
		Bitmap: bitmap, Page: page,
		Matrix:   structs.FPDF_FS_MATRIX{A: float32(perUnit), D: float32(perUnit), E: float32(-tile.Min.X), F: float32(-tile.Min.Y)},
		Clipping: structs.FPDF_FS_RECTF{Right: float32(tile.Dx()), Bottom: float32(tile.Dy())},
		Flags:    renderFlags,
	})
	if err != nil {
		return err
	}
	if s.memory.full.Load() {
		return errMemory // something is missing, and nobody is to see it
	}
	stride, err := s.FPDFBitmap_GetStride(&requests.FPDFBitmap_GetStride{Bitmap: bitmap})
	if err != nil {
		return err
	}
	buffer, err := s.FPDFBitmap_GetBuffer(&requests.FPDFBitmap_GetBuffer{Bitmap: bitmap})
	if err != nil {
		return err
	}
	use(buffer.Buffer, stride.Stride)
	return nil
}
