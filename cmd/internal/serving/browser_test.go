package serving

import (
	"bytes"
	"context"
	_ "embed"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"peelcheck/cmd/internal/drawing"
)

// axe-core 4.14.1 by Deque Systems, MPL 2.0 (testdata/axe-core/LICENSE): checks a page against the rules of WCAG that a program can.
//
//go:embed testdata/axe-core/axe.min.js
var axe string

// screen is what a person looks at the page with.
type screen struct {
	name string
	w, h int64
	dark bool
}

var screens = []screen{
	{"desktop-light", 1400, 1000, false},
	{"desktop-dark", 1400, 1000, true},
	{"phone-light", 390, 844, false},
	{"phone-dark", 390, 844, true},
}

// findBrowser returns the path of a Chromium. Without one the test fails where CI is set, and is left out on a person's machine.
func findBrowser(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	const what = "the page was not tried in a browser: no chromium was found (Debian: apt-get install chromium)"
	if os.Getenv("CI") != "" {
		t.Fatal(what)
	}
	t.Skip(what)
	return ""
}

// tab is a page in a browser.
type tab struct {
	t    *testing.T
	ctx  context.Context
	url  string
	down string // folder for downloads
}

func openTab(t *testing.T, browserPath string, s screen, url string) *tab {
	t.Helper()
	opts := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]),
		chromedp.ExecPath(browserPath), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.WindowSize(int(s.w), int(s.h)))
	alloc, stop := chromedp.NewExecAllocator(t.Context(), opts...)
	t.Cleanup(stop)
	ctx, end := chromedp.NewContext(alloc)
	t.Cleanup(end)
	scheme, scale := "light", 1.0
	if s.dark {
		scheme = "dark"
	}
	if s.w < 600 {
		scale = 3
	}
	b := &tab{t: t, ctx: ctx, url: url, down: t.TempDir()}
	call(b, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: s.w, Height: s.h, DeviceScaleFactor: scale, Mobile: s.w < 600})
	call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{
		{Name: "prefers-color-scheme", Value: scheme}, {Name: "prefers-reduced-motion", Value: "reduce"},
	}})
	down := browser.SetDownloadBehaviorParams{Behavior: browser.SetDownloadBehaviorBehaviorAllow, DownloadPath: b.down}
	if _, err := chromedp.CallBrowser(b.ctx, browser.SetDownloadBehavior, down); err != nil {
		t.Fatal(err)
	}
	b.do(chromedp.Navigate(url))
	return b
}

// call gives the browser a command of its protocol.
func call[P, R any](b *tab, command cdp.Command[P, R], params P) {
	b.t.Helper()
	if _, err := chromedp.Call(b.ctx, command, params); err != nil {
		b.t.Fatal(err)
	}
}

func (b *tab) do(actions ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, actions...); err != nil {
		b.t.Fatal(err)
	}
}

// run runs a script.
func (b *tab) run(script string) {
	b.t.Helper()
	b.do(chromedp.Evaluate[chromedp.Void](script + "\n;0"))
}

func (b *tab) click(selector string) {
	b.t.Helper()
	b.do(chromedp.Click(chromedp.CSS(selector)))
}

// get evaluates a script, with values in it as fmt writes them.
func get[T any](b *tab, script string, values ...any) T {
	b.t.Helper()
	if len(values) > 0 {
		script = fmt.Sprintf(script, values...)
	}
	out, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](script))
	if err != nil {
		b.t.Fatalf("%s: %v", script, err)
	}
	return out
}

// wait waits until a script says true.
func (b *tab) wait(what, script string) {
	b.t.Helper()
	until := time.Now().Add(30 * time.Second)
	for time.Now().Before(until) {
		if ok, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool]("Boolean("+script+")")); err == nil && ok {
			return
		}
		time.Sleep(30 * time.Millisecond)
	}
	b.shoot("stuck")
	b.t.Fatalf("waited in vain for %s; the page says: %s", what, get[string](b, "document.body.innerText.slice(0, 600)"))
}

// drop drops files from outside onto the page.
func (b *tab) drop(paths ...string) {
	b.t.Helper()
	event := input.DispatchDragEventParams{Type: input.DispatchDragEventTypeDragEnter, X: 100, Y: 300, Data: &input.DragData{Items: []*input.DragDataItem{}, Files: paths, DragOperationsMask: 1}}
	call(b, input.DispatchDragEvent, event)
	event.Type = input.DispatchDragEventTypeDragOver
	call(b, input.DispatchDragEvent, event)
	b.wait("the sign to let go", "!document.getElementById('dropping').hidden")
	event.Type = input.DispatchDragEventTypeDrop
	call(b, input.DispatchDragEvent, event)
}

// shoot keeps a picture of the whole page, where asked for: go test -artifacts.
func (b *tab) shoot(name string) {
	b.t.Helper()
	if f := flag.Lookup("test.artifacts"); f == nil || f.Value.String() != "true" {
		return
	}
	b.run("scrollTo(0, 0)")
	png, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	for tries := 0; err != nil && tries < 10; tries++ { // a page that is just being laid out has no size yet
		time.Sleep(100 * time.Millisecond)
		png, err = chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	}
	if err != nil {
		b.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(b.t.ArtifactDir(), name+".png"), png, 0o600); err != nil {
		b.t.Fatal(err)
	}
}

// look keeps a picture and holds the page to WCAG 2.2 AA, as far as axe-core can tell, and to the width of the screen.
func (b *tab) look(state string) {
	b.t.Helper()
	b.shoot(state)
	b.run(axe)
	found, err := chromedp.Run(b.ctx, chromedp.Evaluate[struct {
		Passes     int      `json:"passes"`
		Violations []string `json:"violations"`
	}](`axe.run(document, {
		runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']
	}).then(r => ({passes: r.passes.length, violations: r.violations.map(v => v.id + ': ' + v.help + ' at ' + v.nodes.map(n => n.target + ' (' + n.failureSummary + ')').join(', '))}))`, chromedp.EvalAwaitPromise))
	if err != nil || found.Passes < 10 {
		b.t.Fatalf("%s: axe-core looked at nothing: %v (%v)", state, found, err)
	}
	for _, v := range found.Violations {
		b.t.Errorf("%s: %s", state, v)
	}
	if over := get[float64](b, "document.documentElement.scrollWidth - document.documentElement.clientWidth"); over > 0 {
		b.t.Errorf("%s: the page is %v points wider than the screen", state, over)
	}
}

func demo(t *testing.T, name string) string {
	t.Helper()
	path, err := filepath.Abs(filepath.Join("../../../testdata/demo", name))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(path); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestBrowser(t *testing.T) {
	path := findBrowser(t)
	for _, s := range screens {
		t.Run(s.name, func(t *testing.T) {
			server, url := start(t, Options{})
			server.retryAfter = 600 // the page must not go away while it is looked at
			b := openTab(t, path, s, url)
			b.look("home-empty")
			b.drop(demo(t, "hairline-reeds.png"))
			b.wait("the verdict", "document.getElementById('verdict')")
			if got := get[string](b, "document.getElementById('verdict').innerText"); !strings.HasPrefix(got, "HOLD") {
				t.Errorf("verdict %q, want HOLD", got)
			}
			b.tilesOf("look")
			b.look("many-findings")
			b.tryLayers()
			b.tryZoom()
			b.tryFlight()
			b.tryJob()
			b.tryDownloads("hairline-reeds")
			b.tryReply()
			b.trySheet(server)
			b.tryOthers(server)
		})
	}
}

// tilesOf waits until all tiles of a layer are there.
func (b *tab) tilesOf(layer string) {
	b.t.Helper()
	b.wait("tiles of "+layer, fmt.Sprintf(`(tiles => tiles.length && tiles.every(i => i.src.includes('/tiles/%s/') && i.complete && i.naturalWidth === 512))([...document.querySelectorAll('.leaflet-tile')])`, layer))
}

// tryList holds the list to its order, worst first, and to its counts; another order stays when it is chosen.
func (b *tab) tryList() {
	b.t.Helper()
	const words = "[...document.querySelectorAll('.uploads strong')].map(s => s.innerText)"
	if got := get[[]string](b, words); !slices.Equal(got, []string{"HOLD", "HOLD", "NOT JUDGED", "REVIEW", "REVIEW", "READY"}) {
		b.t.Errorf("the list has %q", got)
	}
	if got := get[string](b, "document.querySelector('.counts').innerText.replace(/\\s+/g, ' ').trim()"); got != "2 HOLD 1 NOT JUDGED 2 REVIEW 1 READY" {
		b.t.Errorf("the counts are %q", got)
	}
	if got := get[string](b, "[...document.querySelectorAll('.uploads li')].find(l => l.innerText.includes('two-page.pdf')).innerText"); !strings.Contains(got, "page 2: 1 error; 2 pages: 1 HOLD, 1 READY") {
		b.t.Errorf("the document's line says %q", got)
	}
	b.look("list")
	b.run("document.getElementById('order-name').click()")
	b.wait("the list by name", "document.getElementById('order-name').hasAttribute('aria-current')")
	if got := get[string](b, "document.querySelector('.uploads a').innerText"); got != "clean-lantern-shirt.png" {
		b.t.Errorf("by name the list begins with %s", got)
	}
}

// tryPages goes through a document by the keyboard alone: its worst page is the one that the list leads to.
func (b *tab) tryPages() {
	b.t.Helper()
	b.run("[...document.querySelectorAll('.uploads a')].find(a => a.innerText === 'two-page.pdf').focus()")
	b.do(chromedp.KeyEvent(kb.Enter))
	b.wait("page 2", "document.getElementById('page-2')?.hasAttribute('aria-current')")
	if got := get[string](b, "document.getElementById('verdict').innerText"); !strings.HasPrefix(got, "HOLD") {
		b.t.Errorf("page 2 says %q", got)
	}
	b.wait("both verdicts", "['Page 1: READY', 'Page 2: HOLD'].every((want, i) => document.getElementById('page-' + (i + 1)).getAttribute('aria-label') === want)")
	b.look("pages")
	b.do(chromedp.Focus(chromedp.CSS("#page-before")), chromedp.KeyEvent(kb.Enter))
	b.wait("page 1", "document.getElementById('page-1').hasAttribute('aria-current') && document.getElementById('verdict').innerText.startsWith('READY')")
	if got := get[string](b, "document.getElementById('pages').innerText"); !strings.HasPrefix(got, "Whole document: HOLD") {
		b.t.Errorf("on page 1 the document is told %q", got)
	}
	b.run("history.back()")
	b.wait("page 2 by going back", "document.getElementById('page-2').hasAttribute('aria-current')")
}

func (b *tab) tryLayers() {
	b.t.Helper()
	for _, layer := range []string{"white", "colour", "look"} {
		b.click("input[name=layer][value=" + layer + "]")
		b.tilesOf(layer)
		if layer != "look" {
			b.shoot("layer-" + layer)
		}
	}
	marks := func() int { return get[int](b, "document.querySelectorAll('.mark-error').length") }
	if marks() == 0 || get[int](b, "document.querySelectorAll('.tag').length") == 0 {
		b.t.Error("nothing is marked in the picture")
	}
	b.click("input[name=mark][value=error]")
	if n := marks(); n != 0 {
		b.t.Errorf("%d errors are marked after switching them off", n)
	}
	b.click("input[name=mark][value=error]")
	if marks() == 0 {
		b.t.Error("switching errors on again marks nothing")
	}
}

func (b *tab) tryZoom() {
	b.t.Helper()
	before := get[float64](b, "viewer.map.getZoom()")
	b.click("[data-zoom=in]")
	if after := get[float64](b, "viewer.map.getZoom()"); math.Abs(after-before-1) > 1e-6 {
		b.t.Errorf("zooming in went from %v to %v", before, after)
	}
	b.sized()
	b.run("viewer.map.setView([-400, 1900], viewer.map.getZoom(), {animate: false})") // at the moth, which has edges to be looked at
	b.click("[data-zoom=pixels]")
	b.tilesOf("look")
	if got := get[string](b, "getComputedStyle(document.querySelector('.leaflet-tile')).imageRendering"); got != "pixelated" {
		b.t.Errorf("at 16 points a pixel the picture is drawn %q, want pixelated", got)
	}
	x := get[float64](b, "viewer.map.getCenter().lng")
	b.do(chromedp.Focus(chromedp.CSS(".canvas")), chromedp.KeyEvent(kb.ArrowRight))
	b.wait("the picture to move by the keyboard", fmt.Sprintf("viewer.map.getCenter().lng > %v", x+1))
	b.shoot("pixels")
	b.click("[data-zoom=whole]")
}

// sized holds the words on the size to what is seen: a millimetre of CSS is 96/25.4 points (CSS Values and Units 4, 5.2).
func (b *tab) sized() {
	b.t.Helper()
	for zoom, want := range map[float64]string{-2: "Reduced: 200 mm of width look like about 156 mm.", -1.6415: "Shown at about its true size.", 0: "Enlarged: 1 mm looks like about 3.1 mm."} {
		b.run(fmt.Sprintf("viewer.map.setView([-1400, 1100], %v, {animate: false})", zoom))
		if got := get[string](b, "document.getElementById('scale').innerText"); !strings.HasSuffix(got, want) {
			b.t.Errorf("at zoom %v the scale says %q, want %q", zoom, got, want)
		}
	}
}

// tryFlight goes to a finding by the keyboard alone.
func (b *tab) tryFlight() {
	b.t.Helper()
	b.do(chromedp.Focus(chromedp.CSS(".row")), chromedp.KeyEvent(kb.Enter))
	got := get[[]float64](b, `(() => { const [x, y] = document.querySelector('.row').dataset.point.split(' ').map(Number), c = viewer.map.getCenter(); return [c.lng - x - 0.5, -c.lat - y - 0.5]; })()`) // a line too long to be seen as a whole
	if math.Abs(got[0]) > 1 || math.Abs(got[1]) > 1 {
		b.t.Errorf("the picture's middle lies %v pixels from the finding", got)
	}
	if get[int](b, "document.querySelectorAll('.mark-shown').length") != 1 || get[string](b, "document.activeElement.className") != "row" {
		b.t.Error("the finding is not shown, or its row has lost the focus")
	}
	b.tilesOf("look")
	b.look("flown")
	b.click("[data-zoom=pixels]")
	off := get[[]float64](b, `(() => { const [x, y] = document.querySelector('.row').dataset.point.split(' ').map(Number), c = viewer.map.getCenter(); return [c.lng - x, -c.lat - y, viewer.map.getZoom()]; })()`)
	if math.Abs(off[0]-0.5) > 1 || math.Abs(off[1]-0.5) > 1 || off[2] < 4 {
		b.t.Errorf("single pixels are shown %v from the finding's point", off)
	}
	b.tryMessages()
}

// TestBrowserFliesToLongThinLine: a hairline of 200 mm, 0.1 mm wide, is shown where it can be seen, with its tag beside the place; one that can
// be seen as a whole is shown as a whole.
func TestBrowserFliesToLongThinLine(t *testing.T) {
	path := findBrowser(t)
	for _, s := range []screen{screens[0], screens[2]} {
		t.Run(s.name, func(t *testing.T) {
			_, url := start(t, Options{})
			list, _ := dropped(t, url, sent{"boundary.png", lineDrawing(t)})
			b := openTab(t, path, s, url+list[0].Href)
			b.tilesOf("look")
			for what, wholeLine := range map[string]bool{"200 mm long": false, "4 mm long": true} {
				b.run(fmt.Sprintf("[...document.querySelectorAll('.row')].find(r => %v === (+r.dataset.box.split(' ')[2] < 200)).click()", wholeLine))
				b.tilesOf("look")
				b.shoot("line-" + strings.ReplaceAll(what, " ", "-"))
				at := get[struct {
					Point, Tag, Whole bool
					Thick             float64
				}](b, `(() => {
					const row = document.querySelector('.row[aria-current]'), [x, y] = row.dataset.point.split(' ').map(Number), view = viewer.map.getBounds();
					const [left, top, w, h] = row.dataset.box.split(' ').map(Number);
					const tag = document.querySelector('.tag-shown').getBoundingClientRect(), canvas = document.querySelector('.canvas').getBoundingClientRect();
					return {Point: view.contains([-y, x]), Whole: view.contains([[-top - h, left], [-top, left + w]]), Thick: 1.2 * 2 ** viewer.map.getZoom(),
						Tag: tag.left >= canvas.left && tag.right <= canvas.right && tag.top >= canvas.top && tag.bottom <= canvas.bottom};
				})()`)
				if !at.Point || !at.Tag || at.Whole != wholeLine || at.Thick < 4 {
					t.Errorf("the line %s: its point in view %v, its tag %v, the whole of it %v; 0.1 mm are %.1f points wide, want at least 4", what, at.Point, at.Tag, at.Whole, at.Thick)
				}
			}
		})
	}
}

// TestBrowserKeepsPictureWhole makes the window narrower: a picture that was shown whole stays so, one that was zoomed stays where it was.
func TestBrowserKeepsPictureWhole(t *testing.T) {
	browser := findBrowser(t)
	_, at := start(t, Options{})
	list, _ := dropped(t, at, file(t, "off-sheet-banner.png"))
	b := openTab(t, browser, screens[0], at+list[0].Href)
	b.wait("the picture", "window.viewer || typeof viewer !== 'undefined'")
	narrower := func(w int64) {
		call(b, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: w, Height: 900, DeviceScaleFactor: 1})
	}
	const whole = "viewer.map.getBounds().contains(viewer.bounds)"
	b.wait("all of the picture", whole)
	narrower(500)
	b.wait("all of it in a narrower window", "viewer.map.getSize().x < 500 && "+whole)
	b.run("viewer.map.setZoom(1, {animate: false})")
	narrower(400)
	b.wait("the picture to keep its scale", "viewer.map.getSize().x < 400 && viewer.map.getZoom() === 1")
}

// lineDrawing is 203 x 34 mm with a solid bar, a line 200 mm long and one 4 mm long, each 1.2 pixels or 0.1 mm wide and at a slant.
func lineDrawing(t *testing.T) []byte {
	t.Helper()
	m := image.NewNRGBA(image.Rect(0, 0, 2400, 400))
	draw.Draw(m, image.Rect(900, 330, 1300, 380), image.Black, image.Point{}, draw.Src)
	line := func(from, to, at, slope float64) {
		for x := int(from); x < int(to); x++ {
			middle := at + slope*(float64(x)-from)
			for y := int(middle) - 3; y < int(middle)+4; y++ {
				cover := min(float64(y+1), middle+0.6) - max(float64(y), middle-0.6)
				m.SetNRGBA(x, y, color.NRGBA{A: uint8(255 * max(0, cover))})
			}
		}
	}
	line(20, 2382, 50, 0.08)
	line(100, 147, 300, 0.08)
	var out bytes.Buffer
	if err := drawing.WritePNG(&out, m, 300); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// tryMessages holds what the page says to its place in the bar, which covers nothing more for it, wherever the page is scrolled to.
func (b *tab) tryMessages() {
	b.t.Helper()
	const bar = "document.querySelector('.bar').getBoundingClientRect()"
	b.run("say(''); scrollTo(0, 500)")
	empty := get[float64](b, bar+".height")
	for _, text := range []string{"Number 14 is in the middle of the picture.", "Judged, the print file: REVIEW (12 errors, 137 warnings)", "Making the print file; this may take some seconds …", "The reply is selected: copy it with Ctrl and C."} {
		b.run(fmt.Sprintf("say(%q)", text))
		got := get[[]float64](b, "(s => ["+bar+".height, "+bar+".top, s.top - "+bar+".top, "+bar+".bottom - s.bottom])(document.getElementById('status').getBoundingClientRect())")
		if got[0] != empty || got[1] != 0 || got[2] < 0 || got[3] < 0 {
			b.t.Errorf("with %q the bar is %v points high, %v from the top, want %v and 0; the message lies %v within it", text, got[0], got[1], empty, got[2:])
		}
	}
	b.run("say('')")
}

// set changes a field as a person does.
func (b *tab) set(id, value string) {
	b.t.Helper()
	b.run(fmt.Sprintf(`(f => { f.focus(); f.value = %q; f.dispatchEvent(new Event('change', {bubbles: true})); })(document.getElementById(%q))`, value, id))
}

func (b *tab) tryJob() {
	b.t.Helper()
	b.set("width", "100")
	b.wait("half the size", "document.getElementById('width-note').innerText.startsWith('125 mm high')")
	if get[string](b, "document.activeElement.id") != "width" {
		b.t.Error("the field lost the focus when it was judged again")
	}
	b.set("garment", "navy")
	b.wait("a navy garment", "document.querySelector('.swatch rect').getAttribute('fill') === '#000080'")
	b.set("process", "toner-underbase")
	b.wait("the other process", "document.getElementById('process').value === 'toner-underbase' && document.querySelector('dl').innerText.includes('white toner under full colour')")
	if at := get[string](b, "location.search"); !strings.Contains(at, "width=100") || !strings.Contains(at, "garment=navy") {
		b.t.Errorf("the address does not tell what was changed: %s", at)
	}
	b.tryMistyped()
	b.tryGone()
	b.set("width", "200")
	b.wait("the verdict to be back", "document.getElementById('viewer') && document.getElementById('width-note').innerText.startsWith('250 mm')")
	b.set("process", "toner-white-for-black")
	b.wait("the first process", "document.querySelector('dl').innerText.includes('white toner in the black station')")
}

// tryMistyped holds the page to keep the last proof in sight, and to say what is wrong beside the field.
func (b *tab) tryMistyped() {
	b.t.Helper()
	for field, value := range map[string]string{"garment": "nivy", "width": "many"} {
		was := get[[]string](b, "[document.getElementById(%q).value, document.getElementById('verdict').innerText, location.search]", field)
		b.set(field, value)
		b.wait("the field to be told wrong", fmt.Sprintf("document.getElementById(%q).getAttribute('aria-describedby')?.startsWith('wrong') && !document.querySelector('[aria-busy]')", field))
		b.tilesOf("look")
		if got := get[[]string](b, "[%q, document.getElementById('verdict').innerText, location.search]", was[0]); !slices.Equal(got, was) {
			b.t.Errorf("with a mistyped %s the page has %q, want %q", field, got, was)
		}
		if !get[bool](b, "document.getElementById('wrong').closest('.field').contains(document.getElementById(%q))", field) {
			b.t.Errorf("what is wrong with %s is not told beside it", field)
		}
		b.look("wrong-" + field)
		b.set(field, was[0])
		b.wait("the field to be right again", "!document.getElementById('wrong') && !document.querySelector('[aria-busy]')")
	}
}

// tryGone takes the server away and gives it back.
func (b *tab) tryGone() {
	b.t.Helper()
	away := func(on bool) {
		call(b, network.SetBlockedURLs, network.SetBlockedURLsParams{URLPatterns: []*network.BlockPattern{{URLPattern: "http://127.0.0.1:*/*", Block: on}}})
	}
	call(b, network.Enable, network.EnableParams{})
	away(true)
	b.set("garment", "khaki")
	b.wait("word that the server does not answer", "!document.getElementById('gone').hidden && /Trying again by itself/.test(document.getElementById('gone').innerText)")
	b.look("gone")
	b.click("#gone-undo")
	if got := get[string](b, "document.getElementById('garment').value"); got != "navy" {
		b.t.Errorf("put back, the garment is %q, want navy", got)
	}
	b.set("garment", "khaki")
	b.wait("the word again", "!document.getElementById('gone').hidden")
	away(false)
	b.wait("the page to try again by itself", "document.querySelector('.swatch rect').getAttribute('fill') === '#f0e68c' && document.getElementById('gone').hidden")
	b.set("garment", "navy")
	b.wait("navy again", "document.querySelector('.swatch rect').getAttribute('fill') === '#000080'")
	away(true)
	b.run(`document.querySelector('a[download][href*="/proof.png"]').click()`)
	b.wait("word that the proof is not saved", "!document.getElementById('gone').hidden && /Proof is not saved/.test(document.getElementById('gone').innerText)")
	b.click("#gone-undo")
	b.wait("the word to go", "document.getElementById('gone').hidden")
	b.run("viewer.show('white')")
	b.wait("word that the picture is not whole", "!document.getElementById('gone').hidden && /Parts of the picture are missing/.test(document.getElementById('gone').innerText)")
	away(false)
	b.tilesOf("white")
	b.run("viewer.show('look')")
	b.tilesOf("look")
}

// tryUnsent drops a file beyond the limit and one that is gone, of which nothing is sent.
func (b *tab) tryUnsent(server *Server) {
	b.t.Helper()
	b.do(chromedp.Navigate(b.url))
	b.run("document.body.dataset.most = 1000; fetch = () => { throw new Error('it is sent'); }")
	kept := len(server.store.all())
	b.drop(demo(b.t, "soft-shadow.png"))
	b.wait("the refusal", "/the most taken here. It was not sent/.test(document.getElementById('sending').innerText)")
	if len(server.store.all()) != kept {
		b.t.Error("a file beyond the limit was kept")
	}
	b.look("too-large")
	b.drop(filepath.Join(b.t.TempDir(), "gone.png"))
	b.wait("word that it cannot be read", "/It is empty or cannot be read/.test(document.getElementById('sending').innerText)")
}

// tryDownloads takes each file as a click does.
func (b *tab) tryDownloads(stem string) {
	b.t.Helper()
	for name, begins := range map[string]string{
		".proof.png": "\x89PNG", ".proof.pdf": "%PDF", ".print.pdf": "%PDF", ".report.json": "{", ".report.html": "<!DOCTYPE", ".ticket.txt": "Ticket:", ".reply.txt": "Hello,",
	} {
		_, kind, _ := strings.Cut(name[1:], ".")
		part, _, _ := strings.Cut(name[1:], ".")
		b.run(fmt.Sprintf(`document.querySelector('a[download][href*="/%s.%s"]').click()`, part, kind))
		path := filepath.Join(b.down, stem+name)
		var data []byte
		for range 500 {
			if data, _ = os.ReadFile(path); len(data) > 0 {
				break
			}
			time.Sleep(20 * time.Millisecond)
		}
		if !bytes.HasPrefix(data, []byte(begins)) {
			b.t.Errorf("%s: %d bytes that begin %q, want %q", name, len(data), data[:min(8, len(data))], begins)
		}
		os.Remove(path)
	}
}

func (b *tab) tryReply() {
	b.t.Helper()
	b.run("document.getElementById('copy').click()")
	b.wait("the reply to be copied or selected", "/copied|selected/.test(document.getElementById('status').innerText)")
}

func (b *tab) trySheet(server *Server) {
	b.t.Helper()
	b.run("document.querySelectorAll('.row')[1].click(); viewer.map.setView([-700, 900], -1, {animate: false}); scrollTo(0, 40)")
	place := get[string](b, placeNow)
	b.run("document.getElementById('after').click()")
	b.wait("the printed sheet", "document.getElementById('sheet-lines')")
	b.tilesOf("look")
	b.heads("HOLD, the print file", "HOLD, the artwork as it came")
	if get[int](b, "document.querySelectorAll('.mark-error').length") == 0 {
		b.t.Error("what was found on the sheet is not marked on it")
	}
	b.look("sheet")
	b.tryMaking(server)
	b.heads("READY, the print file with lines grown", "HOLD, the artwork as it came")
	b.look("sheet-thickened")
	b.tryTicket()
	b.run("history.back()")
	b.wait("the artwork, by going back", "document.getElementById('verdict') && !document.getElementById('sheet-lines') && !document.querySelector('[aria-busy]')")
	if got := get[string](b, placeNow); got != place {
		b.t.Errorf("after going back from the sheet the place is %s, want %s", got, place)
	}
	if got := get[string](b, "document.querySelector('.row[aria-current]')?.dataset.id"); got != "2" {
		b.t.Errorf("after going back finding %q is the one shown, want 2", got)
	}
}

// placeNow is what is in sight.
const placeNow = "(c => [Math.round(c.lat), Math.round(c.lng), viewer.map.getZoom(), Math.round(scrollY), location.pathname].join(' '))(viewer.map.getCenter())"

// heads holds the head of the page to two verdicts.
func (b *tab) heads(first, second string) {
	b.t.Helper()
	got := get[[]string](b, "['verdict', 'verdict-other'].map(id => document.getElementById(id)?.innerText.trim() || '')")
	if !strings.HasPrefix(got[0], first) || !strings.HasPrefix(got[1], second) {
		b.t.Errorf("the head says %q, want %q and %q", got, first, second)
	}
}

// tryMaking holds the server up, to see what the page says meanwhile.
func (b *tab) tryMaking(server *Server) {
	b.t.Helper()
	release := server.fillWork()
	b.run("document.getElementById('thicken').click()")
	b.wait("a sign that the print file is being made", `document.getElementById('work').getAttribute('aria-busy') === 'true' &&
		document.getElementById('make').getAttribute('aria-disabled') === 'true' && document.getElementById('make').innerText.startsWith('Making the print file') &&
		document.querySelector('[role=status]').innerText.startsWith('Making the print file')`)
	b.look("making")
	release()
	b.wait("the sheet with thicker lines", "location.search.includes('thicken=1') && !document.querySelector('[aria-busy]')")
	if get[bool](b, "document.getElementById('make').hasAttribute('aria-disabled')") {
		b.t.Error("the button still says that the print file is being made")
	}
}

// tryTicket opens the ticket, looks at its pictures, and goes back.
func (b *tab) tryTicket() {
	b.t.Helper()
	b.run("viewer.map.setView([-1500, 1100], -1, {animate: false}); scrollTo(0, 60)")
	place := get[string](b, placeNow)
	b.run("document.getElementById('ticket').click()")
	b.wait("the pictures of the ticket", "(list => list.length === 2 && list.every(i => i.complete && i.naturalWidth > 100))([...document.querySelectorAll('figure img')])")
	if w := get[[]float64](b, "[...document.querySelectorAll('figure img')].map(i => i.width)"); math.Abs(w[0]/w[1]-200.0/210) > 0.02 {
		b.t.Errorf("artwork of 200 mm and sheet of 210 mm are shown %v points wide", w)
	}
	b.look("ticket")
	b.run("history.back()")
	b.wait("the sheet, by going back from the ticket", "document.getElementById('sheet-lines') && viewer && scrollY > 0")
	if got := get[string](b, placeNow); got != place {
		b.t.Errorf("after going back from the ticket the place is %s, want %s", got, place)
	}
}

// tryOthers looks at artwork without findings, at a file that is not artwork, at the list, and at a page whose queue is full.
func (b *tab) tryOthers(server *Server) {
	b.t.Helper()
	b.do(chromedp.Navigate(b.url))
	began := time.Now()
	b.drop(demo(b.t, "clean-lantern-shirt.png")) // 2835 x 3307 pixels
	b.wait("a clean verdict", "document.getElementById('verdict')?.innerText.startsWith('READY')")
	b.t.Logf("from the drop to the verdict: %d ms", time.Since(began).Milliseconds())
	b.tilesOf("look")
	b.look("no-findings")

	poem := filepath.Join(b.t.TempDir(), "poem <b>of the moth.png")
	if err := os.WriteFile(poem, []byte("no artwork"), 0o600); err != nil {
		b.t.Fatal(err)
	}
	b.do(chromedp.Navigate(b.url))
	b.drop(poem)
	b.wait("the trouble", "document.getElementById('verdict')?.innerText.startsWith('NOT JUDGED')")
	b.look("not-artwork")

	b.tryUnsent(server)
	b.do(chromedp.Navigate(b.url))
	b.drop(demo(b.t, "two-page.pdf"), demo(b.t, "soft-shadow.png"))
	b.drop(demo(b.t, "no-size-cap.png")) // while the first two are at work
	b.wait("the list", "location.pathname === '/' && document.querySelectorAll('.uploads li').length === 6 && !('unfinished' in document.getElementById('list').dataset) && !document.getElementById('sending').children.length")
	b.tryList()
	b.tryPages()
	b.do(chromedp.Navigate(b.url))
	b.wait("the list", "document.querySelectorAll('.uploads li').length === 6")
	b.run("[...document.querySelectorAll('.uploads a')].find(a => a.innerText === 'no-size-cap.png').click()")
	b.wait("the size asked for", "document.getElementById('width') && document.getElementById('width').value === ''")
	b.look("no-size")

	at := get[string](b, "location.pathname")
	call(b, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
	b.do(chromedp.Navigate(b.url + at))
	b.wait("the proof, without script", "document.querySelector('.still')?.naturalWidth > 1000")
	if get[bool](b, "getComputedStyle(document.querySelector('.tools')).display !== 'none' || getComputedStyle(document.querySelector('.unscripted')).display === 'none'") {
		b.t.Error("without script the page offers what needs it, or hides what does not")
	}
	b.shoot("without-script")
	call(b, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: false})

	release := server.fillQueue(b.t)
	b.do(chromedp.Navigate(b.url + at + "?garment=khaki"))
	b.wait("the words of a full queue", "document.querySelector('.trouble')")
	b.look("queue-full")
	release()
	b.run("document.getElementById('again').click()")
	b.wait("the verdict after the rush", "document.getElementById('verdict')")
	b.tryListThatStays()
}

// tryListThatStays drops a document together with a file that is not taken: the list stays in sight, and hears of the pages that are judged
// after the first.
func (b *tab) tryListThatStays() {
	b.t.Helper()
	empty := filepath.Join(b.t.TempDir(), "empty.png")
	if err := os.WriteFile(empty, nil, 0o600); err != nil {
		b.t.Fatal(err)
	}
	b.do(chromedp.Navigate(b.url))
	b.drop(demo(b.t, "two-page.pdf"), empty)
	b.wait("the file that is not taken", "document.getElementById('sending').innerText.includes('1 of 2 done, 1 not taken')")
	b.wait("both documents with both pages", "[...document.querySelectorAll('.uploads li')].filter(l => l.innerText.includes('2 pages: 1 HOLD, 1 READY')).length === 2")
}
